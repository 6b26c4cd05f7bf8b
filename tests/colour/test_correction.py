"""Corrections: a pot that came out otherwise than wanted, brought back with additions only."""

from dataclasses import replace

import numpy as np
import pytest

from blockwright.colour import delta_e00
from blockwright.colour.correction import MOST_GROWTH, Correction, Pot, correction
from blockwright.colour.mixtures import recipe_reflectance
from blockwright.colour.pigments import starter_pigments
from blockwright.colour.recipes import find_recipes
from blockwright.colour.rounding import PASTE_DENSITY_G_PER_ML, weighed_batch
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import Wanted, wanted_colour, wanted_reflectance
from blockwright.model.errors import InkError
from blockwright.model.inks import Optics, Part, Pigment
from blockwright.model.units import Lab

PAPER = np.full(36, 0.85)
SHELF = starter_pigments()[:10]


def stronger(pigment: Pigment, factor: float) -> Pigment:
    optics = Optics(
        tuple(factor * v for v in pigment.optics.k),
        tuple(factor * v for v in pigment.optics.s),
        pigment.optics.log_k_spread,
        pigment.optics.log_s_spread,
    )
    return replace(pigment, optics=optics)


def seen(pot: Pot, pigments: tuple[Pigment, ...], passes: int) -> np.ndarray:
    """What a pot truly prints with pigments as they truly are."""
    by_name = {pigment.name: pigment for pigment in pigments}
    volumes = {name: mass / by_name[name].density_g_per_ml for name, mass in pot.pigments_g}
    total = sum(volumes.values()) + pot.paste_g / PASTE_DENSITY_G_PER_ML
    parts = [Part(name, volume / total) for name, volume in volumes.items() if volume > 0]
    return recipe_reflectance(parts, passes, pigments, PAPER)


def with_additions(pot: Pot, found: Correction) -> Pot:
    masses = dict(pot.pigments_g)
    for name, mass in found.pigments_g:
        masses[name] = masses.get(name, 0.0) + mass
    return Pot(tuple(masses.items()), pot.paste_g + found.paste_g)


def mixed_for(lab: Lab, passes: int) -> tuple[Pot, Wanted]:
    wanted = wanted_colour(lab)
    recipe = find_recipes(SHELF, wanted, PAPER, passes=passes).recipes[0]
    batch = weighed_batch(recipe, SHELF, PAPER)
    assert all(each.thinned == 1 for each in batch.components)
    return Pot(tuple((each.name, each.mass_g) for each in batch.components), batch.paste_g), wanted


@pytest.mark.parametrize("spectrum", [True, False], ids=["spectrum", "colour only"])
@pytest.mark.parametrize("lab", [(62.0, 12.0, 28.0), (55.0, -14.0, 8.0), (68.0, 18.0, 2.0)])
def test_additions_bring_a_true_pot_to_the_wanted_colour(lab: Lab, spectrum: bool) -> None:
    pot, wanted = mixed_for(lab, 2)
    # On the table the first pigment is a third stronger than the literature says, the second weaker.
    off = dict(zip([name for name, _ in pot.pigments_g], (1.35, 0.75, 1.0), strict=False))
    truth = tuple(stronger(pigment, off.get(pigment.name, 1.0)) for pigment in SHELF)
    print_of_it = wanted_reflectance(seen(pot, truth, 2))
    swatch = print_of_it if spectrum else wanted_colour(print_of_it.lab)
    before = float(delta_e00(swatch.lab, wanted.lab))
    assert before > 2.0
    found = correction(pot, SHELF, swatch, wanted, PAPER, passes=2)
    assert found.before_delta_e00 == pytest.approx(before, abs=1e-6)
    assert found.delta_e00 < 1.0
    after = seen(with_additions(pot, found), truth, 2)
    # The truth also depends on how strong what is added is, which no swatch of the pot tells.
    assert float(delta_e00(reflectance_to_lab(after), wanted.lab)) < 0.6 * before
    assert found.total_g == pytest.approx(with_additions(pot, found).total_g)
    assert found.total_g <= MOST_GROWTH * pot.total_g * 1.3


def test_nothing_is_ever_taken_out_and_amounts_are_weighable() -> None:
    pot, wanted = mixed_for((62.0, 12.0, 28.0), 1)
    swatch = wanted_colour((50.0, 20.0, 30.0))
    found = correction(pot, SHELF, swatch, wanted, PAPER, passes=1, step_g=0.5)
    for mass in (*(mass for _, mass in found.pigments_g), found.paste_g):
        assert mass >= 0.0
        assert (mass / 0.5) == pytest.approx(round(mass / 0.5))
    assert found.delta_e00 < found.before_delta_e00


def test_a_pot_that_is_near_enough_is_left_alone() -> None:
    pot, wanted = mixed_for((62.0, 12.0, 28.0), 1)
    found = correction(pot, SHELF, wanted_colour((62.3, 12.2, 28.1)), wanted, PAPER, passes=1)
    assert found.near_enough
    assert not found.pigments_g
    assert found.paste_g == 0.0
    assert found.delta_e00 == found.before_delta_e00


def test_a_pot_too_strong_by_half_needs_paste() -> None:
    rose = SHELF[0]
    pot, truth = Pot(((rose.name, 10.0),), 30.0), stronger(rose, 1.5)
    wanted = wanted_reflectance(seen(pot, (rose,), 1))
    swatch = wanted_reflectance(seen(pot, (truth,), 1))
    found = correction(pot, (rose,), swatch, wanted, PAPER, passes=1)
    assert found.pigments_g == ()
    # Half as strong again: half as much again of the whole is paste.
    assert found.paste_g == pytest.approx(0.5 * (10.0 / rose.density_g_per_ml + 30.0), rel=0.1)
    assert dict(found.strengths)[rose.name] == pytest.approx(1.5, rel=0.1)


@pytest.mark.parametrize(
    ("pot", "told"),
    [
        (Pot(((SHELF[0].name, 1e308),), 1e308), "1e\\+308 g of"),
        (Pot((), 10.0), "no pigment in it"),
        (Pot((("quinacridone rose", 0.0),), 10.0), "no pigment in it"),
        (Pot((("quinacridone rose", -1.0),), 10.0), "-1 g of quinacridone rose"),
        (Pot((("moonlight", 1.0),), 10.0), "moonlight, which is not among the pigments"),
    ],
)
def test_a_pot_that_cannot_be_is_refused(pot: Pot, told: str) -> None:
    grey = wanted_colour((50.0, 0.0, 0.0))
    with pytest.raises(InkError, match=told):
        correction(pot, SHELF, grey, wanted_colour((60.0, 0.0, 0.0)), PAPER, passes=1)
