"""How wide shapes are across their common edges: from the edge straight through to the other side."""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.separation.edges import SharedEdges
from blockwright.separation.remembering import digest

_INSIDE_MM = 1.0e-3
"""A step from the edge that tells on which side of it the shape lies, mm."""

_PRINTS_KEPT = 8
"""Designs whose widths a process remembers: another colour or trap leaves them as they are."""


@dataclass(frozen=True, slots=True)
class _Outlines:
    """Shapes and their common edges, known by a digest of all numbers."""

    digest: bytes
    regions: NDArray[np.object_] = field(compare=False)
    edges: SharedEdges = field(compare=False)


def across_mm(regions: NDArray[np.object_], edges: SharedEdges, *, farthest_mm: float) -> NDArray[np.float64]:
    """The width of the first and of the second shape across each edge segment, (n, 2) mm.

    A ray runs from the segment's middle at right angles into the shape and ends at the next edge; the width
    is infinite where none comes within ``farthest_mm``.

    >>> from blockwright.separation.edges import shared_edges
    >>> three = np.array([shapely.box(0, 0, 9, 9), shapely.box(9, 0, 10, 9), shapely.box(10, 0, 20, 9)])
    >>> across_mm(three, shared_edges(three), farthest_mm=3.0).round(6).tolist()
    [[inf, 1.0], [1.0, inf]]
    """
    known = digest(edges.ends.tobytes(), edges.first.tobytes(), edges.second.tobytes())
    return _across_mm(_Outlines(known, regions, edges), farthest_mm)


@lru_cache(maxsize=_PRINTS_KEPT)
def _across_mm(outlines: _Outlines, farthest_mm: float) -> NDArray[np.float64]:
    edges = outlines.edges
    if not len(edges.first):
        return np.empty((0, 2))
    start, end = edges.ends[:, 0], edges.ends[:, 1]
    along = end - start
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(along[:, 0], along[:, 1])[:, None]
    middle = 0.5 * (start + end)
    into_first = _inside(outlines.regions, edges.first, middle + _INSIDE_MM * normal)
    towards = np.where(into_first[:, None], normal, -normal)
    tree = shapely.STRtree(shapely.linestrings(edges.ends))
    widths = np.stack(
        [_to_the_next(tree, edges, middle, way * towards, farthest_mm) for way in (1, -1)], axis=1
    )
    widths.setflags(write=False)
    return widths


def _to_the_next(
    tree: shapely.STRtree,
    edges: SharedEdges,
    middle: NDArray[np.float64],
    towards: NDArray[np.float64],
    farthest_mm: float,
) -> NDArray[np.float64]:
    """How far rays run until they meet an edge, mm."""
    rays = shapely.linestrings(
        np.stack([middle + _INSIDE_MM * towards, middle + farthest_mm * towards], axis=1)
    )
    ray, hit = tree.query(rays, predicate="intersects")
    width = np.full(len(rays), np.inf)
    np.minimum.at(width, ray, _distance(middle[ray], towards[ray], edges.ends[hit]))
    return width


def _inside(
    regions: NDArray[np.object_], shape: NDArray[np.int64], points: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether each point lies in the shape that is named for it."""
    inside = np.zeros(len(points), dtype=np.bool_)
    for k in np.unique(shape).tolist():
        own = shape == k
        shapely.prepare(regions[k])
        inside[own] = shapely.contains_xy(regions[k], points[own])
    return inside


def _distance(
    origin: NDArray[np.float64], towards: NDArray[np.float64], ends: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far along rays they meet segments that they are known to meet, mm."""
    along = ends[:, 1] - ends[:, 0]
    to = ends[:, 0] - origin
    turn = towards[:, 0] * along[:, 1] - towards[:, 1] * along[:, 0]
    parallel = np.abs(turn) < 1e-12
    met = (to[:, 0] * along[:, 1] - to[:, 1] * along[:, 0]) / np.where(parallel, 1.0, turn)
    distance: NDArray[np.float64] = np.where(parallel, np.inf, met)
    return distance
