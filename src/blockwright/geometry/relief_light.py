"""Light on a height field: how bright every place is under a slanting light, with shadows."""

from math import cos, hypot, radians, sin, tan

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

HEIGHT_DEG = 42.0
"""How high the light stands above the face: low enough that walls throw shadows, high enough that hollows
keep their floors."""

_FROM_DEG = 135.0
"""Where it comes from: the upper left, as drawings have it."""

_SOFT_MM = 0.5
"""A shadow is full this far below its edge."""

_SHADE = 0.42
"""How much of the light a full shadow takes."""

_HOLLOWS = ((0.8, 0.10), (3.0, 0.16))
"""How wide, mm, and how strongly surroundings that stand higher take light away."""

_AROUND = 0.46
"""The part of the light that comes from all around, so that walls turned away stay wood."""

_BRIGHTEST = 1.16
"""Light on a wall that faces it squarely: more would look like metal."""

_SMOOTH_CELLS = 0.9
"""Heights are smoothed by so many cells for the light alone: their steps from cell to cell are no facets."""


@njit(cache=True, nogil=True)
def _facing(heights, step, towards, out):  # type: ignore[no-untyped-def]
    """How squarely every place faces the light, 1 where the surface is level."""
    rows, columns = heights.shape
    tx, ty, tz = towards
    for row in range(rows):
        up, down = max(row - 1, 0), min(row + 1, rows - 1)
        for column in range(columns):
            left, right = max(column - 1, 0), min(column + 1, columns - 1)
            across = (heights[row, right] - heights[row, left]) / (step * (right - left))
            along = (heights[up, column] - heights[down, column]) / (step * (down - up))
            facing = (tz - across * tx - along * ty) / np.sqrt(1.0 + across * across + along * along)
            out[row, column] = max(facing, 0.0) / tz


@njit(cache=True, nogil=True)
def _hidden(heights, step, rise, most, out):  # type: ignore[no-untyped-def]
    """How far every place lies below the edge of the shadow that falls on it, mm, from the upper left."""
    rows, columns = heights.shape
    stride = step * np.sqrt(2.0)
    for row in range(rows):
        for column in range(columns):
            here = heights[row, column]
            worst = 0.0
            for k in range(1, most + 1):
                if row < k or column < k or here + k * stride * rise > 0.0:
                    break
                worst = max(worst, heights[row - k, column - k] - here - k * stride * rise)
            out[row, column] = worst


def light_on(
    heights: NDArray[np.float32], *, step_mm: float, width_px: int, height_px: int
) -> NDArray[np.float32]:
    """Light on heights (rows, columns), mm at or below 0, seen from above with the first row at the top.

    The value (height_px, width_px) is 1 on a level open surface, less on what turns from the light or lies
    in shadow, and a little more on what turns towards it. Walls are worked out as finely as the heights are
    and then averaged over pixels.
    """
    slant, turn = radians(HEIGHT_DEG), radians(_FROM_DEG)
    towards = (cos(slant) * cos(turn), cos(slant) * sin(turn), sin(slant))
    fine = np.empty(heights.shape, np.float32)
    smooth = cv2.GaussianBlur(heights, (0, 0), _SMOOTH_CELLS, borderType=cv2.BORDER_REPLICATE)
    _facing(np.asarray(smooth, np.float32), step_mm, towards, fine)
    size = (width_px, height_px)
    light = np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), np.float32)
    coarse = np.asarray(cv2.resize(heights, size, interpolation=cv2.INTER_AREA), np.float32)
    pixel_mm = heights.shape[1] * step_mm / width_px
    hidden = np.empty(coarse.shape, np.float32)
    reach = int(-float(coarse.min()) / tan(slant) / (pixel_mm * hypot(1.0, 1.0))) + 1
    _hidden(coarse, pixel_mm, tan(slant), reach, hidden)
    shadow = np.clip(hidden / _SOFT_MM, 0.0, 1.0)
    light = np.minimum(_AROUND + (1.0 - _AROUND) * light, _BRIGHTEST) * (1.0 - _SHADE * shadow)
    for wide_mm, strength in _HOLLOWS:
        around = cv2.GaussianBlur(coarse, (0, 0), wide_mm / pixel_mm, borderType=cv2.BORDER_REPLICATE)
        light *= 1.0 - strength * np.clip((around - coarse) / wide_mm, 0.0, 1.5)
    return np.asarray(light, np.float32)
