"""A colour that an ink is to have: known as a reflectance, or as a colour only."""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import checked_bands
from blockwright.colour.smooth import smooth_reflectance
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.srgb import hex_to_lab, lab_to_xyz
from blockwright.model.errors import InkError, SettingsError
from blockwright.model.units import Lab

_NUMBER = r"\s*([+-]?\d+(?:\.\d+)?)\s*"
_LAB = re.compile(rf"lab\({_NUMBER},{_NUMBER},{_NUMBER}\)", re.IGNORECASE)
_THREE = re.compile(rf"{_NUMBER}[,\s]{_NUMBER}[,\s]{_NUMBER}")


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """A colour under D65, and a reflectance, shape (36,), read only, that has it.

    ``spectrum_known`` is False where the reflectance is only the calmest of all that have the colour: what is
    then said about other lights compares with that guess.
    """

    lab: Lab
    reflectance: NDArray[np.float64]
    spectrum_known: bool


def read_colour(text: str, *, name: str) -> Lab:
    """CIELAB of a colour as it is written: ``#rrggbb``, ``lab(L, a, b)`` or the three numbers alone.

    Raises SettingsError, which calls the colour ``name``, when it is written otherwise or L is not 0 to 100.

    >>> read_colour("lab(54, 12, 30)", name="--target"), read_colour("54 12 -3.5", name="--like")
    ((54.0, 12.0, 30.0), (54.0, 12.0, -3.5))
    """
    said = text.strip()
    if re.fullmatch(r"#[0-9a-fA-F]{6}", said):
        return hex_to_lab(said)
    found = _LAB.fullmatch(said) or _THREE.fullmatch(said)
    lightness, a, b = (float(group) for group in found.groups()) if found else (-1.0, 0.0, 0.0)
    if not 0.0 <= lightness <= 100.0:
        raise SettingsError(
            f"{name} is {text!r}; a colour is written #rrggbb or lab(L, a, b), with L from 0 to 100."
        )
    return lightness, a, b


def wanted_colour(lab: Lab, *, name: str = "The wanted colour") -> Wanted:
    """A colour known as CIELAB under D65 only; its smooth reflectance stands for it (LHTSS, Burns 2020).

    Raises InkError when no surface can have the colour. ``name`` is what the error calls it.

    >>> wanted_colour((54.0, 12.0, 30.0)).spectrum_known
    False
    >>> wanted_colour((50.0, 0.0, 200.0))
    Traceback (most recent call last):
    ...
    blockwright.model.errors.InkError: The wanted colour, lab(50, 0, 200), is one that no paper or ink can ...
    """
    values = np.asarray(lab, dtype=np.float64)
    told = f"{name}, lab({', '.join(f'{value:g}' for value in values)}),"
    if values.shape != (3,) or not np.all(np.isfinite(values)) or not 0.0 <= values[0] <= 100.0:
        raise InkError(f"{told} is no colour: L runs from 0 to 100, a and b are numbers.")
    try:
        reflectance = smooth_reflectance(lab_to_xyz(values))
    except InkError:
        raise InkError(f"{told} is one that no paper or ink can have in daylight.") from None
    reflectance.flags.writeable = False
    return Wanted((float(values[0]), float(values[1]), float(values[2])), reflectance, False)


def wanted_reflectance(reflectance: ArrayLike, *, name: str = "the wanted reflectance") -> Wanted:
    """A colour known as its reflectance in the 36 bands, 0 to 1.

    Raises InkError when there are not 36 bands, or a value is missing or impossible.

    >>> wanted_reflectance([0.184187] * 36).lab[0].__round__(3)
    50.0
    """
    values = np.array(checked_bands(reflectance, name=name))
    if values.ndim != 1:
        raise InkError(f"{name[:1].upper()}{name[1:]} is one spectrum of 36 bands.")
    values.flags.writeable = False
    lightness, a, b = reflectance_to_lab(values).tolist()
    return Wanted((lightness, a, b), values, True)
