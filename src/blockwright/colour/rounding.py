"""A recipe as it can be weighed on a scale or counted in spoons, and what the rounding costs in colour."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import ceil, floor

import numpy as np
from numpy.typing import ArrayLike

from blockwright.colour.difference import delta_e00
from blockwright.colour.mixtures import check_parts, pigments_of, recipe_reflectance
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.model.errors import InkError
from blockwright.model.inks import Part, Pigment, Recipe

BATCH_G = 40.0
"""A small bowl of ink, grams [CP]."""

SCALE_STEP_G = 0.1
"""What a kitchen or jeweller's scale tells apart, grams [CP]."""

PASTE_DENSITY_G_PER_ML = 1.0
"""Rice paste is nearly water; 20 g of flour to 250 ml [CP]."""

MOST_WHOLE_PARTS = 60
"""More parts than this in all are no longer counted in spoons [CP]."""

WHOLE_PARTS_COST = 0.5
"""Whole-number parts are told when they move the colour by no more than this (CIEDE2000) [CP]."""

_FEWEST_STEPS = 5
"""Less than this many steps of the scale are not weighed but thinned first: the step is a fifth of it."""

_THINNINGS = (10, 100, 1000)

MOST_BATCH_G = 1e8
"""More is not mixed; a larger number is a slip of the hand."""

LEAST_STEP_G = 0.0001
"""The finest step that a scale shows, an analytical balance."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One component by weight. ``thinned`` above 1: one gram in so many of a stock thinned with paste."""

    name: str
    mass_g: float
    thinned: int = 1


@dataclass(frozen=True, slots=True)
class Batch:
    """A recipe by weight: pigments in its order, the paste to add, and what rounding costs.

    ``delta_e00`` is how far the rounded mixture is from the exact one. ``too_small`` names pigments of which
    less than five steps of the scale are needed even so.
    """

    components: tuple[Weighed, ...]
    paste_g: float
    delta_e00: float
    too_small: tuple[str, ...]

    @property
    def total_g(self) -> float:
        """What all of it weighs."""
        return self.paste_g + sum(each.mass_g for each in self.components)


@dataclass(frozen=True, slots=True)
class WholeParts:
    """A recipe in whole-number parts by volume, pigments in its order; ``delta_e00`` as for a batch."""

    parts: tuple[int, ...]
    paste: int
    delta_e00: float


def masses_g(
    recipe: Recipe, pigments: Sequence[Pigment], batch_g: float, *, clear_ml: float = 0.0
) -> tuple[tuple[float, ...], float]:
    """The exact grams of each pigment and of the paste in a batch.

    ``clear_ml`` of something clear, such as glycerin, come into it besides and take the place of as much
    paste, so that the film is the recipe's; as far as the recipe has paste. Raises InkError when the batch is
    not above 0 or a pigment is not there.
    """
    if not 0.0 < batch_g <= MOST_BATCH_G:
        raise InkError(
            f"A batch of {batch_g:g} g cannot be mixed; it is above 0 g and at most {MOST_BATCH_G:.0f} g."
        )
    check_parts(recipe.parts)
    chosen = pigments_of(recipe.parts, pigments)
    heavy = [
        part.share * pigment.density_g_per_ml for part, pigment in zip(recipe.parts, chosen, strict=True)
    ]
    paste = recipe.paste_share * PASTE_DENSITY_G_PER_ML
    clear_g = clear_ml * PASTE_DENSITY_G_PER_ML
    scale = min((batch_g + clear_g) / (sum(heavy) + paste), batch_g / sum(heavy))
    return tuple(scale * each for each in heavy), max(0.0, scale * paste - clear_g)


def stock_volume_ml(mass_g: float, *, thinned: int, density_g_per_ml: float) -> float:
    """The volume of a pigment as it is weighed, pure or as a stock of one gram in ``thinned`` with paste.

    >>> round(stock_volume_ml(1.0, thinned=10, density_g_per_ml=2.0), 6)
    0.95
    """
    pure = mass_g / thinned
    return pure / density_g_per_ml + (mass_g - pure) / PASTE_DENSITY_G_PER_ML


def weighed_batch(
    recipe: Recipe,
    pigments: Sequence[Pigment],
    ground: ArrayLike,
    *,
    batch_g: float = BATCH_G,
    step_g: float = SCALE_STEP_G,
    clear_ml: float = 0.0,
) -> Batch:
    """The recipe rounded to what a scale shows: of all ways up and down the one that moves the colour least.

    What is too little to weigh is taken from a stock thinned with paste 1 in 10, 100 or 1000 by weight, as
    far as the recipe has paste for it. ``ground`` is what the recipe is printed over, shape (36,);
    ``clear_ml`` as of :func:`masses_g`, not weighed here.

    Raises InkError when batch or step is not above 0, or a pigment is not there.
    """
    exact, paste = masses_g(recipe, pigments, batch_g, clear_ml=clear_ml)
    if not LEAST_STEP_G <= step_g <= batch_g:
        raise InkError(f"A scale that shows steps of {step_g:g} g does not weigh a batch of {batch_g:g} g.")
    factors = _thinnings(exact, paste, step_g)
    wanted = reflectance_to_lab(recipe_reflectance(recipe.parts, recipe.passes, pigments, ground))
    best: tuple[float, tuple[float, ...], float] | None = None
    for way in product((floor, ceil), repeat=len(exact)):
        steps = [max(1, up(mass * by / step_g)) for up, mass, by in zip(way, exact, factors, strict=True)]
        told = tuple(count * step_g for count in steps)
        pure = tuple(mass / by for mass, by in zip(told, factors, strict=True))
        added = max(0.0, round((batch_g - sum(told)) / step_g) * step_g)
        all_paste = added + sum(told) - sum(pure) + clear_ml * PASTE_DENSITY_G_PER_ML
        moved = _moved(recipe, pigments, ground, pure, all_paste, wanted)
        if best is None or moved < best[0]:
            best = (moved, told, added)
    assert best is not None
    moved, told, added = best
    names = [part.pigment for part in recipe.parts]
    small = tuple(
        name
        for name, mass, by in zip(names, exact, factors, strict=True)
        if mass * by < _FEWEST_STEPS * step_g - 1e-9
    )
    components = tuple(
        Weighed(name, round(mass, 6), by) for name, mass, by in zip(names, told, factors, strict=True)
    )
    return Batch(components, round(added, 6), moved, small)


def whole_parts(
    recipe: Recipe,
    pigments: Sequence[Pigment],
    ground: ArrayLike,
    *,
    most: int = MOST_WHOLE_PARTS,
    cost_delta_e00: float = WHOLE_PARTS_COST,
) -> WholeParts | None:
    """The recipe in the fewest whole-number parts by volume that keep the colour; None where none do.

    ``most`` is the most parts in all. Raises InkError when a pigment is not there.
    """
    check_parts(recipe.parts)
    wanted = reflectance_to_lab(recipe_reflectance(recipe.parts, recipe.passes, pigments, ground))
    shares = [part.share for part in recipe.parts]
    tried = set()
    for total in range(len(shares), most + 1):
        parts = tuple(max(1, round(share * total)) for share in shares)
        paste = max(0, total - sum(parts))
        if (parts, paste) in tried:
            continue
        tried.add((parts, paste))
        moved = _moved_by_volume(recipe, pigments, ground, parts, paste, wanted)
        if moved <= cost_delta_e00:
            return WholeParts(parts, paste, moved)
    return None


def _thinnings(exact: Sequence[float], paste_g: float, step_g: float) -> list[int]:
    """By how much each pigment is thinned before it is weighed."""
    left, factors = paste_g, []
    for mass in exact:
        factor = 1
        for by in _THINNINGS:
            if mass * factor >= _FEWEST_STEPS * step_g or mass * (by - 1) > left:
                break
            factor = by
        left -= mass * (factor - 1)
        factors.append(factor)
    return factors


def _moved(
    recipe: Recipe,
    pigments: Sequence[Pigment],
    ground: ArrayLike,
    masses: Sequence[float],
    paste_g: float,
    wanted: ArrayLike,
) -> float:
    chosen = pigments_of(recipe.parts, pigments)
    volumes = [mass / pigment.density_g_per_ml for mass, pigment in zip(masses, chosen, strict=True)]
    return _moved_by_volume(recipe, pigments, ground, volumes, paste_g / PASTE_DENSITY_G_PER_ML, wanted)


def _moved_by_volume(
    recipe: Recipe,
    pigments: Sequence[Pigment],
    ground: ArrayLike,
    volumes: Sequence[float],
    paste: float,
    wanted: ArrayLike,
) -> float:
    total = sum(volumes) + paste
    parts = [Part(part.pigment, volume / total) for part, volume in zip(recipe.parts, volumes, strict=True)]
    lab = reflectance_to_lab(recipe_reflectance(parts, recipe.passes, pigments, ground))
    return float(delta_e00(lab, np.asarray(wanted)))
