"""Whether a bit's shank, above the length that cuts, meets wood on its way.

Only a bit that goes deeper than its cutting length can bring its shank below the face. For such moves the
wood is followed move by move on a coarser grid: what stands round the axis before the move is what the shank
meets.
"""

from collections.abc import Sequence
from math import hypot

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.cutting import sweeping
from blockwright.cutting.simulating import Stretches
from blockwright.cutting.sweeping import AX, AY, AZ, BX, BY, BZ, REACH
from blockwright.model.router import Bit

CELL_MM = 0.2
"""The cells on which the wood is followed, mm: much less than any shank."""

TOUCH_MM = 0.05
"""A shank that dips less than this below the top of standing wood is not said to meet it, mm."""


def shank_meets(
    stretches: Stretches, bits: Sequence[Bit], window: tuple[float, float, float, float]
) -> tuple[float, float, float, int] | None:
    """The worst place where a shank meets standing wood: x, y, how deep (mm), and which of ``bits``.

    ``bits`` are in the order of the shapes of ``stretches``; ``window`` is the block (left, top, right,
    bottom), face coordinates. None where no shank meets wood.
    """
    cutting = np.array([bit.cutting_mm for bit in bits])
    shank = np.array([max(bit.shank_mm, bit.diameter_mm) / 2.0 for bit in bits])
    if not len(stretches.parts):
        return None
    deepest = -np.minimum(stretches.parts[:, AZ], stretches.parts[:, BZ])
    risky = deepest > cutting[stretches.bits] + TOUCH_MM
    if not risky.any():
        return None
    left, top, right, bottom = window
    shape = (int((bottom - top) / CELL_MM) + 1, int((right - left) / CELL_MM) + 1)
    cells = np.zeros(shape, dtype=np.float32)
    last = int(np.flatnonzero(risky)[-1]) + 1
    worst = np.zeros(4)
    _follow(
        cells,
        left + CELL_MM / 2,
        top + CELL_MM / 2,
        stretches.parts[:last],
        stretches.flags,
        stretches.bits,
        stretches.shapes,
        risky,
        cutting,
        shank,
        worst,
    )
    if worst[2] <= TOUCH_MM:
        return None
    return float(worst[0]), float(worst[1]), float(worst[2]), int(worst[3])


@njit(cache=True, nogil=True)
def _highest(cells, x0, y0, part, radius):  # type: ignore[no-untyped-def]
    """The highest wood within a radius of a stretch, and where."""
    rows, columns = cells.shape
    ax, ay, bx, by = part[AX], part[AY], part[BX], part[BY]
    dx, dy = bx - ax, by - ay
    long = dx * dx + dy * dy
    found, at_x, at_y = -1e9, ax, ay
    first = max(int(np.ceil((min(ay, by) - radius - y0) / CELL_MM)), 0)
    last = min(int(np.floor((max(ay, by) + radius - y0) / CELL_MM)), rows - 1)
    left = max(int(np.ceil((min(ax, bx) - radius - x0) / CELL_MM)), 0)
    right = min(int(np.floor((max(ax, bx) + radius - x0) / CELL_MM)), columns - 1)
    for row in range(first, last + 1):
        y = y0 + row * CELL_MM
        for column in range(left, right + 1):
            if cells[row, column] <= found:
                continue
            x = x0 + column * CELL_MM
            at = 0.0
            if long > 0.0:
                at = min(max(((x - ax) * dx + (y - ay) * dy) / long, 0.0), 1.0)
            if hypot(ax + at * dx - x, ay + at * dy - y) <= radius:
                found, at_x, at_y = cells[row, column], x, y
    return found, at_x, at_y


@njit(cache=True, nogil=True)
def _follow(cells, x0, y0, parts, flags, bits, shapes, risky, cutting, shank, worst):  # type: ignore[no-untyped-def]
    one: NDArray[np.int64] = np.zeros(1, dtype=np.int64)
    for k in range(len(parts)):
        part, bit = parts[k], bits[k]
        if risky[k]:
            # The middle half-cell of a radius is left out: a cell is not a point.
            high, x, y = _highest(cells, x0, y0, part, max(shank[bit] - CELL_MM / 2, 0.0))
            dips = high - (min(part[AZ], part[BZ]) + cutting[bit])
            if dips > worst[2]:
                worst[0], worst[1], worst[2], worst[3] = x, y, dips, bit
        if part[REACH] > 0.0:
            one[0] = k
            sweeping.sweep(cells, x0, y0, CELL_MM, parts, flags, shapes, bits, one)
