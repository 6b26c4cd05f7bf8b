"""Slopes for the compiled search of recipes: of a film by its K and S, and of CIEDE2000 by a colour."""

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

_STEP_LAB = 1e-4
"""Step of L*, a* and b* for the slopes of CIEDE2000."""

_LAB_DELTA = 6.0 / 29.0
"""Where CIELAB's cube root goes over into a straight line (ISO/CIE 11664-4)."""


@njit(cache=True, nogil=True, fastmath=True)  # type: ignore[untyped-decorator]
def film(k: Any, s: Any, ground: Any, by_k: Any, by_s: Any, seen: Any) -> None:
    """Reflectance of a film over a ground, into ``seen``, and its slopes by K and by S."""
    for band in range(k.shape[0]):
        absorb, scatter, under = k[band], s[band], ground[band]
        q = absorb * (absorb + 2.0 * scatter)
        if q < 1e-4:
            # The series of tanh(a) / a in q = a^2: below this, what is left out is under 1e-13.
            t = 1.0 - q * (1.0 / 3.0 - q * (2.0 / 15.0 - q * 17.0 / 315.0))
            t_q = -1.0 / 3.0 + q * (4.0 / 15.0 - q * 17.0 / 105.0)
        else:
            a = np.sqrt(q)
            e = np.exp(-2.0 * a)
            t = (1.0 - e) / ((1.0 + e) * a)
            t_q = (4.0 * e / (1.0 + e) ** 2 - t) / (2.0 * q)
        both = absorb + scatter
        up, down = scatter - under * both, both - scatter * under
        below = 1.0 + down * t
        value = (under + up * t) / below
        top_k = -under * t + up * t_q * 2.0 * both
        top_s = (1.0 - under) * t + up * t_q * 2.0 * absorb
        low_k = t + down * t_q * 2.0 * both
        low_s = (1.0 - under) * t + down * t_q * 2.0 * absorb
        seen[band] = value
        by_k[band] = (top_k - value * low_k) / below
        by_s[band] = (top_s - value * low_s) / below


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def lab_of(xyz: Any, white: Any, lab: Any, slope: Any) -> None:
    """CIELAB of XYZ, into ``lab``, and the slope of each cube root by its X, Y or Z."""
    roots = np.empty(3)
    for axis in range(3):
        ratio = xyz[axis] / white[axis]
        if ratio > _LAB_DELTA**3:
            roots[axis] = np.cbrt(ratio)
            slope[axis] = roots[axis] / (3.0 * xyz[axis])
        else:
            roots[axis] = ratio / (3.0 * _LAB_DELTA**2) + 4.0 / 29.0
            slope[axis] = 1.0 / (3.0 * _LAB_DELTA**2 * white[axis])
    lab[0] = 116.0 * roots[1] - 16.0
    lab[1] = 500.0 * (roots[0] - roots[1])
    lab[2] = 200.0 * (roots[1] - roots[2])


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def _chroma_weight(chroma: float) -> float:
    seventh = chroma**7
    return np.sqrt(seventh / (seventh + 6103515625.0))  # type: ignore[no-any-return]


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def parts_e00(lab: Any, target: Any, parts: Any) -> None:
    """Three numbers whose squares sum to the square of CIEDE2000 (Sharma et al. 2005, equations 2 to 22)."""
    mean = (np.hypot(lab[1], lab[2]) + np.hypot(target[1], target[2])) / 2.0
    stretch = 1.5 - 0.5 * _chroma_weight(mean)
    a_1, a_2 = lab[1] * stretch, target[1] * stretch
    chroma_1, chroma_2 = np.hypot(a_1, lab[2]), np.hypot(a_2, target[2])
    if chroma_1 == 0.0 or chroma_2 == 0.0:
        hue = np.arctan2(lab[2] + target[2], a_1 + a_2)
        half = 0.0
    else:
        hue_1, hue_2 = np.arctan2(lab[2], a_1), np.arctan2(target[2], a_2)
        turn = hue_2 - hue_1
        if turn > np.pi:
            turn -= 2.0 * np.pi
        elif turn < -np.pi:
            turn += 2.0 * np.pi
        half = turn / 2.0
        hue = hue_1 + half
    chroma = (chroma_1 + chroma_2) / 2.0
    square = ((lab[0] + target[0]) / 2.0 - 50.0) ** 2
    s_l = 1.0 + 0.015 * square / np.sqrt(20.0 + square)
    weight = (
        1.0
        - 0.17 * np.cos(hue - np.radians(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.radians(6.0))
        - 0.20 * np.cos(4.0 * hue - np.radians(63.0))
    )
    degrees = np.degrees(hue) % 360.0
    turned = np.exp(-(((degrees - 275.0) / 25.0) ** 2))
    r_t = -2.0 * _chroma_weight(chroma) * np.sin(np.radians(60.0) * turned)
    by_c = (chroma_2 - chroma_1) / (1.0 + 0.045 * chroma)
    by_h = 2.0 * np.sqrt(chroma_1 * chroma_2) * np.sin(half) / (1.0 + 0.015 * chroma * weight)
    parts[0] = (target[0] - lab[0]) / s_l
    parts[1] = by_c + r_t * by_h / 2.0
    parts[2] = by_h * np.sqrt(1.0 - r_t * r_t / 4.0)


@njit(cache=True, nogil=True)  # type: ignore[untyped-decorator]
def slopes_e00(lab: Any, target: Any, slopes: Any) -> None:
    """The slopes, shape (3, 3), of the three parts by L*, a* and b*."""
    there, up, down = np.empty(3), np.empty(3), np.empty(3)
    for axis in range(3):
        there[:] = lab
        there[axis] += _STEP_LAB
        parts_e00(there, target, up)
        there[axis] -= 2.0 * _STEP_LAB
        parts_e00(there, target, down)
        for row in range(3):
            slopes[row, axis] = (up[row] - down[row]) / (2.0 * _STEP_LAB)


def quadratic_form(target: NDArray[np.float64]) -> NDArray[np.float64]:
    """The root, shape (3, 3), of CIEDE2000's quadratic form at a colour: the slopes of its three parts.

    >>> bool((abs(quadratic_form(np.array([50.0, 0.0, 0.0]))).round(2) <= 1.5).all())
    True
    """
    slopes = np.empty((3, 3))
    # Exactly at the colour the hue of a grey is not defined; a hair beside it is.
    slopes_e00(target + np.array([0.0, 0.02, 0.02]), target, slopes)
    return slopes
