"""What the costly steps of drawing areas are done with: shapes known by a digest, and how they are joined."""

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.geometry.base import BaseGeometry

_CRUMB_MM2 = 1.0e-6
"""Pieces smaller than this are rounding, mm2."""

_GRID_MM = 1.0e-6
"""Where outlines are untangled their corners lie on a grid of this size, mm: nothing that is seen."""

_ALL_BUT_MM = 1.0e-5
"""Outlines that are nearer than this all but touch, mm: some steps of the grid."""

_AREA_SLACK_MM2 = 1.0e-5
"""A union whose area differs by more than this from its parts' sum has gone wrong, mm2."""


@dataclass(frozen=True, slots=True)
class Told:
    """Geometries, known by a digest of all their numbers."""

    digest: bytes
    value: NDArray[np.object_] = field(compare=False)


def dissolve(parts: NDArray[np.object_]) -> NDArray[np.object_]:
    """Union of polygons that share edges vertex for vertex, as single polygons.

    The quick union for coverages does not check what it is given, so its result is checked here; the general
    union takes its place where it fails, for those that lie together there.
    """
    quick = _coverage_union(parts)
    if quick is not None:
        return polygons(np.array([quick], dtype=object))
    joined = []
    for group in _groups(parts):
        union = _coverage_union(group)
        # Edges that all but touch are made one, or the mirrored block would cross itself by rounding.
        joined.append(shapely.union_all(group, grid_size=_GRID_MM) if union is None else union)
    return polygons(np.array(joined, dtype=object))


def _coverage_union(parts: NDArray[np.object_]) -> BaseGeometry | None:
    """The union of polygons that share edges vertex for vertex; None where they do not."""
    try:
        union = shapely.coverage_union_all(parts)
    except shapely.GEOSException:
        return None  # Traps from several colours of one impression cross one another.
    whole_mm2 = float(shapely.area(parts).sum())
    return union if union.is_valid and abs(union.area - whole_mm2) < _AREA_SLACK_MM2 else None


def _groups(parts: NDArray[np.object_]) -> list[NDArray[np.object_]]:
    """Polygons that touch or all but touch one another, group by group, in their order."""
    one, other = shapely.STRtree(parts).query(parts, predicate="dwithin", distance=_ALL_BUT_MM)
    near = coo_array((np.ones(len(one), dtype=np.int8), (one, other)), shape=(len(parts), len(parts)))
    count, group = connected_components(near, directed=False)
    return [parts[group == k] for k in range(count)]


def polygons(geometries: NDArray[np.object_]) -> NDArray[np.object_]:
    """All polygons that are worth keeping out of any geometries, collections opened."""
    flat = shapely.get_parts(shapely.get_parts(geometries))
    kept: NDArray[np.object_] = flat[(shapely.get_dimensions(flat) == 2) & (shapely.area(flat) > _CRUMB_MM2)]
    return kept


def without(parts: NDArray[np.object_], taken: NDArray[np.object_]) -> NDArray[np.object_]:
    """Polygons less others, each less those that it meets."""
    part, met = shapely.STRtree(taken).query(parts, predicate="intersects")
    rest = parts.copy()
    for k in np.unique(part).tolist():
        rest[k] = shapely.difference(parts[k], shapely.disjoint_subset_union_all(taken[met[part == k]]))
    return polygons(rest)
