"""Mixtures, paste and passes: they add as amounts do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from blockwright.colour.films import diluted, film_thickness, mixed, overprinted
from blockwright.colour.layers import infinite_reflectance, layer_reflectance, stack_reflectance
from blockwright.colour.surface import Surface, surface_of_index
from blockwright.model.errors import InkError

RNG = np.random.default_rng(3)
K, S = RNG.uniform(0.0, 2.0, (3, 36)), RNG.uniform(0.0, 1.0, (3, 36))
amounts = st.lists(st.floats(0.0, 5.0), min_size=3, max_size=3).filter(lambda values: sum(values) > 1e-3)


@given(amounts, st.floats(0.1, 10.0))
def test_a_mixture_is_as_thick_as_its_amounts(parts: list[float], times: float) -> None:
    k, s = mixed(K, S, parts)
    more_k, more_s = mixed(K, S, [part * times for part in parts])
    np.testing.assert_allclose(
        layer_reflectance(more_k, more_s, 1.0, 0.8), layer_reflectance(k, s, times, 0.8), atol=1e-10
    )


def test_mixing_two_mixtures_is_one_mixture() -> None:
    first, second = mixed(K, S, [0.5, 0.5, 0.0]), mixed(K, S, [0.0, 0.25, 0.75])
    both = mixed(np.stack([first[0], second[0]]), np.stack([first[1], second[1]]), [0.4, 0.6])
    np.testing.assert_allclose(both, mixed(K, S, [0.2, 0.35, 0.45]), atol=1e-12)


def test_a_thick_mixture_follows_duncan() -> None:
    # Duncan 1940: K/S of a hiding mixture is the sum of the Ks over the sum of the Ss, by amount.
    k, s = mixed(K, S, [1.0, 2.0, 1.0])
    ratio = (K[0] + 2 * K[1] + K[2]) / (S[0] + 2 * S[1] + S[2])
    np.testing.assert_allclose(
        layer_reflectance(k, s, 1e5, 0.8), 1 + ratio - np.sqrt(ratio**2 + 2 * ratio), atol=1e-9
    )
    np.testing.assert_allclose(infinite_reflectance(k, s), layer_reflectance(k, s, 1e5, 0.0), atol=1e-9)


@given(st.floats(0.0, 0.99))
def test_half_the_ink_in_twice_the_film_is_the_same(paste: float) -> None:
    k, s = diluted(K[0], S[0], paste_share=paste)
    np.testing.assert_allclose(
        layer_reflectance(k, s, 1.0 / (1.0 - paste), 0.7), layer_reflectance(K[0], S[0], 1.0, 0.7), atol=1e-9
    )


@given(st.floats(0.01, 4.0), st.floats(0.0, 4.0), st.floats(0.05, 3.0), st.floats(0.0, 1.0))
def test_a_film_solves_kubelka_s_and_munk_s_equations(k: float, s: float, x: float, ground: float) -> None:
    # The two differential equations themselves (1931), by the matrix exponential: light down i, light up j,
    # i' = -(k + s) i + s j and j' = (k + s) j - s i, with j = ground i at the bottom.
    down, up = expm(x * np.array([[-(k + s), s], [-s, k + s]]))
    expected = (ground * down[0] - up[0]) / (up[1] - ground * down[1])
    assert float(overprinted([k * x], [s * x], [ground])[0]) == pytest.approx(expected, abs=1e-8)


def test_paste_that_scatters_is_a_mixture_with_paste() -> None:
    k, s = diluted(K[0], S[0], paste_share=0.6, paste_s=0.02)
    as_mixture = mixed([K[0], np.zeros(36)], [S[0], np.full(36, 0.02)], [0.4, 0.6])
    np.testing.assert_allclose((k, s), as_mixture, atol=1e-12)
    assert diluted(K[0], S[0], paste_share=[[0.1], [0.2]])[0].shape == (2, 1, 36)


def test_passes_add_up() -> None:
    assert film_thickness(1) == 1.0
    assert film_thickness(4) == 4.0
    assert film_thickness(3, transfer=(0.9, 0.8)) == pytest.approx(2.7)
    assert film_thickness(4, transfer=(0.5,)) == pytest.approx(2.5)
    once = [(K[0], S[0], part) for part in (1.0, 0.9, 0.8)]
    np.testing.assert_allclose(
        overprinted(K[0], S[0], np.full(36, 0.8), passes=3, transfer=(0.9, 0.8)),
        stack_reflectance(0.8, once),
        atol=1e-12,
    )


def test_a_clear_film_shows_its_ground_through_any_surface() -> None:
    clear, ground = np.zeros(36), np.linspace(0.05, 0.55, 36)
    for surface in (None, surface_of_index(1.5, gloss_share=1.0), Surface(0.03, 0.4, 0.5)):
        np.testing.assert_allclose(overprinted(clear, clear, ground, surface=surface), ground, atol=1e-12)


def test_what_cannot_be_mixed_is_told() -> None:
    with pytest.raises(InkError, match="is 0 or more"):
        mixed(K, S, [0.5, -0.1, 0.5])
    with pytest.raises(InkError, match="some of at least one"):
        mixed(K, S, [0.0, 0.0, 0.0])
    with pytest.raises(InkError, match="one amount, one K and one S"):
        mixed(K, S, [0.5, 0.5])
    with pytest.raises(InkError, match="share of paste"):
        diluted(K[0], S[0], paste_share=1.0)
    with pytest.raises(InkError, match="at least one pass, not 0"):
        film_thickness(0)
    with pytest.raises(InkError, match="above 0"):
        film_thickness(2, transfer=(0.0,))
    with pytest.raises(InkError, match="less than the surface"):
        overprinted(K[0], S[0], np.full(36, 0.01), surface=surface_of_index(1.5, gloss_share=1.0))
