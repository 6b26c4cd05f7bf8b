"""Recipes: which pigments and how much paste come nearest a wanted colour over a ground.

Every choice of at most so many pigments is searched (:mod:`blockwright.colour.matching`); the best are judged
by the engine itself, ranked by CIEDE2000 under D65 and, where that hardly differs, by the worst of lamp light
and fluorescent light (metamerism). Passes and amount are one variable of the film: where the passes are left
open, each choice is searched for the thickest film and then told with the fewest passes that can hold it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import checked_bands
from blockwright.colour.difference import delta_e00
from blockwright.colour.films import film_thickness
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.matching import START_PART, best_alone, descend
from blockwright.colour.mixtures import as_hex, as_lab, film_parts, listed, mixture_uncertainty
from blockwright.colour.optics import FILM_VARIATION
from blockwright.colour.passes import MOST_PASSES
from blockwright.colour.slopes import quadratic_form
from blockwright.colour.spectra import Light, reflectance_to_lab, weights
from blockwright.colour.wanted import Wanted
from blockwright.model.errors import InkError
from blockwright.model.inks import Part, Pigment, Recipe
from blockwright.model.units import Lab

MOST_PIGMENTS = 3
"""A mixture of more pigments turns grey and is hard to mix again [CP]."""

MOST_ALLOWED = 4
"""More pigments than this in one recipe are not searched for."""

LEAST_PASTE_SHARE = 0.2
"""Least part of the film that is paste, which carries and holds the pigment [CP]."""

REACHED_DELTA_E00 = 1.0
"""A colour counts as reachable when a recipe comes within this: it is not seen side by side [CP]."""

ALIKE_DELTA_E00 = 0.02
"""Recipes whose difference under D65 falls into the same step of this size are ranked by other lights."""

OTHER_LIGHTS: tuple[Light, ...] = ("A", "FL11")
"""Lamp light, and the narrow-band light of shops and offices, under which a match may fall apart."""

OTHER_LIGHT_DELTA_E00 = 3.0
"""What differs by this much more under lamp or shop light than by day is pointed out [CP]."""

RECIPES_TOLD = 5

_FIRST_STEPS, _LAST_STEPS = 14, 60
"""Steps of the search for every choice, and for the best of them."""

_MISSED = 0.5
"""Where the first pass comes no nearer than this (CIEDE2000), it is made again from other places."""

_LEAST_START, _FULLEST_START = 1e-9, 0.97
"""A search sets out from at least so much of each pigment, and with some paste to spare."""

_TRIED_AGAIN = 200
"""Choices that are searched from other places where the colour is out of reach."""

_STRENGTHS = (0.2, 1.0)
"""How much each pigment absorbs in its darkest band where the search sets out again."""

_KEPT = 40
"""Choices that are searched to the end."""

_SIMPLER_BY = 0.1
"""A pigment is left out when without it the worst light gets worse by no more than this (CIEDE2000)."""

_LEAST_SHARE = 2e-5
"""A pigment with a smaller share of the film does nothing where a mixture without it is as near."""

_COLOURS_KEPT = 128
"""Colours whose recipes a process remembers: some prints' worth, some kB each."""

_Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Matches:
    """The recipes, best first; whether the best reaches the colour, and the nearest colour that was found.

    ``bare_delta_e00`` is how far the ground itself is from the colour, with nothing printed.
    ``spectrum_known`` is False where what is said about other lights compares with a guessed spectrum.
    """

    recipes: tuple[Recipe, ...]
    reachable: bool
    nearest_lab: Lab
    nearest_hex: str
    nearest_delta_e00: float
    bare_delta_e00: float
    spectrum_known: bool


def find_recipes(
    pigments: Sequence[Pigment],
    wanted: Wanted,
    ground: ArrayLike,
    *,
    passes: int | None = None,
    most_pigments: int = MOST_PIGMENTS,
    least_paste_share: float = LEAST_PASTE_SHARE,
    most_recipes: int = RECIPES_TOLD,
    film_variation: float = FILM_VARIATION,
) -> Matches:
    """The best recipes for a colour over ``ground``, a reflectance of shape (36,), 0 to 1.

    ``passes`` is 1 to 4, or None to leave it open. Shares of pigments sum to at most 1 -
    ``least_paste_share``. Raises InkError when there is no pigment, two have one name, or a number is outside
    its range.

    >>> from blockwright.colour.pigments import starter_pigments
    >>> from blockwright.colour.wanted import wanted_colour
    >>> found = find_recipes(starter_pigments(), wanted_colour((60.0, 12.0, 30.0)), [0.85] * 36)
    >>> found.reachable, found.recipes[0].delta_e00 < 0.1
    (True, True)
    """
    _check(pigments, passes, most_pigments, least_paste_share, most_recipes)
    under = checked_bands(ground, name="the ground")
    told = (wanted.lab, wanted.reflectance.tobytes(), wanted.spectrum_known, under.tobytes())
    limits = (passes, most_pigments, least_paste_share, most_recipes, film_variation)
    return _found(_Asked(tuple(pigments), told, limits, wanted, under))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What recipes are asked for; ``told`` and ``limits`` are all of it in plain values."""

    pigments: tuple[Pigment, ...]
    told: tuple[Lab, bytes, bool, bytes]
    limits: tuple[int | None, int, float, int, float]
    wanted: Wanted = field(compare=False)
    under: _Values = field(compare=False)


@lru_cache(maxsize=_COLOURS_KEPT)
def _found(asked: _Asked) -> Matches:
    """The best recipes, remembered: after an edit most colours of a print are asked for as before."""
    pigments, wanted, under = asked.pigments, asked.wanted, asked.under
    passes, most_pigments, least_paste_share, most_recipes, film_variation = asked.limits
    thickest = MOST_PASSES if passes is None else passes
    film_k, film_s, _ = film_parts(pigments, thickest)
    most = 1.0 - least_paste_share
    chosen, shares = _searched(film_k, film_s, under, wanted, most, min(most_pigments, len(pigments)))
    judged = _judged(chosen, shares, film_k, film_s, under, wanted)
    found = [
        _told(each, pigments, passes, thickest, most, under, film_variation)
        for each in _with_a_simpler(judged, most_recipes)
    ]
    nearest = min(judged, key=lambda each: each.delta_e00)
    return Matches(
        tuple(found),
        nearest.delta_e00 <= REACHED_DELTA_E00,
        as_lab(nearest.lab),
        as_hex(nearest.lab),
        nearest.delta_e00,
        float(delta_e00(reflectance_to_lab(under), wanted.lab)),
        wanted.spectrum_known,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """One choice with its shares at the thickest film, and what it makes."""

    chosen: tuple[int, ...]
    shares: tuple[float, ...]
    lab: _Values
    delta_e00: float
    worst_light_delta_e00: float

    def rank(self) -> tuple[float, float, tuple[int, ...]]:
        """Best first: D65 in steps, then the worst other light."""
        return int(self.delta_e00 / ALIKE_DELTA_E00), self.worst_light_delta_e00, self.chosen


@lru_cache(maxsize=32)
def _choices(count: int, most: int) -> NDArray[np.int64]:
    """Every choice of 1 to ``most`` of ``count`` pigments, shape (choices, most); -1 for none."""
    rows = [
        [*each, *([-1] * (most - size))]
        for size in range(1, most + 1)
        for each in combinations(range(count), size)
    ]
    table = np.array(rows, dtype=np.int64)
    table.flags.writeable = False
    return table


def _searched(
    k: _Values, s: _Values, ground: _Values, wanted: Wanted, most: float, most_pigments: int
) -> tuple[NDArray[np.int64], _Values]:
    """The best choices and their shares, searched to the end."""
    light = np.ascontiguousarray(weights("D65").T)
    target = np.array(wanted.lab)
    # Copies of what cannot be written to: compiled code would be made for that kind once more.
    scene = (k, s, np.array(ground), light, light.sum(axis=1), target, quadratic_form(target))
    alone = best_alone(scene, most)
    choices = np.array(_choices(len(k), most_pigments))
    given = choices >= 0
    parts = np.where(given.sum(axis=1) > 1, START_PART, 1.0)[:, None]
    cost, shares = descend(
        scene, choices, _start(alone[choices] * parts, given, most), most, _FIRST_STEPS, False
    )
    if cost.min() > _MISSED**2:
        # Far from the colour the quadratic form misleads, and there are false valleys: the search goes on
        # with CIEDE2000 itself, also from other places.
        near = np.argsort(cost, kind="stable")[:_TRIED_AGAIN]
        cost = np.full(len(cost), np.inf)
        darkest = np.maximum(k.max(axis=1), 1e-3)
        starts = (shares[near], *(strength / darkest[choices[near]] for strength in _STRENGTHS))
        for start in starts:
            sound = _start(start, given[near], most)
            again, others = descend(scene, choices[near], sound, most, _FIRST_STEPS, True)
            shares[near] = np.where((again < cost[near])[:, None], others, shares[near])
            cost[near] = np.minimum(again, cost[near])
    best = np.argsort(cost, kind="stable")[:_KEPT]
    # Some simple recipes are always among them.
    simple = np.flatnonzero(given.sum(axis=1) <= 2)
    best = np.union1d(best, simple[np.argsort(cost[simple], kind="stable")[: _KEPT // 4]])
    _, refined = descend(
        scene, choices[best], _start(shares[best], given[best], most), most, _LAST_STEPS, True
    )
    return choices[best], refined


def _start(amounts: _Values, given: NDArray[np.bool_], most: float) -> _Values:
    """Amounts to start from, of the pigments that are given; their sum leaves some paste to spare."""
    start = np.where(given, np.maximum(amounts, _LEAST_START), 0.0)
    within: _Values = start * np.minimum(1.0, _FULLEST_START * most / start.sum(axis=1))[:, None]
    return within


def _judged(
    chosen: NDArray[np.int64], shares: _Values, k: _Values, s: _Values, ground: _Values, wanted: Wanted
) -> list[_Judged]:
    """Every choice as the engine sees it, best first, without pigments that do nothing."""
    seen = layer_reflectance(
        np.einsum("ij,ijb->ib", shares, k[chosen]), np.einsum("ij,ijb->ib", shares, s[chosen]), 1.0, ground
    )
    lab = reflectance_to_lab(seen)
    under_day = delta_e00(lab, np.array(wanted.lab))
    others = [
        delta_e00(reflectance_to_lab(seen, light), reflectance_to_lab(wanted.reflectance, light))
        for light in OTHER_LIGHTS
    ]
    worst = np.max(others, axis=0)
    found: list[_Judged] = []
    for i, row in enumerate(chosen):
        given = row >= 0
        found.append(
            _Judged(
                tuple(row[given].tolist()),
                tuple(shares[i, given].tolist()),
                lab[i],
                float(under_day[i]),
                float(worst[i]),
            )
        )
    kept = [each for each in found if not any(_as_good(simpler, each) for simpler in found)]
    return sorted(kept, key=_Judged.rank)


def _as_good(simpler: _Judged, each: _Judged) -> bool:
    """Whether a choice of fewer of the same pigments does as well."""
    return (
        set(simpler.chosen) < set(each.chosen)
        and simpler.delta_e00 <= each.delta_e00 + ALIKE_DELTA_E00 / 2.0
        and (
            simpler.worst_light_delta_e00 <= each.worst_light_delta_e00 + _SIMPLER_BY
            or min(each.shares) < _LEAST_SHARE
        )
    )


def _with_a_simpler(judged: Sequence[_Judged], most_recipes: int) -> list[_Judged]:
    """The best; the last of them gives way to one of fewer pigments that reaches the colour, if none does."""
    best = list(judged[:most_recipes])
    fewest = min(len(each.chosen) for each in best)
    simpler = (
        each
        for each in judged[most_recipes:]
        if len(each.chosen) < fewest and each.delta_e00 <= REACHED_DELTA_E00
    )
    if len(best) > 1 and (found := next(simpler, None)):
        best[-1] = found
    return best


def _told(
    judged: _Judged,
    pigments: Sequence[Pigment],
    passes: int | None,
    thickest: int,
    most: float,
    ground: _Values,
    film_variation: float,
) -> Recipe:
    """The recipe, in the fewest passes that can hold it where they are open."""
    own = [pigments[number] for number in judged.chosen]
    at_most = _thickness(own, thickest)
    count, shares = thickest, np.array(judged.shares)
    for fewer in range(1, thickest) if passes is None else ():
        needed = np.array(judged.shares) * at_most / _thickness(own, fewer)
        if needed.sum() <= most:
            count, shares = fewer, needed
            break
    named = sorted(zip(own, shares.tolist(), strict=True), key=lambda pair: (-pair[1], pair[0].name))
    parts = tuple(Part(pigment.name, share) for pigment, share in named)
    return Recipe(
        parts,
        1.0 - sum(part.share for part in parts),
        count,
        as_lab(judged.lab),
        as_hex(judged.lab),
        judged.delta_e00,
        judged.worst_light_delta_e00,
        mixture_uncertainty(parts, count, own, ground, film_variation=film_variation),
    )


def _thickness(pigments: Sequence[Pigment], passes: int) -> _Values:
    return np.array([film_thickness(passes, transfer=pigment.transfer) for pigment in pigments])


def _check(
    pigments: Sequence[Pigment],
    passes: int | None,
    most_pigments: int,
    least_paste_share: float,
    most_recipes: int,
) -> None:
    if not pigments:
        raise InkError("There is no pigment to mix from; at least one is needed.")
    names = [pigment.name for pigment in pigments]
    for name in names:
        if names.count(name) > 1:
            raise InkError(
                f"Two pigments are called {name}; each needs a name of its own: {listed(pigments)}."
            )
    if passes is not None and not 1 <= passes <= MOST_PASSES:
        raise InkError(f"A colour is printed in 1 to {MOST_PASSES} passes, not {passes}.")
    if not 1 <= most_pigments <= MOST_ALLOWED:
        raise InkError(f"A recipe has 1 to {MOST_ALLOWED} pigments, not {most_pigments}.")
    if not 0.0 <= least_paste_share < 1.0:
        raise InkError(f"The least share of paste is {least_paste_share:g}; it is 0 or more and less than 1.")
    if most_recipes < 1:
        raise InkError(f"At least one recipe is asked for, not {most_recipes}.")
