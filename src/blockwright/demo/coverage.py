"""How much of each pixel an area covers, exactly: the box filter without sampling.

Every edge is cut at the pixel rows and columns. A piece of edge inside one pixel covers, to its right, the
height it spans; the running sum along the row turns these contributions into covered shares. Summing signed
trapezoids is Green's theorem for the area of a polygon.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

Edges = NDArray[np.float64]
"""Edges as rows (x0, y0, x1, y1), in pixels, with the inside always on the same hand."""


def edges_in_pixels(area: MultiPolygon, *, pixels_per_mm: float) -> Edges:
    """All edges of an area in mm, scaled to pixels; level ones, which cover nothing, are left out."""
    oriented = shapely.orient_polygons(area)
    rings = shapely.get_rings(shapely.get_parts(oriented))
    if len(rings) == 0:
        return np.empty((0, 4))
    points, ring_of = shapely.get_coordinates(rings, return_index=True)
    same = ring_of[1:] == ring_of[:-1]
    edges = np.hstack([points[:-1][same], points[1:][same]]) * pixels_per_mm
    return np.asarray(edges[edges[:, 1] != edges[:, 3]], dtype=np.float64)


def row_coverage(edges: Edges, *, first_row: int, rows: int, columns: int) -> NDArray[np.float32]:
    """The covered share (0 to 1) of each pixel in a band of rows.

    The edges' x must lie within 0 to ``columns``; what lies above or below the band is ignored.

    >>> square = np.array([[0.5, 0.0, 0.5, 2.0], [2.0, 2.0, 2.0, 0.0]])
    >>> row_coverage(square, first_row=0, rows=1, columns=3).tolist()
    [[0.5, 1.0, 0.0]]
    """
    pieces = _cut_at_columns(_cut_at_rows(edges, first_row=first_row, rows=rows))
    x0, y0, x1, y1 = pieces.T
    row = np.floor((y0 + y1) / 2).astype(np.int64) - first_row
    middle = (x0 + x1) / 2
    column = np.minimum(np.floor(middle).astype(np.int64), columns)
    share_right = middle - column
    height = y1 - y0
    stride = columns + 2
    cell = row * stride + column
    sums = np.bincount(cell, weights=height * (1 - share_right), minlength=rows * stride)
    sums += np.bincount(cell + 1, weights=height * share_right, minlength=rows * stride)
    covered = np.abs(np.cumsum(sums.reshape(rows, stride), axis=1)[:, :columns])
    return np.minimum(covered, 1.0).astype(np.float32)


def _cut_at_rows(edges: Edges, *, first_row: int, rows: int) -> Edges:
    low = np.maximum(np.minimum(edges[:, 1], edges[:, 3]), first_row)
    high = np.minimum(np.maximum(edges[:, 1], edges[:, 3]), first_row + rows)
    inside = low < high
    edges, low, high = edges[inside], low[inside], high[inside]
    first = np.floor(low).astype(np.int64)
    count = np.ceil(high).astype(np.int64) - first
    of = np.repeat(np.arange(len(edges)), count)
    line = first[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    top = np.maximum(low[of], line)
    bottom = np.minimum(high[of], line + 1)
    x0, y0, x1, y1 = edges[of].T
    slope = (x1 - x0) / (y1 - y0)
    left, right = np.minimum(x0, x1), np.maximum(x0, x1)
    x_top = np.clip(x0 + (top - y0) * slope, left, right)
    x_bottom = np.clip(x0 + (bottom - y0) * slope, left, right)
    down = y1 > y0
    return np.stack(
        [
            np.where(down, x_top, x_bottom),
            np.where(down, top, bottom),
            np.where(down, x_bottom, x_top),
            np.where(down, bottom, top),
        ],
        axis=1,
    )


def _cut_at_columns(edges: Edges) -> Edges:
    left = np.minimum(edges[:, 0], edges[:, 2])
    right = np.maximum(edges[:, 0], edges[:, 2])
    first = np.floor(left).astype(np.int64)
    count = np.maximum(np.ceil(right).astype(np.int64) - first, 1)
    of = np.repeat(np.arange(len(edges)), count)
    line = first[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    x0, y0, x1, y1 = edges[of].T
    run = x1 - x0
    safe = np.where(run == 0, 1.0, run)
    enter = np.where(run >= 0, line, line + 1)
    leave = np.where(run >= 0, line + 1, line)
    start = np.where(run == 0, 0.0, np.clip((enter - x0) / safe, 0.0, 1.0))
    end = np.where(run == 0, 1.0, np.clip((leave - x0) / safe, 0.0, 1.0))
    rise = y1 - y0
    return np.stack([x0 + start * run, y0 + start * rise, x0 + end * run, y0 + end * rise], axis=1)
