"""How far every place of an area is from its edge, on a fine grid, to be asked about many places quickly."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray

from blockwright.geometry.painting import paint_area
from blockwright.model.units import Area

GRID_MM = 0.1
"""From one place of the grid to the next, mm; a distance read from it is off by less than that."""


@dataclass(frozen=True, slots=True, eq=False)
class Distances:
    """Distances (rows, columns), mm, float32, 0 outside; row 0 lies lowest, at ``y_mm``."""

    away: NDArray[np.float32]
    x_mm: float
    y_mm: float

    def at(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """The distances of points (n, 2 or more), mm: those of the nearest places of the grid."""
        column = np.rint((points[:, 0] - self.x_mm) / GRID_MM).astype(np.int64)
        row = np.rint((points[:, 1] - self.y_mm) / GRID_MM).astype(np.int64)
        rows, columns = self.away.shape
        inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        found = np.zeros(len(points))
        found[inside] = self.away[row[inside], column[inside]]
        return found

    def least_along(self, start: NDArray[np.float64], end: NDArray[np.float64]) -> float:
        """The least distance on the straight way between two points."""
        return float(_least(self.away, start[0], start[1], end[0], end[1], self.x_mm, self.y_mm))


@njit(cache=True, nogil=True)
def _least(away, ax, ay, bx, by, x_mm, y_mm):  # type: ignore[no-untyped-def]
    rows, columns = away.shape
    steps = int(np.hypot(bx - ax, by - ay) / GRID_MM) + 1
    least = np.inf
    for k in range(steps + 1):
        column = int(np.rint((ax + (bx - ax) * k / steps - x_mm) / GRID_MM))
        row = int(np.rint((ay + (by - ay) * k / steps - y_mm) / GRID_MM))
        if not (0 <= row < rows and 0 <= column < columns):
            return 0.0
        least = min(least, away[row, column])
    return least


def distances_in(area: Area) -> Distances:
    """Measure an area, mm, exactly from the middles of the grid's cells that lie outside."""
    left, low, right, high = shapely.bounds(area).tolist()
    x_mm, y_mm = left - 2 * GRID_MM, low - 2 * GRID_MM
    width, height = (int(np.ceil(size / GRID_MM)) + 5 for size in (right - left, high - low))
    moved = shapely.transform(area, lambda points: points - [x_mm - GRID_MM / 2, y_mm - GRID_MM / 2])
    share = paint_area(moved, pixels_per_mm=1.0 / GRID_MM, width_px=width, height_px=height)
    inside = (share > 0.999).astype(np.uint8)
    away = cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    # From the middle of a cell to the edge of the next one outside is half a cell less than to its middle.
    return Distances(np.maximum(away * np.float32(GRID_MM) - np.float32(GRID_MM / 2), 0.0), x_mm, y_mm)
