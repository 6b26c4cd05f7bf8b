"""What the costly steps of drawing areas are done with: shapes known by a digest, and how they are joined."""

from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

_CRUMB_MM2 = 1.0e-6
"""Pieces smaller than this are rounding, mm2."""

_GRID_MM = 1.0e-6
"""Where outlines are untangled their corners lie on a grid of this size, mm: nothing that is seen."""

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
    union takes its place where it fails.
    """
    try:
        union = shapely.coverage_union_all(parts)
    except shapely.GEOSException:
        union = None  # Traps from several colours of one impression cross one another.
    whole_mm2 = float(shapely.area(parts).sum())
    if union is None or not (union.is_valid and abs(union.area - whole_mm2) < _AREA_SLACK_MM2):
        # Edges that all but touch are made one, or the mirrored block would cross itself by rounding.
        union = shapely.union_all(parts, grid_size=_GRID_MM)
    return polygons(np.array([union], dtype=object))


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
