"""Whether a bit's shank, above the length that cuts, meets wood on its way.

Only a bit that goes deeper than its cutting length can bring its shank below the face. For such moves the
wood is followed move by move on a coarser grid: what stands round the axis before the move is what the shank
meets.
"""

from collections.abc import Sequence

import numpy as np

from blockwright.cutting import sweeping
from blockwright.cutting.simulating import Stretches
from blockwright.cutting.sweeping import AZ, BZ
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
    sweeping.follow(
        CELL_MM,
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
