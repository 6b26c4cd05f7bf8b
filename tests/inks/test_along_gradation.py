"""An ink that is brushed out follows the run in thin films too, not only in the full one."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    layer_reflectance,
    reflectance_to_lab,
)
from blockwright.colour.matched import ink_for_colour
from blockwright.colour.mixtures import film_parts
from blockwright.colour.pigments import shipped_pigments
from blockwright.colour.recipes import find_recipes
from blockwright.colour.wanted import wanted_reflectance
from blockwright.inks.along_gradation import recipe_along
from blockwright.inks.batches import batch_of
from blockwright.inks.choosing import Chosen
from blockwright.model.axis import Axis
from blockwright.model.design import Design
from blockwright.model.inks import Optics, Recipe
from blockwright.model.separation import Gradation, Impression, Ink, Separation
from blockwright.model.settings import InksTable

PAPER = "#f6efdf"
BLUE, PEACH = "#22539a", "#f7bc9e"
RAMP = tuple(np.linspace(1.0, 0.0, 9).round(3).tolist())
DESIGN = Design("", 200.0, 100.0, 10.0, PAPER, (), (), True, 0.0, 0.0, 0.0, 0.0)


def _impression(number: int, srgb_hex: str, gradation: Gradation | None) -> Impression:
    ink = Ink(srgb_hex, *ink_for_colour(srgb_hex, PAPER, passes=1))
    area = shapely.multipolygons([shapely.box(0, 0, 200, 100)])
    return Impression(
        number, srgb_hex, "colour", ink, 1, (0,), area, 0.5, srgb_hex, hex_to_lab(srgb_hex), gradation
    )


FLAT = _impression(1, PEACH, None)
BOKASHI = _impression(2, BLUE, Gradation("fukisage", Axis((0, 0), (0, 100)), RAMP))
BOTH = Separation((FLAT, BOKASHI), (), (), 0.0, 0.0)


def _misses(recipe: Recipe) -> np.ndarray:
    """How far the recipe is from the ideal ink in every film over the flat, worked out anew."""
    ground = layer_reflectance(FLAT.printed_ink.k, FLAT.printed_ink.s, 1.0, colour_reflectance(PAPER))
    own = {pigment.name: pigment for pigment in shipped_pigments()}
    k, s, _ = film_parts([own[part.pigment] for part in recipe.parts], 1)
    share = np.array([part.share for part in recipe.parts])
    film = np.array(RAMP)[:, None]
    seen = layer_reflectance(share @ k, share @ s, film, ground)
    wanted = layer_reflectance(BOKASHI.printed_ink.k, BOKASHI.printed_ink.s, film, ground)
    return delta_e00(reflectance_to_lab(seen), reflectance_to_lab(wanted))


@pytest.fixture(scope="module")
def recipe() -> Recipe:
    return recipe_along(DESIGN, BOTH, BOKASHI, shipped_pigments(), InksTable())


def test_the_recipe_follows_the_ramp(recipe: Recipe) -> None:
    off = _misses(recipe)
    assert recipe.delta_e00 == pytest.approx(float(np.sqrt((off**2).mean())), abs=0.01)
    assert recipe.delta_e00 < 2.0
    assert sum(part.share for part in recipe.parts) + recipe.paste_share == pytest.approx(1.0)
    assert recipe.paste_share >= 0.2 - 1e-9


def test_the_nearest_recipe_for_the_full_film_alone_does_worse(recipe: Recipe) -> None:
    seen = layer_reflectance(BOKASHI.printed_ink.k, BOKASHI.printed_ink.s, 1.0, colour_reflectance(PAPER))
    found = find_recipes(
        shipped_pigments(), wanted_reflectance(seen), colour_reflectance(PAPER), passes=1, most_recipes=1
    )
    assert _misses(found.recipes[0]).max() > 3.0 * _misses(recipe).max()


def test_the_recipe_is_the_same_every_time(recipe: Recipe) -> None:
    assert recipe_along(DESIGN, BOTH, BOKASHI, shipped_pigments(), InksTable()) == recipe


def test_a_gradation_takes_less_ink_than_a_flat() -> None:
    choice = Chosen("", "matched", Optics(BOKASHI.printed_ink.k, BOKASHI.printed_ink.s))
    paper, settings = colour_reflectance(PAPER), InksTable(sheets=500)
    graded, flat = (
        batch_of(each, choice, paper, settings) for each in (BOKASHI, replace(BOKASHI, gradation=None))
    )
    assert graded.needed_g == pytest.approx(0.5 * flat.needed_g, rel=0.02)
