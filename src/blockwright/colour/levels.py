"""A picture's pixels, 8 bits a channel, to CIELAB: what a table of 256 values makes fast."""

import numpy as np
from numba import njit
from numpy.typing import NDArray

from blockwright.colour.srgb import linear_to_xyz, srgb_to_linear

_LINEAR = srgb_to_linear(np.arange(256) / 255.0)
"""The light of every level."""

_TO_XYZ = np.ascontiguousarray(linear_to_xyz(np.eye(3)).T)
_WHITE = _TO_XYZ.sum(axis=1)
_TO_RATIO = _TO_XYZ / _WHITE[:, None]
"""From the light of a pixel to XYZ relative to sRGB's white."""

_KNEE = (6.0 / 29.0) ** 3
_SLOPE = 1.0 / (3.0 * (6.0 / 29.0) ** 2)
"""Where CIELAB's cube root goes over into a straight line, and how steep that is (ISO/CIE 11664-4)."""


@njit(cache=True, nogil=True)
def _to_lab(levels, linear, to_ratio, lab):  # type: ignore[no-untyped-def]
    f = np.empty(3)
    for i in range(len(levels)):
        r, g, b = linear[levels[i, 0]], linear[levels[i, 1]], linear[levels[i, 2]]
        for k in range(3):
            ratio = to_ratio[k, 0] * r + to_ratio[k, 1] * g + to_ratio[k, 2] * b
            f[k] = np.cbrt(ratio) if ratio > _KNEE else ratio * _SLOPE + 4.0 / 29.0
        lab[i, 0] = 116.0 * f[1] - 16.0
        lab[i, 1] = 500.0 * (f[0] - f[1])
        lab[i, 2] = 200.0 * (f[1] - f[2])


def levels_to_lab(levels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """sRGB levels (..., 3), 0 to 255, to CIELAB under D65, as ``srgb_to_lab(levels / 255)`` would.

    >>> levels_to_lab(np.array([[255, 255, 255], [0, 0, 0]], dtype=np.uint8)).round(6).tolist()
    [[100.0, 0.0, 0.0], [0.0, 0.0, 0.0]]
    """
    flat = np.ascontiguousarray(levels).reshape(-1, 3)
    lab = np.empty(flat.shape)
    _to_lab(flat, _LINEAR, _TO_RATIO, lab)
    return lab.reshape(levels.shape)
