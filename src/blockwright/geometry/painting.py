"""Paint areas in mm into pictures: the exact share of every pixel that an area covers.

Each edge adds, row by row, the signed area that it cuts off to its right; a running sum along the row gives
the coverage. The result is the integral over the pixel, not a sample of it, so thin lines keep their width
and areas their size at any resolution. (A filled polygon drawn on a finer grid, as image libraries do it,
paints its outline too and makes every shape half a fine pixel too wide on all sides.)
"""

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

_DUST = 1.0e-4
"""Coverage below this, and missing coverage below this, is rounding: 1/40 of an 8-bit step."""


@njit(cache=True, nogil=True)
def _add_row(sums, row, x0, x1, rise):  # type: ignore[no-untyped-def]
    """One row's part of an edge from x0 to x1 that rises by ``rise`` (signed); all within the picture."""
    if x0 > x1:
        x0, x1 = x1, x0
    first = int(np.floor(x0))
    beyond = int(np.ceil(x1))
    if beyond <= first + 1:
        right = (x0 + x1) * 0.5 - first
        sums[row, first] += rise * (1.0 - right)
        sums[row, first + 1] += rise * right
        return
    slope = rise / (x1 - x0)
    # Cumulated area right of the edge, column by column; its second difference is what is stored.
    before = 0.0
    inside_before = 0.0
    for column in range(first, beyond):
        left = max(x0, float(column))
        inside_after = (min(x1, column + 1.0) - x0) * slope
        covered = (
            inside_before * (left - column)
            + (inside_before + inside_after) * 0.5 * (min(x1, column + 1.0) - left)
        ) + inside_after * (column + 1.0 - min(x1, column + 1.0))
        sums[row, column] += covered - before
        before = covered
        inside_before = inside_after
    sums[row, beyond] += rise - before


@njit(cache=True, nogil=True)
def _add_within(sums, start, end, sign):  # type: ignore[no-untyped-def]
    """An edge that goes down the picture (y0 < y1), its x already within the picture."""
    (x0, y0), (x1, y1) = start, end
    slope = (x1 - x0) / (y1 - y0)
    low, high = min(x0, x1), max(x0, x1)
    x = x0
    for row in range(int(y0), min(int(np.ceil(y1)), sums.shape[0])):
        bottom = min(row + 1.0, y1)
        # Stepping can overshoot the end by rounding; the end must not leave the picture.
        following = min(max(x0 + (bottom - y0) * slope, low), high)
        _add_row(sums, row, x, following, sign * (bottom - max(float(row), y0)))
        x = following


@njit(cache=True, nogil=True)
def _add_edge(sums, x0, y0, x1, y1):  # type: ignore[no-untyped-def]
    """Any edge: cut at the picture's top and bottom, laid along its sides where it is outside."""
    if y0 == y1:
        return
    sign = 1.0
    if y0 > y1:
        x0, y0, x1, y1, sign = x1, y1, x0, y0, -1.0
    height, width = sums.shape[0], sums.shape[1] - 2.0
    if y1 <= 0.0 or y0 >= height:
        return
    slope = (x1 - x0) / (y1 - y0)
    if y0 < 0.0:
        x0, y0 = x0 - y0 * slope, 0.0
    if y1 > height:
        x1, y1 = x1 + (height - y1) * slope, float(height)
    ya, yb = y0, y1
    if slope != 0.0:
        ya = min(max(y0 + (0.0 - x0) / slope, y0), y1)
        yb = min(max(y0 + (width - x0) / slope, y0), y1)
        if ya > yb:
            ya, yb = yb, ya
    stops = (y0, ya, yb, y1)
    for i in range(3):
        top, bottom = stops[i], stops[i + 1]
        if bottom > top:
            left = min(max(x0 + (top - y0) * slope, 0.0), width)
            right = min(max(x0 + (bottom - y0) * slope, 0.0), width)
            _add_within(sums, (left, top), (right, bottom), sign)


@njit(cache=True, nogil=True)
def _paint(points, starts, out, dust):  # type: ignore[no-untyped-def]
    """Coverage of rings (points in pixels, ring i from starts[i] to starts[i + 1]) into ``out``."""
    height, width = out.shape
    sums = np.zeros((height, width + 2))
    for ring in range(len(starts) - 1):
        for i in range(starts[ring], starts[ring + 1] - 1):
            _add_edge(sums, points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1])
    for y in range(height):
        total = 0.0
        for x in range(width):
            total += sums[y, x]
            share = abs(total)
            if share < dust:
                share = 0.0
            elif share > 1.0 - dust:
                share = 1.0
            out[y, x] = share


def paint_area(
    area: BaseGeometry,
    *,
    pixels_per_mm: float,
    width_px: int,
    height_px: int,
    origin_mm: tuple[float, float] = (0.0, 0.0),
) -> NDArray[np.float32]:
    """The share (0 to 1) of every pixel that an area covers, as float32 of shape (height_px, width_px).

    ``area`` is a valid polygon or multipolygon in mm, y down; other geometry paints nothing. ``origin_mm`` is
    the place of the picture's upper left corner, so that a part of a large picture can be painted by itself;
    what lies outside is cut off exactly. The coverage is exact to rounding: summed, it is the area in pixels.

    Raises ValueError when ``pixels_per_mm`` is not above 0 or a size is below 0.

    >>> from shapely.geometry import box
    >>> paint_area(box(0.5, 0.0, 2.0, 1.0), pixels_per_mm=1.0, width_px=3, height_px=1).tolist()
    [[0.5, 1.0, 0.0]]
    """
    if not pixels_per_mm > 0.0 or min(width_px, height_px) < 0:
        raise ValueError("pixels_per_mm must be above 0 and the picture's size 0 or more")
    coverage = np.zeros((height_px, width_px), dtype=np.float32)
    polygons = [
        part for part in shapely.get_parts([area]) if part.geom_type == "Polygon" and not part.is_empty
    ]
    if not polygons or coverage.size == 0:
        return coverage
    # Outer rings run one way round and holes the other, so that their signed areas subtract.
    rings = shapely.get_rings(shapely.orient_polygons(np.array(polygons, dtype=object)))
    points = (shapely.get_coordinates(rings) - np.asarray(origin_mm)) * pixels_per_mm
    starts = np.concatenate([[0], np.cumsum(shapely.get_num_coordinates(rings))])
    _paint(points, starts.astype(np.int64), coverage, _DUST)
    return coverage
