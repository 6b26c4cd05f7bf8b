"""Inks found from patches: the truth comes back where the patches tell it, and what is told is honest."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from bench.inks import mixture_errors, overprint_errors

from blockwright.colour import delta_e00, layer_reflectance
from blockwright.colour.films import mixed
from blockwright.colour.fitting import Patch, fit_inks
from blockwright.colour.optics import (
    InkOptics,
    known_inks,
    predicted,
    together,
    uncertainty_delta_e00,
    with_film_variation,
)
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.surface import seen_reflectance, surface_of_index
from blockwright.model.errors import InkError

BANDS = np.arange(36)
ROSE_K = 0.05 + 1.5 * np.exp(-(((BANDS - 15) / 6.0) ** 2))
ROSE_S = 0.08 - 0.001 * BANDS
CHALK_K, CHALK_S = np.full(36, 0.02), 3.0 - 0.03 * BANDS
WHITE, BLACK = np.full(36, 0.85), np.full(36, 0.05)


def film(k: np.ndarray, s: np.ndarray, thickness: float, ground: np.ndarray) -> Patch:
    return Patch(layer_reflectance(k, s, thickness, ground), ground, thickness=thickness)


def both_grounds(k: np.ndarray, s: np.ndarray, thickness: float = 1.0) -> list[Patch]:
    return [film(k, s, thickness, ground) for ground in (WHITE, BLACK)]


def over_white(k: np.ndarray, s: np.ndarray) -> np.ndarray:
    return layer_reflectance(k[..., 0, :], s[..., 0, :], 1.0, WHITE)


def test_white_and_black_tell_both_constants() -> None:
    fit = fit_inks(["rose"], both_grounds(ROSE_K, ROSE_S), noise=1e-4)
    np.testing.assert_allclose(fit.inks.k[0], ROSE_K, rtol=0.02)
    np.testing.assert_allclose(fit.inks.s[0], ROSE_S, rtol=0.02)
    assert max(fit.residual_delta_e00) < 0.02
    np.testing.assert_allclose(fit.thickness, 1.0, atol=0.01)


def test_a_hiding_white_too() -> None:
    fit = fit_inks(["chalk"], both_grounds(CHALK_K, CHALK_S), noise=1e-4)
    np.testing.assert_allclose(fit.inks.s[0], CHALK_S, rtol=0.05)
    np.testing.assert_allclose(fit.inks.k[0], CHALK_K, rtol=0.05)


def test_over_white_alone_the_colour_is_sure_and_the_scattering_is_not() -> None:
    alone = fit_inks(["rose"], both_grounds(ROSE_K, ROSE_S)[:1])
    both = fit_inks(["rose"], both_grounds(ROSE_K, ROSE_S))
    assert max(alone.residual_delta_e00) < 0.3
    assert alone.inks.s_uncertainty().min() > 1.0
    assert both.inks.s_uncertainty().max() < 0.3

    def over_black(k: np.ndarray, s: np.ndarray) -> np.ndarray:
        return layer_reflectance(k[..., 0, :], s[..., 0, :], 1.0, BLACK)

    assert uncertainty_delta_e00(alone.inks, over_black) > 4.0 * uncertainty_delta_e00(both.inks, over_black)


def test_more_patches_make_it_surer() -> None:
    told = [
        uncertainty_delta_e00(fit_inks(["rose"], patches).inks, over_white)
        for patches in (
            both_grounds(ROSE_K, ROSE_S),
            [patch for passes in (1.0, 2.0, 3.0) for patch in both_grounds(ROSE_K, ROSE_S, passes)],
        )
    ]
    assert told[1] < 0.7 * told[0]


def test_a_transfer_factor_is_found_where_it_is_left_open() -> None:
    second = [
        Patch(layer_reflectance(ROSE_K, ROSE_S, 1.8, ground), ground, thickness=2.0, film_variation=0.3)
        for ground in (WHITE, BLACK)
    ]
    fit = fit_inks(["rose"], [*both_grounds(ROSE_K, ROSE_S), *second], noise=1e-3)
    np.testing.assert_allclose(fit.thickness, [1.0, 1.0, 1.8, 1.8], atol=0.03)


def test_a_test_mix_tells_the_strength_of_a_hiding_paint() -> None:
    # Both paints hide, so that alone only K / S of each shows; the mix tells the one's strength by the other.
    k, s = np.stack([8.0 * ROSE_K, CHALK_K]), np.stack([60.0 * ROSE_S, 10.0 * CHALK_S])
    shares = [(1.0, 0.0), (0.0, 1.0), (0.1, 0.9)]
    patches = [Patch(layer_reflectance(*mixed(k, s, share), 1.0, WHITE), WHITE, share) for share in shares]

    def half(k: np.ndarray, s: np.ndarray) -> np.ndarray:
        return layer_reflectance(*mixed(k, s, np.full(k.shape[:-1], 0.5)), 1.0, WHITE)

    truth = reflectance_to_lab(half(k, s))
    without = fit_inks(["rose", "chalk"], patches[:2])
    with_mix = fit_inks(["rose", "chalk"], patches)
    off = [
        float(delta_e00(reflectance_to_lab(predicted(fit.inks, half)), truth)) for fit in (without, with_mix)
    ]
    assert off[1] < 1.0
    assert off[1] < off[0]
    assert uncertainty_delta_e00(with_mix.inks, half) < uncertainty_delta_e00(without.inks, half)


def test_the_surface_is_taken_off_first() -> None:
    surface = surface_of_index(1.5, gloss_share=1.0)
    patches = [
        Patch(seen_reflectance(patch.reflectance, surface), seen_reflectance(patch.ground, surface))
        for patch in both_grounds(ROSE_K, ROSE_S)
    ]
    fit = fit_inks(["rose"], patches, noise=1e-4, surface=surface)
    np.testing.assert_allclose(fit.inks.k[0], ROSE_K, rtol=0.03)
    assert max(fit.residual_delta_e00) < 0.02


def test_patches_that_contradict_each_other_make_it_less_sure() -> None:
    darker = Patch(both_grounds(2.0 * ROSE_K, ROSE_S)[0].reflectance, WHITE)
    agreed = fit_inks(["rose"], both_grounds(ROSE_K, ROSE_S))
    torn = fit_inks(["rose"], [*both_grounds(ROSE_K, ROSE_S), darker])
    assert agreed.noise_factor == 1.0
    assert torn.noise_factor > 1.5
    assert uncertainty_delta_e00(torn.inks, over_white) > uncertainty_delta_e00(agreed.inks, over_white)


def test_what_is_told_is_what_happens() -> None:
    # Made-up inks with known truth: two of three overprints should lie within the told uncertainty.
    errors = overprint_errors(passes=(1, 2, 3), inks=8)
    assert float(np.median(errors.delta_e00)) <= 0.5
    assert float(np.quantile(errors.delta_e00, 0.95)) <= 1.0
    assert 0.45 < errors.within() < 0.9


def test_measured_mixtures_of_oil_paints() -> None:
    # Geldof et al., Heritage Science 6:17, 2018: 12 half-and-half mixtures over white and over black, unseen.
    errors = mixture_errors(test_mix=True)
    assert len(errors.delta_e00) == 24
    assert float(np.median(errors.delta_e00)) <= 2.5
    without = mixture_errors(test_mix=False, most=3)
    assert float(np.median(without.delta_e00)) > 1.5 * float(np.median(errors.delta_e00[:6]))


def test_the_same_patches_give_the_same_inks() -> None:
    one, two = (fit_inks(["rose"], both_grounds(ROSE_K, ROSE_S)) for _ in range(2))
    np.testing.assert_array_equal(one.inks.k, two.inks.k)
    np.testing.assert_array_equal(one.inks.log_s_spread, two.inks.log_s_spread)


def test_uncertainty_of_a_known_spread_is_what_sampling_gives() -> None:
    inks = with_film_variation(known_inks(["rose"], [ROSE_K], [ROSE_S], log_spread=0.05, in_step=False), 0.1)
    rng = np.random.default_rng(6)
    weights = rng.normal(size=(4000, len(inks.log_k_spread)))
    k = inks.k * np.exp(np.tensordot(weights, inks.log_k_spread, 1))
    s = inks.s * np.exp(np.tensordot(weights, inks.log_s_spread, 1))
    apart = delta_e00(reflectance_to_lab(over_white(k, s)), reflectance_to_lab(predicted(inks, over_white)))
    told = uncertainty_delta_e00(inks, over_white)
    assert told == pytest.approx(float(np.sqrt((apart**2).mean())), rel=0.1)


def test_inks_found_apart_stand_together() -> None:
    rose, chalk = (
        known_inks(["rose"], [ROSE_K], [ROSE_S], log_spread=0.1),
        known_inks(["chalk"], [CHALK_K], [CHALK_S]),
    )
    both = together(rose, chalk)
    assert both.names == ("rose", "chalk")
    np.testing.assert_allclose(both.k_uncertainty()[:, 0], [0.1, 0.0])
    assert uncertainty_delta_e00(chalk, over_white) == 0.0


def test_a_patch_that_is_a_bound_counts_for_little() -> None:
    """The same swatches, one of them wrong: with much noise of its own it draws the inks less."""
    white, black = np.full(36, 0.85), np.full(36, 0.03)
    k, s = np.full(36, 0.6), np.full(36, 0.06)

    def seen(ground: np.ndarray) -> np.ndarray:
        return layer_reflectance(k, s, 1.0, ground)

    wrong = np.clip(seen(white) + 0.1, 0.0, 1.0)
    true = [Patch(seen(white), white, name="right"), Patch(seen(black), black, name="over black")]
    sure = fit_inks(["ink"], [*true, Patch(wrong, white, name="wrong")])
    bound = fit_inks(["ink"], [*true, Patch(wrong, white, name="wrong", noise=0.15)])
    away = [np.abs(np.log(fit.inks.k[0] / k)).mean() for fit in (sure, bound)]
    assert away[1] < 0.3 * away[0]
    assert away[1] < 0.05
    with pytest.raises(InkError, match="The noise of the patch is above 0"):
        fit_inks(["ink"], [replace(true[0], name="the patch", noise=0.0)])


def test_what_cannot_be_fitted_is_told() -> None:
    patch = both_grounds(ROSE_K, ROSE_S)[0]
    cases: dict[str, Callable[[], object]] = {
        "at least one ink and one patch": lambda: fit_inks(["rose"], []),
        "2 inks are fitted, but the patch has 1 amounts": lambda: fit_inks(["rose", "chalk"], [patch]),
        "No patch has any chalk in it": lambda: fit_inks(
            ["rose", "chalk"], [Patch(WHITE, WHITE, amounts=(1.0, 0.0))]
        ),
        "one is above 0": lambda: fit_inks(["rose"], [Patch(WHITE, WHITE, amounts=(0.0,))]),
        "film of the patch are above 0": lambda: fit_inks(["rose"], [Patch(WHITE, WHITE, thickness=0.0)]),
        "Noise and usual": lambda: fit_inks(["rose"], [patch], noise=0.0),
        "The ground of the patch has 31 bands": lambda: fit_inks(["rose"], [Patch(WHITE, np.full(31, 0.5))]),
        "The reflectance of the patch at 380 nm is 1.2": lambda: fit_inks(
            ["rose"], [Patch(np.full(36, 1.2), WHITE)]
        ),
    }
    for says, wrong in cases.items():
        with pytest.raises(InkError, match=says):
            wrong()
    with pytest.raises(InkError, match="0 or more"):
        known_inks(["rose"], [-ROSE_K], [ROSE_S])
    with pytest.raises(InkError, match="needs a name"):
        InkOptics(("a", "b"), np.ones((1, 36)), np.ones((1, 36)), np.ones((0, 1, 36)), np.ones((0, 1, 36)))
    with pytest.raises(InkError, match="At least one ink"):
        together()
    with pytest.raises(InkError, match="three in a hundred"):
        with_film_variation(known_inks(["rose"], [ROSE_K], [ROSE_S]), -0.1)
    with pytest.raises(ValueError, match="read-only"):
        known_inks(["rose"], [ROSE_K], [ROSE_S]).k[0, 0] = 1.0
