"""Recipes by weight and in whole-number parts."""

import numpy as np
import pytest

from blockwright.colour import delta_e00
from blockwright.colour.mixtures import recipe_reflectance
from blockwright.colour.pigments import starter_pigments
from blockwright.colour.recipes import find_recipes
from blockwright.colour.rounding import PASTE_DENSITY_G_PER_ML, masses_g, weighed_batch, whole_parts
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import wanted_colour
from blockwright.model.errors import InkError
from blockwright.model.inks import Part, Recipe

PAPER = np.full(36, 0.85)
SHELF = starter_pigments()
DENSITY = {pigment.name: pigment.density_g_per_ml for pigment in SHELF}


def recipe(*parts: tuple[str, float]) -> Recipe:
    made = tuple(Part(name, share) for name, share in parts)
    return Recipe(made, 1.0 - sum(p.share for p in made), 1, (0.0, 0.0, 0.0), "#000000", 0.0, 0.0, 0.0)


def apart(one: Recipe, shares: list[float]) -> float:
    """How far a mixture in other shares of the same pigments is from the recipe."""
    other = [Part(part.pigment, share) for part, share in zip(one.parts, shares, strict=True)]
    labs = [
        reflectance_to_lab(recipe_reflectance(parts, one.passes, SHELF, PAPER))
        for parts in (one.parts, other)
    ]
    return float(delta_e00(*labs))


def test_masses_follow_volumes_and_densities() -> None:
    exact, paste = masses_g(recipe(("Indian red", 0.2), ("Hansa yellow", 0.3)), SHELF, 40.0)
    assert sum(exact) + paste == pytest.approx(40.0)
    assert exact[0] / exact[1] == pytest.approx(0.2 * DENSITY["Indian red"] / (0.3 * DENSITY["Hansa yellow"]))
    assert exact[0] / paste == pytest.approx(0.2 * DENSITY["Indian red"] / 0.5)


@pytest.mark.parametrize("step_g", [0.1, 0.5, 1.0])
def test_a_batch_is_in_steps_of_the_scale_and_its_cost_is_true(step_g: float) -> None:
    for one in find_recipes(SHELF, wanted_colour((54.0, 12.0, 30.0)), PAPER).recipes:
        batch = weighed_batch(one, SHELF, PAPER, batch_g=40.0, step_g=step_g)
        assert batch.total_g == pytest.approx(40.0, abs=2 * step_g)
        for mass in (*(each.mass_g for each in batch.components), batch.paste_g):
            assert mass / step_g == pytest.approx(round(mass / step_g), abs=1e-6)
        pure = [each.mass_g / each.thinned for each in batch.components]
        volumes = [mass / DENSITY[each.name] for mass, each in zip(pure, batch.components, strict=True)]
        paste = batch.paste_g + sum(each.mass_g for each in batch.components) - sum(pure)
        shares = [volume / (sum(volumes) + paste) for volume in volumes]
        assert batch.delta_e00 == pytest.approx(apart(one, shares), abs=1e-3)


def test_a_finer_scale_costs_less() -> None:
    one = recipe(("Indian red", 0.213), ("Hansa yellow", 0.117), ("burnt umber", 0.054))
    costs = [weighed_batch(one, SHELF, PAPER, step_g=step).delta_e00 for step in (2.0, 0.5, 0.05)]
    assert costs[0] > costs[1] > costs[2]
    assert costs[2] < 0.1


def test_what_is_too_little_to_weigh_is_thinned_first() -> None:
    batch = weighed_batch(recipe(("Hansa yellow", 0.3), ("Prussian blue", 0.0004)), SHELF, PAPER)
    yellow, blue = batch.components
    assert yellow.thinned == 1
    assert blue.thinned == 100
    assert 0.5 <= blue.mass_g <= 5.0
    assert batch.too_small == ()
    assert batch.delta_e00 < 0.3


def test_what_cannot_be_thinned_is_said_to_be_too_small() -> None:
    one = recipe(("Hansa yellow", 0.999), ("Prussian blue", 0.0004))
    batch = weighed_batch(one, SHELF, PAPER)
    assert batch.too_small == ("Prussian blue",)
    assert all(each.mass_g > 0.0 for each in batch.components)


def test_whole_parts_are_the_fewest_that_keep_the_colour() -> None:
    one = recipe(("Indian red", 3 / 20), ("burnt umber", 1 / 20))
    found = whole_parts(one, SHELF, PAPER, cost_delta_e00=1e-6)
    assert found is not None
    assert (found.parts, found.paste) == ((3, 1), 16)
    assert found.delta_e00 == pytest.approx(0.0, abs=1e-6)
    loose = whole_parts(one, SHELF, PAPER, cost_delta_e00=3.0)
    assert loose is not None
    assert sum(loose.parts) + loose.paste < 20
    total = sum(loose.parts) + loose.paste
    assert loose.delta_e00 == pytest.approx(apart(one, [part / total for part in loose.parts]), abs=1e-6)
    assert loose.delta_e00 <= 3.0


def test_what_is_clear_takes_the_place_of_paste() -> None:
    one = recipe(("Indian red", 0.2), ("Hansa yellow", 0.3))
    exact, paste = masses_g(one, SHELF, 38.8, clear_ml=1.0)
    volumes = [mass / DENSITY[name] for mass, name in zip(exact, ("Indian red", "Hansa yellow"), strict=True)]
    film = sum(volumes) + paste / PASTE_DENSITY_G_PER_ML + 1.0
    assert [volume / film for volume in volumes] == pytest.approx([0.2, 0.3])
    assert sum(exact) + paste == pytest.approx(38.8)
    assert weighed_batch(one, SHELF, PAPER, batch_g=38.8, clear_ml=1.0).delta_e00 < 0.3
    full = recipe(("Indian red", 1.0))
    assert masses_g(full, SHELF, 38.8, clear_ml=1.0) == ((38.8,), 0.0), "there is no paste to leave out"


def test_there_are_no_whole_parts_of_a_trace() -> None:
    assert whole_parts(recipe(("Hansa yellow", 0.3), ("Prussian blue", 0.0004)), SHELF, PAPER) is None


@pytest.mark.parametrize(
    ("batch_g", "step_g", "told"),
    [
        (0.0, 0.1, "above 0 g"),
        (40.0, 0.0, "steps of 0 g"),
        (1.0, 2.0, "steps of 2 g"),
        (40.0, 1e-300, "steps of 1e-300 g"),
        (1e300, 0.1, "at most 100000000 g"),
    ],
)
def test_a_scale_that_cannot_weigh_is_refused(batch_g: float, step_g: float, told: str) -> None:
    with pytest.raises(InkError, match=told):
        weighed_batch(recipe(("Indian red", 0.2)), SHELF, PAPER, batch_g=batch_g, step_g=step_g)
