"""sRGB, linear light, CIE XYZ and CIELAB (D65, 2 degree observer).

Sources: IEC 61966-2-1 (transfer curve and primaries of sRGB), ISO/CIE 11664-2 (D65), ISO/CIE 11664-4
(CIELAB). Every function takes an array whose last axis is the three bands and returns float64 of the same
shape. sRGB and linear light run from 0 to 1, XYZ from 0 to 1 (Y of white is 1), L* from 0 to 100. Nothing is
clipped unless a function says so, so that colours outside sRGB survive the way there and back.
"""

import re

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.model.errors import SettingsError
from blockwright.model.units import Lab

D65_XYZ = (0.95047, 1.0, 1.08883)
"""White point of daylight D65 for the 2 degree observer, Y = 1 (ISO/CIE 11664-2, ASTM E308)."""

_PRIMARIES_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""Chromaticities of red, green and blue (IEC 61966-2-1)."""

_KNEE_CODED = 0.04045
"""Where sRGB's curve goes over from a straight line into a power, on the coded side (IEC 61966-2-1)."""

_KNEE_LINEAR = 0.0031308
"""The same place in linear light (IEC 61966-2-1)."""

_LAB_DELTA = 6.0 / 29.0
"""Where CIELAB's cube root goes over into a straight line (ISO/CIE 11664-4)."""

_HEX = re.compile(r"#[0-9a-fA-F]{6}")


def _rgb_to_xyz_matrix() -> NDArray[np.float64]:
    """The matrix that the primaries and the white point determine; IEC prints it to four digits.

    Computing it keeps sRGB white at exactly L* 100, a* 0, b* 0.
    """
    primaries = np.array([(x / y, 1.0, (1.0 - x - y) / y) for x, y in _PRIMARIES_XY]).T
    strengths: NDArray[np.float64] = np.linalg.solve(primaries, np.array(D65_XYZ))
    matrix: NDArray[np.float64] = primaries * strengths
    return matrix


_RGB_TO_XYZ = _rgb_to_xyz_matrix()
_XYZ_TO_RGB = np.linalg.inv(_RGB_TO_XYZ)


def srgb_to_linear(srgb: ArrayLike) -> NDArray[np.float64]:
    """Undo sRGB's transfer curve (IEC 61966-2-1).

    >>> srgb_to_linear([0.5, 1.0, 0.0]).round(4).tolist()
    [0.214, 1.0, 0.0]
    """
    coded = np.asarray(srgb, dtype=np.float64)
    power = ((np.maximum(coded, _KNEE_CODED) + 0.055) / 1.055) ** 2.4
    return np.where(coded <= _KNEE_CODED, coded / 12.92, power)


def linear_to_srgb(linear: ArrayLike) -> NDArray[np.float64]:
    """Apply sRGB's transfer curve (IEC 61966-2-1). Values outside 0 to 1 stay outside.

    >>> linear_to_srgb([0.214041, 1.0, 0.0]).round(4).tolist()
    [0.5, 1.0, 0.0]
    """
    light = np.asarray(linear, dtype=np.float64)
    power = 1.055 * np.maximum(light, _KNEE_LINEAR) ** (1.0 / 2.4) - 0.055
    return np.where(light <= _KNEE_LINEAR, light * 12.92, power)


def linear_to_xyz(linear: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB to CIE XYZ under D65, Y of white = 1."""
    xyz: NDArray[np.float64] = np.asarray(linear, dtype=np.float64) @ _RGB_TO_XYZ.T
    return xyz


def xyz_to_linear(xyz: ArrayLike) -> NDArray[np.float64]:
    """CIE XYZ under D65 (Y of white = 1) to linear sRGB; colours outside sRGB leave 0 to 1."""
    linear: NDArray[np.float64] = np.asarray(xyz, dtype=np.float64) @ _XYZ_TO_RGB.T
    return linear


def xyz_to_lab(xyz: ArrayLike, *, white_xyz: ArrayLike = D65_XYZ) -> NDArray[np.float64]:
    """CIE XYZ (Y of white = 1) to CIELAB (ISO/CIE 11664-4), relative to D65 or to another white."""
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white_xyz, dtype=np.float64)
    f = np.where(ratio > _LAB_DELTA**3, np.cbrt(ratio), ratio / (3.0 * _LAB_DELTA**2) + 4.0 / 29.0)
    return np.stack(
        [116.0 * f[..., 1] - 16.0, 500.0 * (f[..., 0] - f[..., 1]), 200.0 * (f[..., 1] - f[..., 2])], axis=-1
    )


def lab_to_xyz(lab: ArrayLike) -> NDArray[np.float64]:
    """CIELAB to CIE XYZ under D65, Y of white = 1 (ISO/CIE 11664-4)."""
    values = np.asarray(lab, dtype=np.float64)
    fy = (values[..., 0] + 16.0) / 116.0
    f = np.stack([fy + values[..., 1] / 500.0, fy, fy - values[..., 2] / 200.0], axis=-1)
    ratio = np.where(f > _LAB_DELTA, f**3, 3.0 * _LAB_DELTA**2 * (f - 4.0 / 29.0))
    return ratio * D65_XYZ


def linear_to_lab(linear: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB to CIELAB."""
    return xyz_to_lab(linear_to_xyz(linear))


def lab_to_linear(lab: ArrayLike) -> NDArray[np.float64]:
    """CIELAB to linear sRGB; colours outside sRGB leave 0 to 1."""
    return xyz_to_linear(lab_to_xyz(lab))


def srgb_to_lab(srgb: ArrayLike) -> NDArray[np.float64]:
    """Coded sRGB to CIELAB.

    >>> srgb_to_lab([1.0, 0.0, 0.0]).round(2).tolist()
    [53.24, 80.09, 67.2]
    """
    return linear_to_lab(srgb_to_linear(srgb))


def lab_to_srgb(lab: ArrayLike) -> NDArray[np.float64]:
    """CIELAB to coded sRGB; colours outside sRGB leave 0 to 1."""
    return linear_to_srgb(lab_to_linear(lab))


def hex_to_srgb(hex_colour: str) -> NDArray[np.float64]:
    """Read ``#rrggbb`` as three coded sRGB values, 0 to 1.

    Raises SettingsError when the text is no such colour.

    >>> hex_to_srgb("#ff8000").round(3).tolist()
    [1.0, 0.502, 0.0]
    """
    if not _HEX.fullmatch(hex_colour):
        message = f"{hex_colour!r} is no colour; write it as # and six hexadecimal digits, such as #f6efdf."
        raise SettingsError(message)
    return np.array([int(hex_colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0


def srgb_to_hex(srgb: ArrayLike) -> str:
    """Write three coded sRGB values as ``#rrggbb``; values outside 0 to 1 are clipped to it.

    >>> srgb_to_hex([1.0, 0.502, -0.2])
    '#ff8000'
    """
    steps = np.rint(np.clip(np.asarray(srgb, dtype=np.float64), 0.0, 1.0) * 255.0).astype(int)
    red, green, blue = (int(step) for step in steps)
    return f"#{red:02x}{green:02x}{blue:02x}"


def hex_to_lab(hex_colour: str) -> Lab:
    """Read ``#rrggbb`` as CIELAB.

    >>> tuple(round(v, 2) for v in hex_to_lab("#ff0000"))
    (53.24, 80.09, 67.2)
    """
    lightness, a, b = srgb_to_lab(hex_to_srgb(hex_colour)).tolist()
    return (lightness, a, b)


def lab_to_hex(lab: ArrayLike) -> str:
    """Write CIELAB as ``#rrggbb``; a colour outside sRGB is clipped band by band.

    >>> lab_to_hex((100.0, 0.0, 0.0))
    '#ffffff'
    """
    return srgb_to_hex(lab_to_srgb(lab))
