"""The recipe of an ink that is brushed out: it must follow the run in every film, not only in the full one.

Two mixtures that look alike in a full film can part in a thin one: a green and a violet that make a blue
together do not fade as a blue does. So recipes are searched for the full film and for thinner ones, over what
lies beneath, and the one that stays nearest along the whole ramp is taken and refined.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from blockwright.colour import colour_reflectance, delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.colour.mixtures import as_hex, as_lab, film_parts, mixture_uncertainty, recipe_reflectance
from blockwright.colour.recipes import OTHER_LIGHTS, find_recipes
from blockwright.colour.wanted import wanted_reflectance
from blockwright.model.design import Design
from blockwright.model.inks import Part, Pigment, Recipe
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.model.settings import InksTable

_FILMS = (1.0, 0.5, 0.22)
"""Parts of the full film for which recipes are searched."""

_TRIED = 25
"""Recipes of each film that are judged along the ramp."""

_REFINED = 4
"""The best of them, whose shares are then moved."""

_STEPS = (1.4, 1.18, 1.08, 1.03, 1.01)
"""Factors by which a share is moved up or down, ever less."""

_LEAST_SHARE = 1e-3
"""A pigment with less of the film is left out."""


_KEPT = 32
"""Gradations whose recipes a process remembers: some prints' worth."""


@dataclass(frozen=True, slots=True, eq=False)
class _Ramp:
    """An ideal ink along its ramp: the film's share, what lies beneath, and what is to be seen."""

    share: NDArray[np.float64]
    ground: NDArray[np.float64]
    wanted: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Brushed:
    """All that the recipe of a gradation follows from; the ramp also as bytes, by which it is known."""

    ramp_bytes: tuple[bytes, ...]
    paper_hex: str
    ink: Ink
    passes: int
    pigments: tuple[Pigment, ...]
    most_pigments: int
    least_paste_percent: float
    ramp: _Ramp = field(compare=False)


def _beneath(
    impression: Impression, separation: Separation, paper: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The reflectance (steps, 36) of what is printed before a gradation on its shapes, step by step."""
    graded = impression.gradation
    assert graded is not None
    seen = np.tile(paper, (len(graded.ramp), 1))
    for each in separation.inked[: impression.number - 1]:
        if set(impression.shapes) <= set(each.shapes):
            share = np.ones(len(graded.ramp))
            if each.gradation is not None:
                share = np.resize(each.gradation.ramp, len(share))
                share = share[::-1] if each.gradation.axis == graded.axis.turned() else share
            ink = each.printed_ink
            seen = layer_reflectance(ink.k, ink.s, each.passes * share[:, None], seen)
    return seen


def _ramp(impression: Impression, separation: Separation, paper: NDArray[np.float64]) -> _Ramp:
    graded = impression.gradation
    assert graded is not None
    share, ground = np.array(graded.ramp), _beneath(impression, separation, paper)
    ink, thick = impression.printed_ink, impression.passes * share[:, None]
    return _Ramp(share, ground, reflectance_to_lab(layer_reflectance(ink.k, ink.s, thick, ground)))


def _misses(
    amounts: NDArray[np.float64], k: NDArray[np.float64], s: NDArray[np.float64], ramp: _Ramp
) -> float:
    """The root mean square of CIEDE2000 along the ramp, of amounts of pigments in the full film."""
    seen = layer_reflectance(amounts @ k, amounts @ s, ramp.share[:, None], ramp.ground)
    return float(np.sqrt((delta_e00(reflectance_to_lab(seen), ramp.wanted) ** 2).mean()))


def _searched(brushed: _Brushed) -> list[tuple[Part, ...]]:
    """Mixtures whose full or thinner film comes near that of the ideal ink, as parts of the full film."""
    ink, ramp, most = brushed.ink, brushed.ramp, 1.0 - brushed.least_paste_percent / 100.0
    found = []
    for film in _FILMS:
        ground = ramp.ground[int(np.argmin(np.abs(ramp.share - film)))]
        seen = layer_reflectance(ink.k, ink.s, brushed.passes * film, ground)
        matches = find_recipes(
            brushed.pigments,
            wanted_reflectance(seen),
            ground,
            passes=brushed.passes,
            most_pigments=brushed.most_pigments,
            least_paste_share=1.0 - most * film,
            most_recipes=_TRIED,
        )
        found += [tuple(replace(p, share=p.share / film) for p in each.parts) for each in matches.recipes]
    return found


def _refined(
    parts: tuple[Part, ...], k: NDArray[np.float64], s: NDArray[np.float64], ramp: _Ramp, most: float
) -> tuple[float, NDArray[np.float64]]:
    """Move the shares as long as the ramp is followed better."""
    amounts = np.array([part.share for part in parts])
    amounts *= min(1.0, most / amounts.sum())
    least = _misses(amounts, k, s, ramp)
    for factor in _STEPS:
        moved = True
        while moved:
            moved = False
            for place in range(len(amounts)):
                for step in (factor, 1.0 / factor):
                    tried = amounts.copy()
                    tried[place] *= step
                    if tried.sum() <= most and (off := _misses(tried, k, s, ramp)) < least - 1e-4:
                        amounts, least, moved = tried, off, True
    return least, amounts


def recipe_along(
    design: Design,
    separation: Separation,
    impression: Impression,
    pigments: Sequence[Pigment],
    settings: InksTable,
) -> Recipe:
    """The recipe that follows a gradation best; its ``delta_e00`` is the root mean square along the ramp.

    Its predicted colour is that of the full film over the paper, as of every recipe.
    """
    ramp = _ramp(impression, separation, colour_reflectance(design.paper_hex))
    return _followed(
        _Brushed(
            ramp_bytes=tuple(each.tobytes() for each in (ramp.share, ramp.ground, ramp.wanted)),
            paper_hex=design.paper_hex,
            ink=impression.printed_ink,
            passes=impression.passes,
            pigments=tuple(pigments),
            most_pigments=settings.most_pigments,
            least_paste_percent=settings.least_paste_percent,
            ramp=ramp,
        )
    )


@lru_cache(maxsize=_KEPT)
def _followed(brushed: _Brushed) -> Recipe:
    """The recipe, remembered: after an edit elsewhere a gradation is asked for as before."""
    ramp, ink, passes = brushed.ramp, brushed.ink, brushed.passes
    paper, most = colour_reflectance(brushed.paper_hex), 1.0 - brushed.least_paste_percent / 100.0
    by_name = {pigment.name: pigment for pigment in brushed.pigments}

    def film(parts: tuple[Part, ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return film_parts([by_name[part.pigment] for part in parts], passes)[:2]

    searched = _searched(brushed)
    off = [_misses(np.array([p.share for p in parts]), *film(parts), ramp) for parts in searched]
    best = [searched[k] for k in np.argsort(off, kind="stable")[:_REFINED].tolist()]
    refined = [(*_refined(parts, *film(parts), ramp, most), parts) for parts in best]
    least, amounts, parts = min(refined, key=lambda each: each[0])
    named = [Part(p.pigment, float(share)) for p, share in zip(parts, amounts, strict=True)]
    kept = tuple(sorted((p for p in named if p.share >= _LEAST_SHARE), key=lambda p: (-p.share, p.pigment)))
    own = [by_name[part.pigment] for part in kept]
    seen = recipe_reflectance(kept, passes, own, paper)
    full = layer_reflectance(ink.k, ink.s, float(passes), paper)
    lights = [
        float(delta_e00(reflectance_to_lab(seen, light), reflectance_to_lab(full, light)))
        for light in OTHER_LIGHTS
    ]
    lab = reflectance_to_lab(seen)
    return Recipe(
        parts=kept,
        paste_share=1.0 - sum(part.share for part in kept),
        passes=passes,
        predicted_lab=as_lab(lab),
        predicted_hex=as_hex(lab),
        delta_e00=least,
        worst_light_delta_e00=max(lights),
        uncertainty_delta_e00=mixture_uncertainty(kept, passes, own, paper),
    )
