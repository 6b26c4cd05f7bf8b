"""A small picture with a gradation: a sky over flat land."""

import numpy as np
from numpy.typing import NDArray


def sky() -> NDArray[np.uint8]:
    """240 x 180 pixels: indigo runs to peach over four fifths of the height, land below, a disc over both."""
    t = np.linspace(0.0, 1.0, 144)[:, None, None]
    picture = np.empty((180, 240, 3))
    picture[:144] = (1 - t) * np.array([50, 64, 114.0]) + t * np.array([249, 189, 158.0])
    picture[144:] = (99, 71, 65)
    y, x = np.mgrid[:180, :240]
    picture[(x - 170) ** 2 + (y - 90) ** 2 < 24**2] = (221, 167, 60)
    return np.asarray(np.rint(picture), dtype=np.uint8)
