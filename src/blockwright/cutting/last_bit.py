"""Which bit leaves a place as it is: the last one that took something off there."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from blockwright.cutting.reading_program import ProgramMoves
from blockwright.cutting.simulating import simulate
from blockwright.model.router import Bit
from blockwright.model.units import Region

STEP_MM = 0.2
"""From place to place, mm: finer than a screen shows of a whole face."""

_TAKEN_MM = 1e-3


def last_bits(
    programs: Sequence[ProgramMoves], bits: Mapping[int, Bit], block: Region, *, step_mm: float = STEP_MM
) -> NDArray[np.uint8]:
    """For every place of a block (rows, columns), the upper row first: 0 where it is whole, else the place of
    the program in their order, from 1, that cut it last.
    """
    whole, last = None, None
    for number, moves in enumerate(programs, start=1):
        heights = simulate(moves, bits, block, step_mm=step_mm).heights
        if whole is None or last is None:
            whole, last = np.zeros_like(heights), np.zeros(heights.shape, dtype=np.uint8)
        last[heights < whole - _TAKEN_MM] = number
        whole = np.minimum(whole, heights)
    return np.zeros((0, 0), dtype=np.uint8) if last is None else last
