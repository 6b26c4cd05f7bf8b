"""Colours on a damp sheet as commands tell them: how they look while they are printed, and when dry."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import lab_to_hex, reflectance_to_lab
from blockwright.colour.surface import damp_reflectance, dry_reflectance, wetness_between
from blockwright.colour.wanted import read_colour, wanted_colour


@dataclass(frozen=True, slots=True)
class DampColour:
    """A colour, how it looks while the sheet is damp if it is that when dry, and the other way round."""

    srgb_hex: str
    while_damp_hex: str
    when_dry_hex: str


def measured_wetness(dry: str, damp: str) -> float:
    """How wet a sheet is, 0 to 1, from the colour of one patch dry and damp, each as it is typed.

    Raises BlockwrightError when one is no colour, or the patch is black.

    >>> measured_wetness("#c8b08a", "#c8b08a")
    0.0
    """
    before, after = (_calm(text, name) for text, name in ((dry, "--dry"), (damp, "--damp")))
    return round(wetness_between(before, after), 3)


def damp_colours(colours: Sequence[str], *, wetness: float) -> tuple[DampColour, ...]:
    """How colours look on a damp sheet and when it has dried; 1 is a full film of water, which is the bound.

    Colours are known without their spectra: the calmest stands for each. Raises BlockwrightError when one is
    no colour, or the wetness is not 0 to 1.

    >>> [each.while_damp_hex for each in damp_colours(["#b4935a"], wetness=0.0)]
    ['#b4935a']
    """
    found = []
    for text in colours:
        own = _calm(text, "The colour")
        damp, dry = damp_reflectance(own, wetness=wetness), dry_reflectance(own, wetness=wetness)
        found.append(DampColour(*(lab_to_hex(reflectance_to_lab(each)) for each in (own, damp, dry))))
    return tuple(found)


def _calm(text: str, name: str) -> NDArray[np.float64]:
    return wanted_colour(read_colour(text, name=name), name=name).reflectance
