"""Colours that no display can show, brought into sRGB, and said when that was done.

Method: CSS Color Module Level 4, section 13.2 (gamut mapping): the chroma is reduced in OKLCh, lightness and
hue are kept, until clipping what is left would make no noticeable difference. The search halves the range of
chroma; all colours are searched at once.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.oklab import linear_to_oklab, oklab_to_linear
from blockwright.colour.srgb import linear_to_srgb

NOTICEABLE = 0.02
"""A difference in OKLab (Euclidean) that is just noticed; CSS Color Module Level 4."""

_FOUND = 0.0001
"""The search stops when chroma is known, or clipping is just not noticed, to this much in OKLab; as above."""

_SLACK = 1e-6
"""A colour counts as inside sRGB when no band of linear light leaves 0 to 1 by more: far less than one level
of 8 bits, far more than rounding."""


@dataclass(frozen=True, slots=True)
class Display:
    """Coded sRGB to show, shape (..., 3), 0 to 1, and where it is not the true colour, shape (...)."""

    srgb: NDArray[np.float64]
    mapped: NDArray[np.bool_]


def to_display(linear: ArrayLike) -> Display:
    """Bring linear sRGB, shape (..., 3), onto a display; colours inside sRGB stay exactly as they are.

    >>> shown = to_display([[0.2, 0.3, 0.4], [1.2, -0.1, 0.1]])
    >>> shown.mapped.tolist(), bool(shown.srgb.max() <= 1.0)
    ([False, True], True)
    """
    light = np.asarray(linear, dtype=np.float64)
    flat = light.reshape(-1, 3)
    mapped = ~_inside(flat)
    shown = np.clip(flat, 0.0, 1.0)
    if mapped.any():
        shown[mapped] = _reduced(flat[mapped])
    return Display(
        np.clip(linear_to_srgb(shown), 0.0, 1.0).reshape(light.shape), mapped.reshape(light.shape[:-1])
    )


def _inside(linear: NDArray[np.float64]) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = np.all((linear >= -_SLACK) & (linear <= 1.0 + _SLACK), axis=-1)
    return inside


def _clipped(oklab: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The clipped linear colour, and how far clipping moves it in OKLab."""
    clipped = np.clip(oklab_to_linear(oklab), 0.0, 1.0)
    return clipped, np.linalg.norm(linear_to_oklab(clipped) - oklab, axis=-1)


def _reduced(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear colours of shape (n, 3), all outside sRGB, with their chroma reduced as the method says."""
    oklab = linear_to_oklab(linear)
    lightness, hue_ab = oklab[:, :1], oklab[:, 1:]
    result, moved = _clipped(oklab)
    low, high = np.zeros(len(oklab)), np.ones(len(oklab))
    chroma = np.linalg.norm(hue_ab, axis=-1)
    low_inside = np.ones(len(oklab), dtype=bool)
    searching = moved >= NOTICEABLE
    while np.any(searching := searching & ((high - low) * chroma > _FOUND)):
        part = (low + high) / 2.0
        here = np.concatenate([lightness, hue_ab * part[:, None]], axis=-1)
        inside = _inside(oklab_to_linear(here))
        clipped, moved = _clipped(here)
        grows = searching & low_inside & inside
        outside = searching & ~grows
        slight = outside & (moved < NOTICEABLE)
        result[outside] = clipped[outside]
        low = np.where(grows | slight, part, low)
        high = np.where(outside & ~slight, part, high)
        low_inside &= ~slight
        searching &= ~(slight & (NOTICEABLE - moved < _FOUND))
    result[lightness[:, 0] >= 1.0] = 1.0
    result[lightness[:, 0] <= 0.0] = 0.0
    return result
