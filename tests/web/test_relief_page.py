"""Heights as they are sent to the browser: nothing that prints is lost, and all is true to 16 bits."""

import struct

import numpy as np
import pytest
from numpy.typing import NDArray

from blockwright.web.relief import MOST_ACROSS, packed, reduced


def _unpacked(data: bytes) -> tuple[NDArray[np.float32], float]:
    """As the browser reads them: the header and the numbers of relief.py's own account, spelled out anew."""
    columns, rows, step_mm, lowest, highest = struct.unpack_from("<IIfff", data)
    levels = np.frombuffer(data, "<u2", offset=20).reshape(rows, columns)
    return (lowest + levels * ((highest - lowest) / 65535)).astype(np.float32), step_mm


@pytest.mark.parametrize("size", [(1000, 700), (37, 1000), (2, 2)])
def test_heights_that_are_few_are_sent_as_they_are(size: tuple[int, int]) -> None:
    heights = -np.random.default_rng(7).random(size).astype(np.float32) * 5
    few, step_mm = reduced(heights, 0.1)
    assert few is heights
    read, step_mm = _unpacked(packed(few, step_mm))
    assert step_mm == pytest.approx(0.1)
    # Half a step of 16 bits over 5 mm, and the rounding of a 32-bit float.
    assert np.abs(read - heights).max() <= 5 / 65535 / 2 + 1e-6


@pytest.mark.parametrize("size", [(3000, 4000), (1001, 999), (2999, 4001), (4600, 30)])
def test_many_heights_become_few_and_no_line_is_lost(size: tuple[int, int]) -> None:
    heights = np.full(size, -4.0, np.float32)
    rows, columns = size
    heights[rows // 3, :] = 0.0
    heights[:, columns - 1] = 0.0
    heights[rows - 1, columns // 2] = -1.0
    few, step_mm = reduced(heights, 0.1)
    times = round(step_mm / 0.1)
    assert step_mm == pytest.approx(0.1 * times)
    assert max(few.shape) <= MOST_ACROSS
    assert max(few.shape) > MOST_ACROSS / 2 - 1
    assert (few[rows // 3 // times] == 0.0).all()
    assert (few[:, -1] == 0.0).all()
    assert few[-1, columns // 2 // times] == -1.0
    # And nothing else is raised.
    lines = few.shape[0] + few.shape[1] - 1
    assert (few == -4.0).sum() == few.size - lines - 1


def test_a_flat_block_can_be_sent() -> None:
    read, _ = _unpacked(packed(np.zeros((3, 4), np.float32), 0.2))
    assert read.shape == (3, 4)
    assert (read == 0).all()
