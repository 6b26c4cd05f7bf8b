"""Levels to CIELAB by a table are what the general way gives."""

import numpy as np

from blockwright.colour.levels import levels_to_lab
from blockwright.colour.srgb import srgb_to_lab


def test_levels_agree_with_the_general_way() -> None:
    steps = np.arange(0, 256, 5, dtype=np.uint8)
    levels = np.stack(np.meshgrid(steps, steps, steps), axis=-1)
    assert np.abs(levels_to_lab(levels) - srgb_to_lab(levels / 255.0)).max() < 1e-9


def test_levels_need_not_lie_in_a_row() -> None:
    picture = np.arange(4 * 6 * 3, dtype=np.uint8).reshape(4, 6, 3)[:, ::2]
    assert np.allclose(levels_to_lab(picture), srgb_to_lab(picture / 255.0), atol=1e-9)
