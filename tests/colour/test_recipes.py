"""Recipes: what pigments make is found again, ranked, held to what is allowed, and told with care."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from blockwright.colour import delta_e00, layer_reflectance
from blockwright.colour.matching import descend
from blockwright.colour.mixtures import film_parts, mixture_uncertainty, recipe_reflectance
from blockwright.colour.optics import MIXTURE_DELTA_E00
from blockwright.colour.pigments import shipped_pigments, starter_pigments
from blockwright.colour.recipes import ALIKE_DELTA_E00, LEAST_PASTE_SHARE, Matches, find_recipes
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import Wanted, wanted_colour, wanted_reflectance
from blockwright.model.errors import InkError
from blockwright.model.inks import Optics, Part, Pigment

PAPER = np.full(36, 0.85)
SHELF = starter_pigments()[:12]


def made(parts: list[tuple[str, float]], passes: int, ground: np.ndarray = PAPER) -> np.ndarray:
    return recipe_reflectance([Part(name, share) for name, share in parts], passes, SHELF, ground)


@pytest.mark.parametrize(
    ("parts", "passes"),
    [
        ([("quinacridone rose", 0.3)], 1),
        ([("Hansa yellow", 0.4), ("phthalo green", 0.1)], 1),
        ([("Indian red", 0.2), ("French ultramarine", 0.3), ("zinc white", 0.004)], 2),
        ([("burnt umber", 0.05), ("cerulean blue", 0.5), ("Prussian blue", 0.001)], 3),
    ],
)
def test_a_colour_that_is_known_to_be_reachable_is_reached(
    parts: list[tuple[str, float]], passes: int
) -> None:
    wanted = wanted_reflectance(made(parts, passes))
    found = find_recipes(SHELF, wanted, PAPER, passes=passes)
    best = found.recipes[0]
    assert found.reachable
    assert best.delta_e00 < 0.05
    # The spectrum is known, so what made it matches under every light, and is the best.
    assert best.worst_light_delta_e00 < 0.2
    assert {part.pigment for part in best.parts} == {name for name, _ in parts}
    assert {part.pigment: pytest.approx(part.share, rel=0.05) for part in best.parts} == dict(parts)


def test_what_is_told_of_a_recipe_is_what_the_engine_says() -> None:
    wanted = wanted_colour((54.0, 12.0, 30.0))
    found = find_recipes(SHELF, wanted, PAPER)
    assert len(found.recipes) == 5
    assert not found.spectrum_known
    for recipe in found.recipes:
        seen = recipe_reflectance(recipe.parts, recipe.passes, SHELF, PAPER)
        lab = reflectance_to_lab(seen)
        assert recipe.predicted_lab == pytest.approx(lab.tolist(), abs=1e-3)
        assert recipe.delta_e00 == pytest.approx(float(delta_e00(lab, wanted.lab)), abs=1e-3)
        worst = max(
            float(delta_e00(reflectance_to_lab(seen, light), reflectance_to_lab(wanted.reflectance, light)))
            for light in ("A", "FL11")
        )
        assert recipe.worst_light_delta_e00 == pytest.approx(worst, abs=1e-3)
        assert recipe.paste_share + sum(part.share for part in recipe.parts) == pytest.approx(1.0)
        assert recipe.paste_share >= LEAST_PASTE_SHARE - 1e-9
        assert all(part.share > 0.0 for part in recipe.parts)
        assert recipe.uncertainty_delta_e00 > (MIXTURE_DELTA_E00 if len(recipe.parts) > 1 else 0.0)


def test_the_best_come_first_and_no_choice_twice() -> None:
    recipes = find_recipes(SHELF, wanted_colour((54.0, 12.0, 30.0)), PAPER).recipes
    ranks = [(int(each.delta_e00 / ALIKE_DELTA_E00), each.worst_light_delta_e00) for each in recipes]
    assert ranks == sorted(ranks)
    choices = {frozenset(part.pigment for part in each.parts) for each in recipes}
    assert len(choices) == len(recipes)


def test_the_same_question_has_the_same_answer() -> None:
    wanted = wanted_colour((40.0, -10.0, -20.0))
    assert find_recipes(SHELF, wanted, PAPER).recipes == find_recipes(SHELF, wanted, PAPER).recipes


def test_most_pigments_is_held_to() -> None:
    wanted = wanted_colour((54.0, 12.0, 30.0))
    for most in (1, 2, 4):
        found = find_recipes(SHELF[:8], wanted, PAPER, most_pigments=most)
        assert max(len(recipe.parts) for recipe in found.recipes) <= most


def test_a_colour_out_of_reach_is_said_with_the_nearest() -> None:
    wanted = wanted_colour((88.0, -80.0, 80.0))
    found = find_recipes(SHELF, wanted, PAPER)
    assert not found.reachable
    assert found.nearest_delta_e00 > 5.0
    assert found.nearest_delta_e00 == min(recipe.delta_e00 for recipe in found.recipes)
    assert float(delta_e00(found.nearest_lab, wanted.lab)) == pytest.approx(found.nearest_delta_e00, abs=1e-3)
    assert found.nearest_hex.startswith("#")


def test_a_dark_colour_takes_more_passes_and_a_pale_one_few() -> None:
    dark, pale = (
        find_recipes(SHELF, wanted_colour(lab), PAPER).recipes
        for lab in ((22.0, 8.0, -14.0), (82.0, 3.0, 6.0))
    )
    assert min(recipe.passes for recipe in dark) > 1
    assert {recipe.passes for recipe in pale} == {1}
    assert all(recipe.paste_share >= LEAST_PASTE_SHARE - 1e-9 for recipe in (*dark, *pale))


def test_open_passes_take_the_fewest_that_hold_the_pigment() -> None:
    wanted = wanted_colour((22.0, 8.0, -14.0))
    best = find_recipes(SHELF, wanted, PAPER).recipes[0]
    own = [pigment for pigment in SHELF if pigment.name in {part.pigment for part in best.parts}]
    fewer = find_recipes(own, wanted, PAPER, passes=best.passes - 1)
    assert fewer.nearest_delta_e00 > best.delta_e00 + 0.1


def test_transfer_factors_are_taken_into_account() -> None:
    rose = replace(SHELF[0], transfer=(0.5,))
    wanted = wanted_reflectance(layer_reflectance(rose.optics.k, rose.optics.s, 0.3 * 2.0, PAPER))
    (best,) = find_recipes([rose], wanted, PAPER, passes=3).recipes
    # Three passes lay down 1 + 0.5 + 0.5 films.
    assert best.parts[0].share == pytest.approx(0.3, rel=1e-3)


def test_a_recipe_over_another_ink_sees_what_lies_beneath() -> None:
    ground = made([("Hansa yellow", 0.5)], 1)
    wanted = wanted_reflectance(made([("French ultramarine", 0.3)], 1, ground))
    best = find_recipes(SHELF, wanted, ground, passes=1).recipes[0]
    assert [part.pigment for part in best.parts] == ["French ultramarine"]
    assert best.delta_e00 < 0.05


def test_no_worse_than_differential_evolution() -> None:
    # scipy's differential evolution; the bench does the same for fifty colours.
    k, s, _ = film_parts(SHELF[:6], 1)
    most = 1.0 - LEAST_PASTE_SHARE
    for lab in ((60.0, 20.0, 20.0), (25.0, 48.0, 38.0), (45.0, -35.0, 10.0)):
        wanted = wanted_colour(lab)

        def missed(x: np.ndarray, wanted: Wanted = wanted) -> np.ndarray:
            points = x.reshape(6, -1)
            chosen = np.minimum(points[:3].astype(int), 5)
            amounts = np.exp(points[3:])
            amounts *= np.minimum(1.0, most / amounts.sum(axis=0))
            mix_k, mix_s = ((amounts[:, :, None] * v[chosen]).sum(axis=0) for v in (k, s))
            seen = reflectance_to_lab(layer_reflectance(mix_k, mix_s, 1.0, PAPER))
            apart = delta_e00(seen, np.array(wanted.lab))
            return apart if x.ndim > 1 else apart[0]

        bounds = [(0.0, 5.999)] * 3 + [(np.log(1e-5), np.log(most))] * 3
        rival = differential_evolution(
            missed, bounds, maxiter=80, seed=1, updating="deferred", vectorized=True
        )
        found = find_recipes(SHELF[:6], wanted, PAPER, passes=1)
        assert found.nearest_delta_e00 <= rival.fun + 0.02


def test_many_pigments_and_one_pigment_are_searched() -> None:
    wanted = wanted_colour((54.0, 12.0, 30.0))
    assert find_recipes(shipped_pigments(), wanted, PAPER).reachable
    one = find_recipes(SHELF[:1], wanted, PAPER)
    assert len(one.recipes) == 1
    assert not one.reachable


def test_a_surer_pigment_makes_a_surer_recipe() -> None:
    rose = SHELF[0]
    sure = replace(rose, optics=Optics(rose.optics.k, rose.optics.s))
    parts = [Part(rose.name, 0.3)]
    film_only = mixture_uncertainty(parts, 1, [sure], PAPER)
    assert 0.2 < film_only < 2.0
    assert mixture_uncertainty(parts, 1, [rose], PAPER) > 3.0 * film_only
    # A film that varies by a tenth moves a print by 1 to 3.
    assert 1.0 < mixture_uncertainty(parts, 2, [sure], PAPER, film_variation=0.1) < 3.0


def _ask(**changed: object) -> Matches:
    asked = {"pigments": SHELF, "wanted": wanted_colour((50.0, 0.0, 0.0)), "ground": PAPER} | changed
    return find_recipes(**asked)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"pigments": ()}, "There is no pigment to mix from"),
        ({"pigments": (SHELF[0], SHELF[0])}, "Two pigments are called quinacridone rose"),
        ({"passes": 0}, "1 to 4 passes, not 0"),
        ({"passes": 5}, "1 to 4 passes, not 5"),
        ({"most_pigments": 0}, "1 to 4 pigments, not 0"),
        ({"least_paste_share": 1.0}, "least share of paste is 1"),
        ({"most_recipes": 0}, "At least one recipe"),
        ({"ground": [0.5] * 31}, "31 bands"),
        ({"ground": [1.5] * 36}, "lies between 0 and 1"),
    ],
)
def test_a_question_that_cannot_be_answered_is_refused(changed: dict[str, object], told: str) -> None:
    with pytest.raises(InkError, match=told):
        _ask(**changed)


@pytest.mark.parametrize("lab", [(120.0, 0.0, 0.0), (50.0, 0.0, 200.0), (float("nan"), 0.0, 0.0)])
def test_a_colour_that_cannot_be_is_refused(lab: tuple[float, float, float]) -> None:
    with pytest.raises(InkError, match="The wanted colour"):
        wanted_colour(lab)


def test_parts_of_a_recipe_are_checked() -> None:
    for parts, told in [
        ([], "at least one pigment"),
        ([Part("quinacridone rose", 0.0)], "above 0"),
        ([Part("quinacridone rose", 0.7), Part("Indian red", 0.7)], "at most 1"),
        ([Part("moonlight", 0.5)], "not among the pigments"),
    ]:
        with pytest.raises(InkError, match=told):
            recipe_reflectance(parts, 1, SHELF, PAPER)


def test_a_pigment_as_strong_as_can_be_is_used_in_traces() -> None:
    black: Pigment = replace(SHELF[0], name="soot", optics=Optics((3000.0,) * 36, (1.0,) * 36))
    wanted = wanted_reflectance(layer_reflectance(3000.0 * 1e-4, 1e-4, 1.0, PAPER))
    (best,) = find_recipes([black], wanted, PAPER, passes=1).recipes
    assert best.parts[0].share == pytest.approx(1e-4, rel=1e-3)


def test_a_clear_pigment_and_a_white_one_do_no_harm() -> None:
    clear = replace(SHELF[0], name="water", optics=Optics((0.0,) * 36, (0.0,) * 36))
    white = replace(SHELF[0], name="chalk", optics=Optics((0.0,) * 36, (2.0,) * 36))
    found = find_recipes([clear, white], wanted_colour((60.0, 30.0, 0.0)), PAPER)
    assert not found.reachable
    assert np.isfinite(found.nearest_delta_e00)
    mixed = find_recipes([clear, white, *SHELF], wanted_colour((60.0, 30.0, 0.0)), PAPER)
    assert all("water" not in {part.pigment for part in each.parts} for each in mixed.recipes)


@pytest.mark.parametrize("lab", [(0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (50.0, 0.0, 0.0), (93.97, 0.0, 0.0)])
def test_greys_and_the_ends_are_searched(lab: tuple[float, float, float]) -> None:
    found = find_recipes(SHELF, wanted_colour(lab), PAPER)
    assert np.isfinite([each.uncertainty_delta_e00 for each in found.recipes]).all()
    assert found.bare_delta_e00 == pytest.approx(
        float(delta_e00(reflectance_to_lab(PAPER), np.array(lab))), abs=1e-6
    )
    assert found.nearest_delta_e00 <= found.bare_delta_e00 + 0.02


def test_the_search_is_compiled_once() -> None:
    # Each kind of array costs seconds of compiling; what cannot be written to is a kind of its own.
    frozen = np.array(PAPER)
    frozen.flags.writeable = False
    before = len(descend.signatures)
    for ground in (PAPER, frozen, list(PAPER)):
        for lab in ((60.0, 20.0, 20.0), (88.0, -80.0, 80.0)):
            find_recipes(SHELF, wanted_colour(lab), ground)
    assert len(descend.signatures) == max(before, 1)
