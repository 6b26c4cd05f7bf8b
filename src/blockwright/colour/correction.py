"""What to add to a pot of ink that came out otherwise than wanted.

A swatch of what was mixed tells how strong the pigments in the pot truly are: of all strengths that explain
the swatch, those are taken that lie nearest to what is known of the pigments, and the swatch's film may be a
little thicker or thinner than meant. What is then still unexplained is put into the absorption of the pot, so
that the pot has exactly the colour that was seen. From there additions are searched as recipes are, with the
pot as one of the inks: nothing can be taken out again, only added.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import combinations, product
from math import ceil, floor

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import least_squares

from blockwright.colour.bands import checked_bands
from blockwright.colour.difference import delta_e00
from blockwright.colour.inks import to_arrays
from blockwright.colour.layers import absorption_for, layer_reflectance
from blockwright.colour.matching import best_alone, descend
from blockwright.colour.mixtures import as_hex, as_lab, film_parts, listed, pigments_of
from blockwright.colour.optics import FILM_VARIATION
from blockwright.colour.recipes import REACHED_DELTA_E00
from blockwright.colour.rounding import LEAST_STEP_G, MOST_BATCH_G, PASTE_DENSITY_G_PER_ML, SCALE_STEP_G
from blockwright.colour.slopes import quadratic_form
from blockwright.colour.smooth import smooth_reflectance
from blockwright.colour.spectra import reflectance_to_lab, reflectance_to_xyz, weights
from blockwright.colour.wanted import Wanted
from blockwright.model.errors import InkError
from blockwright.model.inks import Part, Pigment
from blockwright.model.units import Lab

MOST_ADDED = 2
"""At most so many pigments are added, and paste: three numbers, as many as a colour has."""

MOST_GROWTH = 3.0
"""The pot grows to no more than so many times what it was: beyond that, mixing anew is cheaper [CP]."""

SWATCH_DELTA_E00 = 0.5
"""How exactly the colour of a swatch is known (CIEDE2000) [CP]."""

_GOOD_DELTA_E00 = 0.5
"""Additions that come within this are as good as each other; the least of them is best."""

_LEAST_GAIN = 0.3
"""Additions that bring the colour nearer by less than this are not told."""

_STEPS = 60
_Values = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pot:
    """What is in a pot: grams of each pigment by name, and of paste."""

    pigments_g: tuple[tuple[str, float], ...]
    paste_g: float

    @property
    def total_g(self) -> float:
        """What all of it weighs."""
        return self.paste_g + sum(mass for _, mass in self.pigments_g)


@dataclass(frozen=True, slots=True)
class Correction:
    """Grams to add. Without additions the pot is as near as it can be brought, or near enough.

    ``before_delta_e00`` is how far the swatch is from the wanted colour, ``delta_e00`` what is predicted
    after the additions, ``strengths`` how strong each pigment of the pot seems, as a part of what was
    thought. ``near_enough`` tells that nothing needs to be added.
    """

    pigments_g: tuple[tuple[str, float], ...]
    paste_g: float
    before_delta_e00: float
    predicted_lab: Lab
    predicted_hex: str
    delta_e00: float
    total_g: float
    strengths: tuple[tuple[str, float], ...]
    near_enough: bool


def correction(
    pot: Pot,
    pigments: Sequence[Pigment],
    measured: Wanted,
    wanted: Wanted,
    ground: ArrayLike,
    *,
    passes: int,
    most_added: int = MOST_ADDED,
    most_growth: float = MOST_GROWTH,
    step_g: float = SCALE_STEP_G,
) -> Correction:
    """What to add to a pot so that it comes nearest the wanted colour, from a swatch of it.

    ``measured`` is the swatch, printed in ``passes`` over ``ground``, a reflectance of shape (36,); the
    wanted colour is meant over the same ground in the same passes. ``pigments`` are those of the pot and
    those that may be added.

    Raises InkError when the pot is empty, an amount is below 0, or a pigment is not there.
    """
    _check(pot, pigments, most_added, most_growth, step_g)
    under = checked_bands(ground, name="the ground")
    before = float(delta_e00(measured.lab, wanted.lab))
    k, s, strengths = _as_seen(pot, pigments, measured, under, passes)
    told = tuple(zip([name for name, _ in pot.pigments_g], strengths.tolist(), strict=True))
    best = _Additions((), 0.0, measured.lab, before)
    if before > REACHED_DELTA_E00:
        factors = dict(told)
        film_k, film_s, _ = film_parts(pigments, passes)
        strong = np.array([factors.get(p.name, 1.0) for p in pigments])[:, None]
        scene = (np.vstack([k, film_k * strong]), np.vstack([s, film_s * strong]), np.array(under))
        best = _best(pot, pigments, scene, wanted, best, most_added, most_growth, step_g)
    added = best.paste_g + sum(mass for _, mass in best.pigments_g)
    return Correction(
        best.pigments_g,
        best.paste_g,
        before,
        as_lab(best.lab),
        as_hex(best.lab),
        best.delta_e00,
        pot.total_g + added,
        told,
        before <= REACHED_DELTA_E00,
    )


@dataclass(frozen=True, slots=True)
class _Additions:
    pigments_g: tuple[tuple[str, float], ...]
    paste_g: float
    lab: Lab
    delta_e00: float

    def rank(self) -> tuple[int, float]:
        """Near enough is near enough: then the least addition."""
        steps = ceil(max(0.0, self.delta_e00 - _GOOD_DELTA_E00) / 0.25)
        return steps, self.paste_g + sum(mass for _, mass in self.pigments_g)


def _as_seen(
    pot: Pot, pigments: Sequence[Pigment], measured: Wanted, ground: _Values, passes: int
) -> tuple[_Values, _Values, _Values]:
    """K and S, shape (36,), of the pot's whole film with the colour of its swatch; the strengths."""
    chosen = pigments_of([Part(name, 1.0) for name, _ in pot.pigments_g], pigments)
    film_k, film_s, _ = film_parts(chosen, passes)
    volumes = np.array(
        [mass / p.density_g_per_ml for (_, mass), p in zip(pot.pigments_g, chosen, strict=True)]
    )
    shares = volumes / (volumes.sum() + pot.paste_g / PASTE_DENSITY_G_PER_ML)
    inks = to_arrays([p.name for p in chosen], [p.optics for p in chosen])
    spread = np.maximum(inks.k_uncertainty().mean(axis=1), 0.02)
    form = quadratic_form(np.array(measured.lab)) / SWATCH_DELTA_E00

    def film(unknown: _Values) -> tuple[_Values, _Values]:
        amounts = shares * np.exp(unknown[:-1])
        return amounts @ film_k, amounts @ film_s

    def missed(unknown: _Values) -> _Values:
        k, s = film(unknown)
        lab = reflectance_to_lab(layer_reflectance(k, s, np.exp(unknown[-1]), ground))
        return np.concatenate(
            [form @ (lab - np.array(measured.lab)), unknown[:-1] / spread, unknown[-1:] / FILM_VARIATION]
        )

    found = np.asarray(least_squares(missed, np.zeros(len(shares) + 1)).x, dtype=np.float64)
    k, s = film(found)
    thickness = float(np.exp(found[-1]))
    seen = measured.reflectance
    if not measured.spectrum_known:
        predicted = layer_reflectance(k, s, thickness, ground)
        # The colour that was seen, with the spectrum of the pigments rather than a smooth one.
        likeness = measured.reflectance / np.maximum(smooth_reflectance(reflectance_to_xyz(predicted)), 1e-6)
        seen = np.clip(predicted * likeness, 0.0, 1.0)
    k = absorption_for(seen, ground, thickness=thickness, scattering=s)
    return k, s, np.exp(found[:-1])


def _best(
    pot: Pot,
    pigments: Sequence[Pigment],
    scene: tuple[_Values, _Values, _Values],
    wanted: Wanted,
    nothing: _Additions,
    most_added: int,
    most_growth: float,
    step_g: float,
) -> _Additions:
    """The additions that come near enough with the least, or as near as can be."""
    light = np.ascontiguousarray(weights("D65").T)
    target = np.array(wanted.lab)
    search = (*scene, light, light.sum(axis=1), target, quadratic_form(target))
    choices = _choices(len(pigments), most_added)
    alone = best_alone(search, 1.0)
    start = np.where(choices > 0, 0.1 * np.minimum(alone[choices], 0.5), 0.0)
    start[:, 0] = 0.8
    _, shares = descend(search, choices, start, 1.0, _STEPS, True)
    volume = sum(
        mass / p.density_g_per_ml
        for (_, mass), p in zip(
            pot.pigments_g,
            pigments_of([Part(name, 1.0) for name, _ in pot.pigments_g], pigments),
            strict=True,
        )
    )
    volume += pot.paste_g / PASTE_DENSITY_G_PER_ML
    candidates = [
        _weighed(row, share, volume, pigments, scene, wanted, step_g)
        for row, share in zip(choices, shares, strict=True)
        if share[0] * most_growth >= 1.0
    ]
    useful = [each for each in candidates if each.delta_e00 < nothing.delta_e00 - _LEAST_GAIN]
    return min(useful, key=_Additions.rank, default=nothing)


def _choices(count: int, most_added: int) -> NDArray[np.int64]:
    """The pot (0), and every choice of up to so many pigments (from 1); -1 for none."""
    width = min(most_added, count)
    rows = [
        [0, *each, *([-1] * (width - size))]
        for size in range(width + 1)
        for each in combinations(range(1, count + 1), size)
    ]
    return np.array(rows, dtype=np.int64)


def _weighed(
    row: NDArray[np.int64],
    shares: _Values,
    volume_ml: float,
    pigments: Sequence[Pigment],
    scene: tuple[_Values, _Values, _Values],
    wanted: Wanted,
    step_g: float,
) -> _Additions:
    """Additions as a scale shows them: of all ways up and down the one that comes nearest."""
    given = row[row > 0]
    own = shares[1 : 1 + len(given)]
    total = volume_ml / shares[0]
    heavy = [pigments[i - 1].density_g_per_ml for i in given] + [PASTE_DENSITY_G_PER_ML]
    exact = [*own.tolist(), max(0.0, 1.0 - shares[0] - own.sum())]
    masses = [share * total * density for share, density in zip(exact, heavy, strict=True)]
    ways = product((floor, ceil), repeat=len(masses))
    tried = {
        tuple(up(m / step_g + 1e-9 * (1 if up is floor else -1)) for up, m in zip(w, masses, strict=True))
        for w in ways
    }
    judge = partial(_judged, given, heavy, volume_ml, pigments, scene, wanted, step_g)
    return min((judge(steps) for steps in sorted(tried)), key=lambda each: each.delta_e00)


def _judged(
    given: NDArray[np.int64],
    heavy: Sequence[float],
    volume_ml: float,
    pigments: Sequence[Pigment],
    scene: tuple[_Values, _Values, _Values],
    wanted: Wanted,
    step_g: float,
    steps: tuple[int, ...],
) -> _Additions:
    k, s, ground = scene
    masses = [count * step_g for count in steps]
    volumes = np.array([volume_ml, *(m / d for m, d in zip(masses, heavy, strict=True))])
    part = volumes / volumes.sum()
    rows = [0, *given.tolist()]
    seen = layer_reflectance(part[:-1] @ k[rows], part[:-1] @ s[rows], 1.0, ground)
    lab = as_lab(reflectance_to_lab(seen))
    named = [
        (pigments[i - 1].name, round(mass, 6)) for i, mass in zip(given, masses[:-1], strict=True) if mass > 0
    ]
    return _Additions(tuple(named), round(masses[-1], 6), lab, float(delta_e00(lab, wanted.lab)))


def _check(pot: Pot, pigments: Sequence[Pigment], most_added: int, most_growth: float, step_g: float) -> None:
    names = [pigment.name for pigment in pigments]
    if not pigments or len(set(names)) < len(names):
        raise InkError(f"Pigments to add are needed, each with a name of its own: {listed(pigments)}.")
    if not pot.pigments_g:
        raise InkError("The pot has no pigment in it; a correction starts from what was mixed.")
    for name, mass in (*pot.pigments_g, ("paste", pot.paste_g)):
        if not 0.0 <= mass <= MOST_BATCH_G:
            raise InkError(
                f"The pot has {mass:g} g of {name}; an amount is 0 g or more, at most {MOST_BATCH_G:.0f}."
            )
    if not any(mass > 0.0 for _, mass in pot.pigments_g):
        raise InkError("The pot has no pigment in it; a correction starts from what was mixed.")
    if not 1 <= most_added <= 3:
        raise InkError(f"A correction adds 1 to 3 pigments, not {most_added}.")
    if not most_growth > 1.0:
        raise InkError(f"A pot grows to more than 1 times what it was, not {most_growth:g}.")
    if not LEAST_STEP_G <= step_g <= pot.total_g:
        raise InkError(f"A scale that shows steps of {step_g:g} g does not weigh {pot.total_g:g} g.")
