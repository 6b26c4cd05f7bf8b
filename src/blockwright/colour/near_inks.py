"""Mixed inks by what they look like: on a paper, in one pass to four, and how near that is to a colour."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.difference import delta_e00
from blockwright.colour.films import film_thickness
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.passes import MOST_PASSES
from blockwright.colour.smooth import smooth_reflectance_of_linear
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.srgb import hex_to_lab, hex_to_srgb, lab_to_hex, srgb_to_linear
from blockwright.model.errors import InkError
from blockwright.model.inks import Bands, MixedInk, Optics
from blockwright.model.units import Lab


@dataclass(frozen=True, slots=True)
class NearInk:
    """A mixed ink and how near it comes to a colour (CIEDE2000), after so many passes on the paper."""

    ink: MixedInk
    passes: int
    lab: Lab
    srgb_hex: str
    delta_e00: float


def read_colour(text: str) -> Lab:
    """A colour as it is typed: ``#rrggbb``, or L, a and b with commas or spaces. Raises InkError.

    >>> read_colour("50, 10.5, -20")
    (50.0, 10.5, -20.0)
    """
    if text.strip().startswith("#"):
        try:
            return hex_to_lab(text.strip())
        except ValueError as error:
            raise InkError(str(error)) from None
    try:
        lightness, a, b = (float(each) for each in text.replace(",", " ").split())
    except ValueError:
        lightness = a = b = math.nan
    if not (0.0 <= lightness <= 100.0 and abs(a) <= 200.0 and abs(b) <= 200.0):
        raise InkError(f"{text!r} is no colour; write #rrggbb, or L,a,b with L from 0 to 100.")
    return (lightness, a, b)


def paper_reflectance(paper_hex: str) -> Bands:
    """The calmest reflectance that a paper of this colour can have. Raises InkError when it is no colour."""
    try:
        linear = srgb_to_linear(hex_to_srgb(paper_hex))
    except ValueError as error:
        raise InkError(str(error)) from None
    return tuple(smooth_reflectance_of_linear(linear).reshape(-1).tolist())


def passes_on(optics: Optics, paper_hex: str, *, transfer: Sequence[float] = (1.0,)) -> tuple[str, ...]:
    """What one pass to four passes look like on a paper of a colour, as ``#rrggbb``. Raises InkError.

    >>> passes_on(Optics((0.0,) * 36, (0.0,) * 36), "#f6efdf")
    ('#f6efdf', '#f6efdf', '#f6efdf', '#f6efdf')
    """
    paper = paper_reflectance(paper_hex)
    thick = np.array([film_thickness(count, transfer=transfer) for count in range(1, MOST_PASSES + 1)])
    seen = layer_reflectance(np.array(optics.k), np.array(optics.s), thick[:, None], np.array(paper))
    return tuple(lab_to_hex(lab) for lab in reflectance_to_lab(seen))


def nearest_on(inks: Sequence[MixedInk], colour: str, *, paper: str) -> tuple[NearInk, ...]:
    """:func:`nearest_inks` for a colour and a paper as they are typed. Raises InkError."""
    return nearest_inks(inks, read_colour(colour), paper=paper_reflectance(paper))


def nearest_inks(
    inks: Sequence[MixedInk], lab: Lab, *, paper: Bands, passes: int | None = None
) -> tuple[NearInk, ...]:
    """Mixed inks by how near they come to a colour, the nearest first; each at its best number of passes.

    ``paper`` is a reflectance of 36 bands; ``passes`` asks for one number of passes only (1 to 4).
    """
    if not inks:
        return ()
    counts = range(1, MOST_PASSES + 1) if passes is None else [passes]
    thick = np.array([film_thickness(count) for count in counts])[:, None]
    k = np.array([ink.optics.k for ink in inks])[:, None, :]
    s = np.array([ink.optics.s for ink in inks])[:, None, :]
    seen = reflectance_to_lab(layer_reflectance(k, s, thick, np.array(paper)))
    apart = delta_e00(seen, np.array(lab))
    best = apart.argmin(axis=1)
    return tuple(
        sorted(
            _near(inks, seen, apart, best, list(counts)), key=lambda near: (near.delta_e00, near.ink.number)
        )
    )


def _near(
    inks: Sequence[MixedInk],
    seen: NDArray[np.float64],
    apart: NDArray[np.float64],
    best: NDArray[np.intp],
    counts: Sequence[int],
) -> Iterator[NearInk]:
    for place, (ink, at) in enumerate(zip(inks, best, strict=True)):
        lightness, a, b = seen[place, at].tolist()
        lab = (lightness, a, b)
        yield NearInk(ink, counts[at], lab, lab_to_hex(lab), float(apart[place, at]))
