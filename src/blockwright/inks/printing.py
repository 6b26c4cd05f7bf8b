"""From impressions to their inks: one of the shelf, a recipe from its pigments, or one mixed to match."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    passes_over,
    reflectance_to_display,
    reflectance_to_lab,
    srgb_to_hex,
)
from blockwright.colour.films import film_thickness
from blockwright.colour.inks import to_arrays
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.optics import MIXTURE_DELTA_E00, InkOptics, uncertainty_delta_e00, with_film_variation
from blockwright.colour.passes import MOST_PASSES
from blockwright.model.design import Design
from blockwright.model.inks import Optics, Origin, PrintInk, PrintInks, Recipe, Shelf, Swatches
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import InksTable

PAPER = "paper"
"""The ground of swatches on the bare sheet."""


@dataclass(frozen=True, slots=True)
class _Chosen:
    """What an impression is printed with."""

    name: str
    origin: Origin
    optics: Optics
    transfer: tuple[float, ...] = (1.0,)
    mixture: bool = False
    recipe: Recipe | None = None
    shelf_number: int | None = None


def ink_print(design: Design, separation: Separation, shelf: Shelf, settings: InksTable) -> PrintInks:
    """Choose the ink of every impression, and tell how it looks in one to four passes.

    An ink that the printmaker takes from the shelf comes first; otherwise the nearest recipe from the
    pigments at hand is computed; with ``mix = "to match"``, or without pigments, the ink is taken as mixed
    to match the design. Settings that name a colour, pigment or ink that is not there become findings.
    """
    chosen = [_matched(impression) for impression in separation.impressions]
    return PrintInks(tuple(_seen(design, separation, choice, i) for i, choice in enumerate(chosen)))


def _matched(impression: Impression) -> _Chosen:
    return _Chosen(impression.ink.name, "matched", Optics(impression.ink.k, impression.ink.s))


def _seen(design: Design, separation: Separation, choice: _Chosen, place: int) -> PrintInk:
    """The ink with its swatches, over the paper and over what it covers most of beneath."""
    impression = separation.impressions[place]
    paper = colour_reflectance(design.paper_hex)
    over_paper = _swatches(choice, PAPER, paper)
    planned = impression.passes - 1
    return PrintInk(
        impression=impression.number,
        name=choice.name,
        origin=choice.origin,
        optics=choice.optics,
        transfer=choice.transfer,
        mixture=choice.mixture,
        recipe=choice.recipe,
        shelf_number=choice.shelf_number,
        delta_e00=float(delta_e00(over_paper.lab[planned], impression.lab)),
        uncertainty_delta_e00=over_paper.uncertainty_delta_e00[planned],
        swatches=(over_paper,),
    )


def _swatches(choice: _Chosen, name: str, ground: NDArray[np.float64]) -> Swatches:
    seen = passes_over(choice.optics.k, choice.optics.s, ground, transfer=choice.transfer)
    known = with_film_variation(to_arrays([choice.name], [choice.optics]))
    films = [film_thickness(count, transfer=choice.transfer) for count in range(1, MOST_PASSES + 1)]
    return Swatches(
        name,
        tuple(srgb_to_hex(each) for each in reflectance_to_display(seen).srgb),
        tuple((float(light), float(a), float(b)) for light, a, b in reflectance_to_lab(seen)),
        tuple(_off(known, ground, film, mixture=choice.mixture) for film in films),
    )


def _off(known: InkOptics, ground: NDArray[np.float64], film: float, *, mixture: bool) -> float:
    """How far off a film of an ink may look, CIEDE2000."""
    own = uncertainty_delta_e00(
        known, lambda k, s: layer_reflectance(k[..., 0, :], s[..., 0, :], film, ground)
    )
    return float(np.hypot(own, MIXTURE_DELTA_E00 if mixture else 0.0))
