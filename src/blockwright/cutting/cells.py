"""Which cells of a grid lie in an area: those whose middle does, exactly."""

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray


def cells_inside(
    area: shapely.Geometry, origin: tuple[float, float], step_mm: float, shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """1 where a cell's middle lies in the area, (rows, columns); ``origin`` is the first cell's corner.

    >>> cells_inside(shapely.box(0.6, 0, 3, 1), (0.0, 0.0), 1.0, (2, 4)).tolist()
    [[0, 1, 1, 0], [0, 0, 0, 0]]
    """
    rings = shapely.get_rings(shapely.get_parts(area))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    inside = np.zeros(shape, dtype=np.uint8)
    if len(points):
        scaled = (points - np.array(origin)) / step_mm - 0.5
        _cross(scaled, ring[1:] == ring[:-1], inside)
        _fill(inside)
    return inside


@njit(cache=True, nogil=True)
def _cross(points, joined, inside):  # type: ignore[no-untyped-def]
    """Turn the first cell right of every crossing of an edge with a row's middle."""
    rows, columns = inside.shape
    for k in range(len(joined)):
        if not joined[k]:
            continue
        ax, ay, bx, by = points[k, 0], points[k, 1], points[k + 1, 0], points[k + 1, 1]
        if ay == by:
            continue
        if ay > by:
            ax, ay, bx, by = bx, by, ax, ay
        lean = (bx - ax) / (by - ay)
        for row in range(max(int(np.ceil(ay)), 0), min(int(np.ceil(by)), rows)):
            column = int(np.ceil(ax + (row - ay) * lean))
            if column < columns:
                inside[row, max(column, 0)] ^= 1


@njit(cache=True, nogil=True)
def _fill(inside):  # type: ignore[no-untyped-def]
    for row in range(inside.shape[0]):
        now = 0
        for column in range(inside.shape[1]):
            now ^= inside[row, column]
            inside[row, column] = now
