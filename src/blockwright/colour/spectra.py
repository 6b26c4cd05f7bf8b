"""What a reflectance looks like: XYZ, CIELAB, OKLab and sRGB of 36 bands under four lights.

The weights are those of ASTM E308 for the CIE 1931 2 degree observer, computed from the CIE tables for these
36 bands with the tails folded into the first and the last; ``vendor/spectra.py`` makes the file and says how.
Reflectances run from 0 to 1 and have the bands on the last axis; a perfect white is Y = 1, L* = 100.
"""

from functools import lru_cache
from importlib import resources
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import BAND_COUNT, BANDS_NM
from blockwright.colour.gamut import Display, to_display
from blockwright.colour.oklab import linear_to_oklab
from blockwright.colour.srgb import xyz_to_lab, xyz_to_linear
from blockwright.model.errors import InkError

Light = Literal["D65", "D50", "A", "FL11"]
"""Daylight, the daylight of viewing booths, an incandescent lamp, a narrow-band fluorescent (CIE FL11)."""

LIGHTS: tuple[Light, ...] = get_args(Light)


@lru_cache(maxsize=1)
def _tables() -> dict[Light, NDArray[np.float64]]:
    """The weights of every light, scaled to Y of white = 1."""
    text = resources.files("blockwright").joinpath("data", "colour", "weights.csv").read_text("utf-8")
    head, *rows = [line.split(",") for line in text.splitlines()]
    values = np.array(rows, dtype=np.float64)
    if values.shape[0] != BAND_COUNT or not np.array_equal(values[:, 0], BANDS_NM):
        raise InkError("The table of lights in the program does not have the 36 bands; install it anew.")
    tables: dict[Light, NDArray[np.float64]] = {}
    for light in LIGHTS:
        columns = [head.index(f"{light}_{axis}") for axis in "XYZ"]
        tables[light] = values[:, columns] / values[:, columns[1]].sum()
        tables[light].flags.writeable = False
    return tables


def weights(light: Light = "D65") -> NDArray[np.float64]:
    """The weights of a light, shape (36, 3): reflectance @ weights is XYZ with Y of white = 1. Read only.

    Raises InkError when there is no such light.

    >>> weights("A").shape
    (36, 3)
    """
    try:
        return _tables()[light]
    except KeyError:
        raise InkError(f"{light!r} is no light that is known here; there are {', '.join(LIGHTS)}.") from None


def white_point(light: Light = "D65") -> NDArray[np.float64]:
    """XYZ of a perfect white, Y = 1 (ASTM E308, ISO/CIE 11664-2).

    >>> (100 * white_point("D65")).round(3).tolist()
    [95.047, 100.0, 108.883]
    """
    white: NDArray[np.float64] = weights(light).sum(axis=0)
    return white


def reflectance_to_xyz(reflectance: ArrayLike, light: Light = "D65") -> NDArray[np.float64]:
    """CIE XYZ, shape (..., 3), Y of white = 1, of reflectances of shape (..., 36) (ASTM E308).

    Raises InkError when there are not 36 bands. Values are not checked, so that derivatives can pass through;
    check what was measured with :func:`blockwright.colour.bands.checked_bands`.

    >>> reflectance_to_xyz([1.0] * 36).round(5).tolist()
    [0.95047, 1.0, 1.08883]
    """
    values = np.asarray(reflectance, dtype=np.float64)
    if values.ndim == 0 or values.shape[-1] != BAND_COUNT:
        count = values.shape[-1] if values.ndim else 1
        raise InkError(f"A spectrum of {count} bands was given; {BAND_COUNT} are needed.")
    xyz: NDArray[np.float64] = values @ weights(light)
    return xyz


def reflectance_to_lab(reflectance: ArrayLike, light: Light = "D65") -> NDArray[np.float64]:
    """CIELAB, shape (..., 3), relative to the white of the light itself (ISO/CIE 11664-4).

    So an eye that has grown used to the light is assumed; no adaptation transform is applied.

    >>> abs(reflectance_to_lab([0.184187] * 36, "A").round(3)).tolist()
    [50.0, 0.0, 0.0]
    """
    return xyz_to_lab(reflectance_to_xyz(reflectance, light), white_xyz=white_point(light))


def reflectance_to_linear(reflectance: ArrayLike) -> NDArray[np.float64]:
    """Linear sRGB, shape (..., 3), under D65; colours outside sRGB leave 0 to 1 (IEC 61966-2-1).

    >>> reflectance_to_linear([0.5] * 36).round(6).tolist()
    [0.5, 0.5, 0.5]
    """
    return xyz_to_linear(reflectance_to_xyz(reflectance))


def reflectance_to_oklab(reflectance: ArrayLike) -> NDArray[np.float64]:
    """OKLab, shape (..., 3), under D65; see :func:`blockwright.colour.oklab.linear_to_oklab`.

    >>> abs(reflectance_to_oklab([0.125] * 36).round(6)).tolist()
    [0.5, 0.0, 0.0]
    """
    return linear_to_oklab(reflectance_to_linear(reflectance))


def reflectance_to_display(reflectance: ArrayLike) -> Display:
    """What a display shows under D65, and whether the colour had to be brought into sRGB for it.

    >>> paper = reflectance_to_display([0.8] * 36)
    >>> paper.srgb.round(4).tolist(), bool(paper.mapped)
    ([0.9063, 0.9063, 0.9063], False)
    """
    return to_display(reflectance_to_linear(reflectance))
