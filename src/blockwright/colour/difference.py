"""Colour difference: CIEDE2000 for judging, CIE 1976 for what is specified in it.

Source of CIEDE2000: Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", *Color Research &
Application* 30(1), 2005 (their equation numbers below); ISO/CIE 11664-6. CIE 1976: ISO/CIE 11664-4.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

_OPPOSITE_DEG = 180.0 + 1e-9
"""Hues count as up to half a turn apart with this much slack, degrees: rounding in the arctangent must not
decide which way round the mean hue of exactly opposite hues lies."""

_NEARLY_OPPOSITE = 1e-4
"""Where the sum of two hues' unit vectors is shorter than this, the mean hue is taken from the two angles:
the sum would lose digits, and at exact opposites the formula's own rule decides."""

_POW25_7 = 25.0**7

_BLOCK = 8192
"""Pairs that are worked on at once: so few that all that lies between stays in the processor's cache."""

_Values = NDArray[np.float64]


def _length(x: _Values, y: _Values) -> _Values:
    """What hypot does, in half its time; colours are far from where squares overflow."""
    length: _Values = np.sqrt(x * x + y * y)
    return length


def _chroma_weight(chroma: _Values) -> _Values:
    """sqrt(C^7 / (C^7 + 25^7)), of equations 4 and 22; without a power, which is slow."""
    square = chroma * chroma
    seventh = square * square * square * chroma
    return np.sqrt(seventh / (seventh + _POW25_7))


def _mean_hue_by_angles(a_1: _Values, b_1: _Values, a_2: _Values, b_2: _Values) -> tuple[_Values, _Values]:
    """The mean hue and the signed half difference as the formula states them, radians (10, 14)."""
    hue_1, hue_2 = np.degrees(np.arctan2(b_1, a_1)) % 360.0, np.degrees(np.arctan2(b_2, a_2)) % 360.0
    step = hue_2 - hue_1
    near = np.abs(step) <= _OPPOSITE_DEG
    turned = np.where(near, step, step - np.copysign(360.0, step))
    total = hue_1 + hue_2
    mean = np.where(near, total / 2.0, np.where(total < 360.0, (total + 360.0) / 2.0, (total - 360.0) / 2.0))
    return np.radians(mean), np.radians(turned) / 2.0


def _hue_terms(
    a_1: _Values, b_1: _Values, chroma_1: _Values, a_2: _Values, b_2: _Values, chroma_2: _Values
) -> tuple[_Values, _Values, _Values]:
    """Cosine and sine of the mean hue the short way round, and the signed hue difference of equation 11.

    The sum of the two unit vectors points along the mean hue, which saves the arctangents and most cosines. A
    grey has no hue: the other colour's counts, and the difference is 0.
    """
    grey = (chroma_1 == 0.0) | (chroma_2 == 0.0)
    one, two = np.where(chroma_1 == 0.0, 1.0, chroma_1), np.where(chroma_2 == 0.0, 1.0, chroma_2)
    cos_1, sin_1, cos_2, sin_2 = a_1 / one, b_1 / one, a_2 / two, b_2 / two
    along, across = cos_1 + cos_2, sin_1 + sin_2
    length = np.sqrt(along * along + across * across)
    # 2 sqrt(C1 C2) sin(h / 2), and sin(h) = 2 sin(h / 2) cos(h / 2); half the length is the cosine of h / 2.
    twice_root = 2.0 * np.sqrt(chroma_1 * chroma_2)
    hue_step = twice_root * (cos_1 * sin_2 - cos_2 * sin_1) / np.maximum(length, _NEARLY_OPPOSITE)
    usable = np.where(length > 0.0, length, 1.0)
    cosine, sine = np.where(length > 0.0, along / usable, 1.0), across / usable
    opposite = (length < _NEARLY_OPPOSITE) & ~grey
    if opposite.any():
        mean, half = _mean_hue_by_angles(a_1[opposite], b_1[opposite], a_2[opposite], b_2[opposite])
        cosine[opposite], sine[opposite] = np.cos(mean), np.sin(mean)
        hue_step[opposite] = twice_root[opposite] * np.sin(half)
    return cosine, sine, hue_step


def _hue_weight(cosine: _Values, sine: _Values) -> _Values:
    """T of equation 15, by the formulas for the cosine of a multiple of an angle."""
    cosine_2, sine_2 = 2.0 * cosine * cosine - 1.0, 2.0 * sine * cosine
    cosine_3, sine_3 = cosine_2 * cosine - sine_2 * sine, sine_2 * cosine + cosine_2 * sine
    cosine_4, sine_4 = 2.0 * cosine_2 * cosine_2 - 1.0, 2.0 * sine_2 * cosine_2
    weight: _Values = (
        1.0
        - 0.17 * (_COS_30 * cosine + _SIN_30 * sine)
        + 0.24 * cosine_2
        + 0.32 * (_COS_6 * cosine_3 - _SIN_6 * sine_3)
        - 0.20 * (_COS_63 * cosine_4 + _SIN_63 * sine_4)
    )
    return weight


_COS_30, _SIN_30 = np.cos(np.radians(30.0)), np.sin(np.radians(30.0))
_COS_6, _SIN_6 = np.cos(np.radians(6.0)), np.sin(np.radians(6.0))
_COS_63, _SIN_63 = np.cos(np.radians(63.0)), np.sin(np.radians(63.0))


def _block_e00(one: _Values, two: _Values) -> _Values:
    """CIEDE2000 of a block of pairs, each of shape (n, 3)."""
    lightness_1, lightness_2 = one[:, 0], two[:, 0]
    b_1, b_2 = one[:, 2], two[:, 2]
    mean_chroma = (_length(one[:, 1], b_1) + _length(two[:, 1], b_2)) / 2.0
    stretch = 1.5 - 0.5 * _chroma_weight(mean_chroma)
    a_1, a_2 = one[:, 1] * stretch, two[:, 1] * stretch
    chroma_1, chroma_2 = _length(a_1, b_1), _length(a_2, b_2)
    cosine, sine, hue_step = _hue_terms(a_1, b_1, chroma_1, a_2, b_2, chroma_2)

    square = ((lightness_1 + lightness_2) / 2.0 - 50.0) ** 2
    chroma = (chroma_1 + chroma_2) / 2.0
    s_l = 1.0 + 0.015 * square / np.sqrt(20.0 + square)
    s_c = 1.0 + 0.045 * chroma
    s_h = 1.0 + 0.015 * chroma * _hue_weight(cosine, sine)
    # Degrees from blue at 275; the arctangent of the hue turned by half a turn is continuous there.
    away = (np.degrees(np.arctan2(-sine, -cosine)) - 95.0) / 25.0
    r_t = -2.0 * _chroma_weight(chroma) * np.sin(np.radians(60.0) * np.exp(-away * away))

    d_l = (lightness_2 - lightness_1) / s_l
    d_c = (chroma_2 - chroma_1) / s_c
    d_h = hue_step / s_h
    # Rounding can bring the quadratic form of two equal colours a hair below zero.
    difference: _Values = np.sqrt(np.maximum(d_l * d_l + d_c * d_c + d_h * d_h + r_t * d_c * d_h, 0.0))
    return difference


def delta_e00(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIEDE2000 difference of CIELAB colours, with all parametric factors 1.

    ``lab_1`` and ``lab_2`` have the three values on the last axis and broadcast against each other; the
    result has the remaining axes (none for a single pair).

    >>> float(delta_e00((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485)).round(4))
    2.0425
    """
    one, two = np.broadcast_arrays(np.asarray(lab_1, dtype=np.float64), np.asarray(lab_2, dtype=np.float64))
    shape = one.shape[:-1]
    flat_1, flat_2 = one.reshape(-1, 3), two.reshape(-1, 3)
    difference = np.empty(len(flat_1))
    for start in range(0, len(flat_1), _BLOCK):
        block = slice(start, start + _BLOCK)
        difference[block] = _block_e00(
            np.ascontiguousarray(flat_1[block].T).T, np.ascontiguousarray(flat_2[block].T).T
        )
    return difference.reshape(shape)


def delta_e76(lab_1: ArrayLike, lab_2: ArrayLike) -> NDArray[np.float64]:
    """CIE 1976 difference: the distance in CIELAB. Shapes as for :func:`delta_e00`.

    >>> float(delta_e76((50.0, 3.0, 0.0), (50.0, 0.0, 4.0)))
    5.0
    """
    apart = np.asarray(lab_1, dtype=np.float64) - np.asarray(lab_2, dtype=np.float64)
    distance: NDArray[np.float64] = np.sqrt((apart**2).sum(axis=-1))
    return distance
