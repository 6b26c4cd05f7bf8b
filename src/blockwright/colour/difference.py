"""Colour difference: CIEDE2000 for judging, CIE 1976 for what is specified in it.

Source of CIEDE2000: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", *Color Research &
Application* 30(1), 2005 (their equation numbers below); ISO/CIE 11664-6. CIE 1976: ISO/CIE 11664-4.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

_OPPOSITE_DEG = 180.0 + 1e-9
"""Hues count as up to half a turn apart with this much slack, degrees: rounding in the arctangent must not
decide which way round the mean hue of exactly opposite hues lies."""

_POW25_7 = 25.0**7


def _cos_deg(degrees: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.cos(np.radians(degrees))


def _primed(
    lab: NDArray[np.float64], mean_chroma: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Chroma and hue (degrees, 0 to 360) after a* is stretched for near-neutral colours; equations 3 to 7."""
    chroma_7 = mean_chroma**7
    a = lab[..., 1] * (1.5 - 0.5 * np.sqrt(chroma_7 / (chroma_7 + _POW25_7)))
    b = lab[..., 2]
    return np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360.0


def _hue_step_and_mean(
    hue_1: NDArray[np.float64], hue_2: NDArray[np.float64], grey: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The signed hue difference and the mean hue the short way round, degrees; equations 10 and 14."""
    step = hue_2 - hue_1
    near = np.abs(step) <= _OPPOSITE_DEG
    turned = np.where(near, step, step - np.copysign(360.0, step))
    total = hue_1 + hue_2
    mean = np.where(near, total / 2.0, np.where(total < 360.0, (total + 360.0) / 2.0, (total - 360.0) / 2.0))
    return np.where(grey, 0.0, turned), np.where(grey, total, mean)


def delta_e00(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 difference of CIELAB colours, with all parametric factors 1.

    ``lab_1`` and ``lab_2`` have the three values on the last axis and broadcast against each other; the
    result has the remaining axes (none for a single pair).

    >>> float(delta_e00((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485)).round(4))
    2.0425
    """
    one, two = np.broadcast_arrays(np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64))
    mean_chroma = (np.hypot(one[..., 1], one[..., 2]) + np.hypot(two[..., 1], two[..., 2])) / 2.0
    chroma_1, hue_1 = _primed(one, mean_chroma)
    chroma_2, hue_2 = _primed(two, mean_chroma)
    hue_step, hue = _hue_step_and_mean(hue_1, hue_2, chroma_1 * chroma_2 == 0.0)

    lightness = (one[..., 0] + two[..., 0]) / 2.0 - 50.0
    chroma = (chroma_1 + chroma_2) / 2.0
    t = (
        1.0
        - 0.17 * _cos_deg(hue - 30.0)
        + 0.24 * _cos_deg(2.0 * hue)
        + 0.32 * _cos_deg(3.0 * hue + 6.0)
        - 0.20 * _cos_deg(4.0 * hue - 63.0)
    )
    s_l = 1.0 + 0.015 * lightness**2 / np.sqrt(20.0 + lightness**2)
    s_c = 1.0 + 0.045 * chroma
    s_h = 1.0 + 0.015 * chroma * t
    turn = 60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2))
    chroma_7 = chroma**7
    r_t = -2.0 * np.sqrt(chroma_7 / (chroma_7 + _POW25_7)) * np.sin(np.radians(turn))

    d_l = (two[..., 0] - one[..., 0]) / s_l
    d_c = (chroma_2 - chroma_1) / s_c
    d_h = 2.0 * np.sqrt(chroma_1 * chroma_2) * np.sin(np.radians(hue_step) / 2.0) / s_h
    # Rounding can bring the quadratic form of two equal colours a hair below zero.
    difference: NDArray[np.float64] = np.sqrt(np.maximum(d_l**2 + d_c**2 + d_h**2 + r_t * d_c * d_h, 0.0))
    return difference


def delta_e76(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIE 1976 difference: the distance in CIELAB. Shapes as for :func:`delta_e00`.

    >>> float(delta_e76((50.0, 3.0, 0.0), (50.0, 0.0, 4.0)))
    5.0
    """
    apart = np.asarray(lab_1, dtype=np.float64) - np.asarray(lab_2, dtype=np.float64)
    distance: NDArray[np.float64] = np.sqrt((apart**2).sum(axis=-1))
    return distance
