"""The bit that was the last in each place."""

import numpy as np
from shapely.geometry import box

from blockwright.cutting.last_bit import last_bits
from blockwright.cutting.reading_program import read_program
from blockwright.model.router import Bit

BITS = {
    1: Bit(1, "6 mm", "flat", 6.0, 2, 20.0),
    2: Bit(2, "2 mm", "flat", 2.0, 2, 8.0),
}


def _program(tool: int, moves: str) -> str:
    return f"G17 G21 G90\nT{tool} M6\nS18000 M3\nG0Z5\n{moves}\nG0Z5\nM5\nM30\n"


def test_a_place_belongs_to_the_bit_that_took_something_off_last() -> None:
    wide = read_program(_program(1, "G0X10Y10\nG1Z-1F300\nG1X30F900"))
    fine = read_program(_program(2, "G0X20Y10\nG1Z-2F300\nG1X40F900"))
    last = last_bits([wide, fine], BITS, box(0.0, 0.0, 50.0, 20.0), step_mm=0.5)
    assert last.shape == (40, 100)
    # y is counted from the top.
    row = 40 - 20
    assert last[row, 2 * 5] == 0
    assert last[row, 2 * 12] == 1
    assert last[row, 2 * 25] == 2
    assert last[row, 2 * 38] == 2
    assert last[row - 4, 2 * 25] == 1
    assert np.count_nonzero(last == 2) * 0.25 > 40.0


def test_no_programs_no_bits() -> None:
    assert last_bits([], BITS, box(0.0, 0.0, 10.0, 10.0)).size == 0
