"""Ink layers against the closed forms and published watercolours."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour.layers import (
    absorption_for,
    infinite_reflectance,
    layer_body,
    layer_reflectance,
    stack_reflectance,
)

amounts = st.floats(0.0, 20.0)
reflectances = st.floats(0.0, 1.0)
bands = st.tuples(reflectances, reflectances, reflectances)


def test_published_layer() -> None:
    # Kubelka 1948, closed form with hyperbolic functions, computed independently below.
    assert float(layer_reflectance(1.0, 0.5, 1.0, 0.8)) == pytest.approx(0.213052, abs=1e-6)
    k, s, x, ground = 0.7, 0.3, 1.7, 0.6
    a = 1.0 + k / s
    b = np.sqrt(a * a - 1.0)
    coth = 1.0 / np.tanh(b * s * x)
    hyperbolic = (1.0 - ground * (a - b * coth)) / (a - ground + b * coth)
    assert float(layer_reflectance(k, s, x, ground)) == pytest.approx(hyperbolic, abs=1e-12)


@given(amounts, amounts, st.floats(0.0, 5.0), reflectances)
def test_two_layers_are_one_of_twice_the_thickness(k: float, s: float, x: float, ground: float) -> None:
    twice = stack_reflectance(ground, [(k, s, x), (k, s, x)])
    assert float(twice) == pytest.approx(float(layer_reflectance(k, s, 2.0 * x, ground)), abs=1e-9)


def test_infinite_layer() -> None:
    # R = 1 + K/S - sqrt((K/S)^2 + 2 K/S), Kubelka and Munk 1931.
    q = np.array([1e-6, 0.01, 0.5, 2.0, 50.0])
    np.testing.assert_allclose(infinite_reflectance(q, 1.0), 1.0 + q - np.sqrt(q * q + 2.0 * q), atol=1e-12)
    np.testing.assert_allclose(layer_reflectance(q, 1.0, 1e6, 0.8), infinite_reflectance(q, 1.0), atol=1e-9)
    assert infinite_reflectance(3.0, 0.0) == 0.0
    assert infinite_reflectance(0.0, 0.0) == 0.0


def test_quinacridone_rose() -> None:
    # Curtis et al., Computer-Generated Watercolor, SIGGRAPH 1997, figure 5: K and S in R, G, B.
    k, s = np.array([0.22, 1.47, 0.57]), np.array([0.05, 0.003, 0.03])
    white, black = layer_reflectance(k, s, 1.0, 1.0), layer_reflectance(k, s, 1.0, 0.0)
    np.testing.assert_allclose(white, [0.6461, 0.0536, 0.3242], atol=5e-5)
    np.testing.assert_allclose(black, [0.03866, 0.00096, 0.01747], atol=5e-6)
    # Their way back from the two appearances (section 5.1).
    a = 0.5 * (white + (black - white + 1.0) / black)
    b = np.sqrt(a * a - 1.0)
    s_back = np.arctanh(b * (1.0 - white) / (b * b - (a - white) * (a - 1.0))) / b
    np.testing.assert_allclose(s_back, s, rtol=1e-6)
    np.testing.assert_allclose(s_back * (a - 1.0), k, rtol=1e-6)


@given(amounts, st.floats(0.0, 5.0), reflectances)
def test_without_scattering_it_is_beer_lambert(k: float, x: float, ground: float) -> None:
    expected = ground * np.exp(-2.0 * k * x)
    assert float(layer_reflectance(k, 0.0, x, ground)) == pytest.approx(expected, abs=1e-12)
    assert float(layer_reflectance(k, 1e-9, x, ground)) == pytest.approx(expected, abs=1e-7)


@given(amounts, st.floats(0.0, 5.0), reflectances)
def test_without_absorption_nothing_is_lost(s: float, x: float, ground: float) -> None:
    body, through = layer_body(0.0, s, x)
    assert float(body + through) == pytest.approx(1.0, abs=1e-12)
    assert float(layer_reflectance(0.0, s, x, 1.0)) == pytest.approx(1.0, abs=1e-9)
    assert float(layer_reflectance(1e-12, s, x, ground)) == pytest.approx(
        float(layer_reflectance(0.0, s, x, ground)), abs=1e-5
    )


@given(amounts, amounts, st.floats(0.0, 5.0), reflectances)
def test_reflectance_stays_between_0_and_1_and_falls_with_absorption(
    k: float, s: float, x: float, ground: float
) -> None:
    here = float(layer_reflectance(k, s, x, ground))
    assert -1e-12 <= here <= 1.0 + 1e-12
    assert float(layer_reflectance(k + 0.5, s, x, ground)) <= here + 1e-12


def test_any_number_of_bands() -> None:
    k = np.linspace(0.0, 2.0, 36)
    film = layer_reflectance(k, 0.1, np.array([[1.0], [2.0]]), 0.8)
    assert film.shape == (2, 36)


def test_negative_layers_are_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        layer_reflectance(-0.1, 0.5, 1.0, 0.8)
    with pytest.raises(ValueError, match="above 0"):
        absorption_for(0.2, 0.8, thickness=0.0, scattering=0.1)
