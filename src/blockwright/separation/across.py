"""How wide a shape is across an edge: from the edge straight through it to its other side."""

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.separation.edges import SharedEdges

_INSIDE_MM = 1.0e-3
"""A step from the edge that tells on which side of it the shape lies, mm."""


def across_mm(
    regions: NDArray[np.object_],
    edges: SharedEdges,
    rows: NDArray[np.int64],
    shape: NDArray[np.int64],
    *,
    farthest_mm: float,
) -> NDArray[np.float64]:
    """The width of a shape across each of some edge segments, mm; infinite where it is wider than
    ``farthest_mm``.

    ``rows`` count into ``edges``, ``shape`` into ``regions``. A ray runs from the segment's middle at right
    angles into the shape and ends at the next edge, or with the picture.

    >>> from blockwright.separation.edges import shared_edges
    >>> pair = np.array([shapely.box(0, 0, 9, 9), shapely.box(9, 0, 10, 9), shapely.box(10, 0, 20, 9)])
    >>> edges = shared_edges(pair)
    >>> across_mm(pair, edges, np.array([0]), np.array([1]), farthest_mm=3.0).round(6).tolist()
    [1.0]
    """
    start, end = edges.ends[rows, 0], edges.ends[rows, 1]
    along = end - start
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(along[:, 0], along[:, 1])[:, None]
    middle = 0.5 * (start + end)
    normal = np.where(_inside(regions, shape, middle + _INSIDE_MM * normal)[:, None], normal, -normal)
    rays = shapely.linestrings(
        np.stack([middle + _INSIDE_MM * normal, middle + farthest_mm * normal], axis=1)
    )
    ray, hit = shapely.STRtree(shapely.linestrings(edges.ends)).query(rays, predicate="intersects")
    width = np.full(len(rows), np.inf)
    np.minimum.at(width, ray, _distance(middle[ray], normal[ray], edges.ends[hit]))
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
