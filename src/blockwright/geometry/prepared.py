"""Areas made ready to be painted many times in small windows: rings as plain numbers, with their bounds.

Painting an area begins with turning its polygons the right way round and taking them apart, which for a small
window costs far more than the window itself. Here that is done once. A window then looks at the rings that
reach into it and at nothing else, and its coverage is as exact as that of the whole picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from blockwright.geometry.painting import _DUST, _paint


@dataclass(frozen=True, slots=True)
class Window:
    """A part of a picture: its upper left corner, mm, its size in pixels, and its scale."""

    x_mm: float
    y_mm: float
    width_px: int
    height_px: int
    pixels_per_mm: float

    def __post_init__(self) -> None:
        if not self.pixels_per_mm > 0.0 or min(self.width_px, self.height_px) < 0:
            raise ValueError("pixels_per_mm must be above 0 and the window's size 0 or more")


@dataclass(frozen=True, slots=True)
class PreparedAreas:
    """Areas one after the other, as rings: outer rings run one way round and holes the other.

    ``points`` (n, 2) float64 in mm; ring i is ``points[starts[i]:starts[i + 1]]`` and has the bounds
    ``bounds[i]``; area k has the rings from ``firsts[k]`` up to ``firsts[k + 1]``.
    """

    points: NDArray[np.float64]
    starts: NDArray[np.int64]
    bounds: NDArray[np.float64]
    firsts: NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Painted:
    """The share of the pixels that an area covers, float32, in the part of the window where there is any."""

    rows: slice
    columns: slice
    share: NDArray[np.float32]


def prepare_areas(areas: Sequence[BaseGeometry]) -> PreparedAreas:
    """Make valid polygons and multipolygons in mm ready; anything else paints nothing.

    >>> prepare_areas([shapely.box(0, 0, 2, 1), shapely.box(2, 0, 3, 1)]).firsts.tolist()
    [0, 1, 2]
    """
    parts, area_of = shapely.get_parts(np.asarray(areas, dtype=object), return_index=True)
    whole = (shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(parts)
    parts, area_of = parts[whole], area_of[whole]
    rings, part_of = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
    return PreparedAreas(
        points=shapely.get_coordinates(rings),
        starts=np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(rings))]).astype(np.int64),
        bounds=shapely.bounds(rings).reshape(-1, 4),
        firsts=np.searchsorted(area_of[part_of], np.arange(len(areas) + 1)).astype(np.int64),
    )


def paint_prepared(prepared: PreparedAreas, window: Window, *, first: int, last: int) -> Painted | None:
    """Paint the areas ``first`` up to but not including ``last`` into a window, None where there are none.

    The areas must not overlap one another. The coverage is exact to rounding, and that of neighbouring
    windows joins as if they were one.

    >>> square = prepare_areas([shapely.box(0.5, 0.0, 2.0, 1.0)])
    >>> paint_prepared(square, Window(0.0, 0.0, 3, 1, 1.0), first=0, last=1).share.tolist()
    [[0.5, 1.0]]
    """
    rings = np.arange(prepared.firsts[first], prepared.firsts[last])
    scale = window.pixels_per_mm
    origin = np.array([window.x_mm, window.y_mm])
    # A ring to the left of the window closes there: it adds as much as it takes away.
    edges = (prepared.bounds[rings] - np.tile(origin, 2)) * scale
    size = np.array([window.width_px, window.height_px])
    reach = (edges[:, :2] < size).all(axis=1) & (edges[:, 2:] > 0.0).all(axis=1)
    if not reach.any():
        return None
    rings, edges = rings[reach], edges[reach]
    left, top = np.maximum(np.floor(edges[:, :2].min(axis=0)), 0).astype(int).tolist()
    right, bottom = np.minimum(np.ceil(edges[:, 2:].max(axis=0)), size).astype(int).tolist()
    points, starts = _gathered(prepared, rings)
    share = np.empty((bottom - top, right - left), dtype=np.float32)
    _paint((points - origin) * scale - np.array([left, top]), starts, share, _DUST)
    return Painted(slice(top, bottom), slice(left, right), share)


def _gathered(
    prepared: PreparedAreas, rings: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The points of some rings one after the other, and where each begins."""
    begins = prepared.starts[rings]
    lengths = prepared.starts[rings + 1] - begins
    starts = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    where = np.repeat(begins - starts[:-1], lengths) + np.arange(starts[-1])
    return prepared.points[where], starts
