"""Wood that should stay and was cut."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from blockwright.cutting.cells import cells_inside
from blockwright.cutting.simulating import Surface
from blockwright.cutting.sweeping import TILE

TOUCH_MM = 0.02
"""A surface that prints may be cut this deep, mm [CP]: it is sanded and inked flat."""


@dataclass(frozen=True, slots=True)
class Gouges:
    """Wood that stays and was cut: how much, in how many places, and the deepest of them."""

    area_mm2: float
    places: int
    deepest_mm: float
    x_mm: float
    y_mm: float


def find_gouges(surface: Surface, stays: shapely.Geometry) -> Gouges:
    """Where wood that ``stays`` is cut deeper than :data:`TOUCH_MM`, by the finest cells."""
    step, shape = surface.step_mm, surface.heights.shape
    coarse = cells_inside(stays, surface.origin, step, shape).astype(bool) & (surface.heights < -TOUCH_MM)
    depth = np.where(coarse, -surface.heights, np.float32(0.0))
    area = 0.0
    rows, columns = surface.fine_tile.shape
    if len(surface.fine):
        small = cells_inside(stays, surface.origin, step / 2, (rows * 2 * TILE, columns * 2 * TILE))
        for row, column in zip(*np.nonzero(surface.fine_tile >= 0), strict=True):
            tile = surface.fine[surface.fine_tile[row, column]]
            part = small[row * 2 * TILE : (row + 1) * 2 * TILE, column * 2 * TILE : (column + 1) * 2 * TILE]
            deep = np.where((part == 1) & (tile < -TOUCH_MM), -tile, np.float32(0.0))
            here = depth[row * TILE : (row + 1) * TILE, column * TILE : (column + 1) * TILE]
            cells = deep.reshape(TILE, 2, TILE, 2)[: here.shape[0], :, : here.shape[1]]
            here[...] = cells.max(axis=(1, 3))
            coarse[row * TILE : (row + 1) * TILE, column * TILE : (column + 1) * TILE] = False
            area += float(np.count_nonzero(cells)) * (step / 2) ** 2
    area += float(np.count_nonzero(coarse)) * step**2
    bad = depth > 0
    if not bad.any():
        return Gouges(0.0, 0, 0.0, 0.0, 0.0)
    places = cv2.connectedComponents(bad.astype(np.uint8))[0] - 1
    y, x = np.unravel_index(int(depth.argmax()), shape)
    return Gouges(
        area_mm2=area,
        places=int(places),
        deepest_mm=float(depth.max()),
        x_mm=surface.origin[0] + (float(x) + 0.5) * step,
        y_mm=surface.origin[1] + (float(y) + 0.5) * step,
    )
