"""From impressions to their inks: one of the shelf, a recipe from its pigments, or one mixed to match."""

from collections.abc import Sequence

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
from blockwright.colour.nearby import near_on_shelf
from blockwright.colour.optics import MIXTURE_DELTA_E00, uncertainty_delta_e00, with_film_variation
from blockwright.colour.passes import MOST_PASSES
from blockwright.inks.batches import batch_of, pot_findings, weighing_findings
from blockwright.inks.choosing import Chosen, choose_inks, wanted_of
from blockwright.model.design import Design
from blockwright.model.findings import Finding
from blockwright.model.inks import NearInk, PrintInk, PrintInks, Shelf, Swatches
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import InksTable

PAPER = "paper"
"""The ground of swatches on the bare sheet."""


FUGITIVE = ("ASTM III", "ASTM IV", "ASTM V", *(f"Blue Wool {grade}" for grade in range(1, 6)))
"""Classes of pigments that fade visibly in the light of a room: ASTM D4303 and ISO 105-B."""

UNSURE_DELTA_E00 = 5.0
"""Inks whose colour may be off by more than this (CIEDE2000) are pointed out [CP]."""

_MOST_NEAR = 3


def ink_print(design: Design, separation: Separation, shelf: Shelf, settings: InksTable) -> PrintInks:
    """Choose the ink of every impression, and tell how it looks in one to four passes.

    An ink that the printmaker takes from the shelf comes first; otherwise the nearest recipe from the
    pigments at hand is computed; with ``mix = "to match"``, or without pigments, the ink is taken as mixed
    to match the design. Settings that name a colour, pigment or ink that is not there become findings.
    """
    chosen, findings = choose_inks(design, separation, shelf, settings)
    beneath = _beneath(separation)
    inks = tuple(
        _seen(design, separation, place, chosen, beneath.get(place), shelf, settings)
        for place in range(len(chosen))
    )
    pots = (
        found
        for impression, choice in zip(separation.inked, chosen, strict=True)
        for found in pot_findings(impression, choice, settings)
    )
    weighing = weighing_findings(
        list(zip(separation.inked, chosen, strict=True)),
        [ink.batch for ink in inks],
        colour_reflectance(design.paper_hex),
        settings,
    )
    return PrintInks(inks, (*findings, *pots, *weighing, *_fading(chosen), *_unsure(inks)))


def _beneath(separation: Separation) -> dict[int, int]:
    """For the place of each impression that lies over an earlier one in their trap: that one's place.

    Of several the one with the longest common edge. One that prints the same shapes goes before them: that
    with the most of them in common, the last of such.
    """
    places = {each.number: place for place, each in enumerate(separation.inked)}
    longest: dict[int, tuple[float, int]] = {}
    for earlier, later, length_mm in separation.edges_mm:
        place, below = places[later], places[earlier]
        if separation.inked[below].trap_mm > 0.0 and length_mm > longest.get(place, (0.0, 0))[0]:
            longest[place] = (length_mm, below)
    return {place: below for place, (_, below) in longest.items()} | _overprinted(separation)


def _overprinted(separation: Separation) -> dict[int, int]:
    """For the place of each impression that prints over the shapes of earlier ones: that one's place."""
    held = [frozenset(each.shapes) for each in separation.inked]
    found = {}
    for place, shapes in enumerate(held):
        common = [(len(shapes & held[below]), below) for below in range(place)]
        if common and max(common)[0] > 0:
            found[place] = max(common)[1]
    return found


def _seen(
    design: Design,
    separation: Separation,
    place: int,
    chosen: Sequence[Chosen],
    below: int | None,
    shelf: Shelf,
    settings: InksTable,
) -> PrintInk:
    """An ink with its swatches over the paper and over what it meets beneath, its batch, and its like."""
    impression, choice = separation.inked[place], chosen[place]
    paper = colour_reflectance(design.paper_hex)
    over_paper = _swatches(choice, PAPER, paper)
    grounds = [over_paper]
    if below is not None:
        beneath = separation.inked[below]
        grounds.append(_swatches(choice, beneath.name, paper, over=(chosen[below], beneath.passes)))
    planned = impression.passes - 1
    taken = choice.taken
    hazards = {each.name: each.hazard for each in choice.pigments if each.hazard}
    return PrintInk(
        impression=impression.number,
        name=choice.name,
        origin=choice.origin,
        optics=choice.optics,
        transfer=choice.transfer,
        mixture=choice.mixture,
        recipe=choice.recipe,
        shelf_number=None if taken is None else taken.number,
        delta_e00=float(delta_e00(over_paper.lab[planned], impression.lab)),
        uncertainty_delta_e00=over_paper.uncertainty_delta_e00[planned],
        swatches=tuple(grounds),
        batch=batch_of(impression, choice, paper, settings),
        near=_near(design, impression, shelf, settings, but=None if taken is None else taken.number),
        cautions=tuple(f"{name}: {hazard}." for name, hazard in hazards.items()),
        known_by=choice.known_by,
    )


def _near(
    design: Design, impression: Impression, shelf: Shelf, settings: InksTable, *, but: int | None
) -> tuple[NearInk, ...]:
    """The inks of the shelf that come near the colour, without the one that is taken."""
    found = near_on_shelf(
        shelf.inks,
        wanted_of(design, impression),
        colour_reflectance(design.paper_hex),
        within_delta_e00=settings.near_within_delta_e00,
    )
    return tuple(
        NearInk(
            each.ink.number,
            each.ink.name,
            each.passes,
            each.predicted_hex,
            each.delta_e00,
            each.uncertainty_delta_e00,
        )
        for each in found
        if each.ink.number != but
    )[:_MOST_NEAR]


def _fading(chosen: list[Chosen]) -> list[Finding]:
    """One finding for each pigment that fades, with the colours that it is in."""
    colours: dict[str, list[str]] = {}
    classes: dict[str, str] = {}
    for choice in chosen:
        for pigment in choice.pigments:
            if pigment.lightfastness in FUGITIVE:
                colours.setdefault(pigment.name, []).append(choice.name)
                classes[pigment.name] = str(pigment.lightfastness)
    return [
        Finding(
            "fugitive-pigment",
            "warn",
            f"{name} ({classes[name]}) fades in the light of a room; it is in {', '.join(where)}. Take a "
            "faster pigment, or tell the buyer.",
            about=(("pigment", name),),
        )
        for name, where in colours.items()
    ]


def _unsure(inks: tuple[PrintInk, ...]) -> list[Finding]:
    """What the inks rest on, where that is not enough to trust the proof."""
    unsure = [ink for ink in inks if ink.uncertainty_delta_e00 > UNSURE_DELTA_E00]
    if not unsure:
        return []
    worst = max(ink.uncertainty_delta_e00 for ink in unsure)
    count = f"{len(unsure)} of {len(inks)} inks" if len(inks) > 1 else "The ink"
    message = f"{count} may well come out {worst:.0f} (CIEDE2000) from what is predicted"
    if any(ink.origin == "literature" for ink in unsure):
        message += ": the literature tells the hue of a pigment, not its strength"
    message += (
        ". Print a calibration sheet with your own paints, or print a swatch of each ink before the edition."
    )
    return [Finding("inks-unsure", "note", message)]


def _printed(choice: Chosen, passes: int, ground: NDArray[np.float64]) -> NDArray[np.float64]:
    """What an ink makes of a ground in its planned passes."""
    film = film_thickness(passes, transfer=choice.transfer)
    return layer_reflectance(choice.optics.k, choice.optics.s, film, ground)


def _swatches(
    choice: Chosen, name: str, paper: NDArray[np.float64], *, over: tuple[Chosen, int] | None = None
) -> Swatches:
    """An ink in one to four passes on the paper, or over another ink in its passes on it."""
    ground = paper if over is None else _printed(*over, paper)
    seen = passes_over(choice.optics.k, choice.optics.s, ground, transfer=choice.transfer)
    films = [film_thickness(count, transfer=choice.transfer) for count in range(1, MOST_PASSES + 1)]
    return Swatches(
        name,
        tuple(srgb_to_hex(each) for each in reflectance_to_display(seen).srgb),
        tuple((float(light), float(a), float(b)) for light, a, b in reflectance_to_lab(seen)),
        tuple(_off(choice, film, paper, over) for film in films),
    )


def _off(choice: Chosen, film: float, paper: NDArray[np.float64], over: tuple[Chosen, int] | None) -> float:
    """How far off a film of an ink may look, CIEDE2000; what is uncertain of an ink beneath is in it."""
    lain = [(choice, film)]
    if over is not None:
        lower, passes = over
        lain.append((lower, film_thickness(passes, transfer=lower.transfer)))
    known = with_film_variation(to_arrays([each.name for each, _ in lain], [each.optics for each, _ in lain]))

    def seen(k: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
        light = paper
        for place in reversed(range(len(lain))):
            light = layer_reflectance(k[..., place, :], s[..., place, :], lain[place][1], light)
        return light

    mixtures = MIXTURE_DELTA_E00 * np.sqrt(sum(each.mixture for each, _ in lain))
    return float(np.hypot(uncertainty_delta_e00(known, seen), mixtures))
