"""The slopes that the search goes down, against differences of the engine itself."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour import delta_e00, layer_reflectance
from blockwright.colour.slopes import film, lab_of, parts_e00, quadratic_form
from blockwright.colour.spectra import weights
from blockwright.colour.srgb import xyz_to_lab

STEP = 1e-6


def film_of(k: np.ndarray, s: np.ndarray, ground: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    by_k, by_s, seen = np.empty((3, len(k)))
    film(k, s, ground, by_k, by_s, seen)
    return seen, by_k, by_s


def test_the_film_is_the_layer_of_the_engine() -> None:
    rng = np.random.default_rng(0)
    k, s, ground = rng.uniform(0, 3, 36), rng.uniform(0, 2, 36), rng.uniform(0.05, 0.95, 36)
    # Clear, hardly absorbing, not scattering, and hiding altogether.
    k[:4], s[2:4] = (0.0, 1e-7, 1.0, 400.0), (0.0, 30.0)
    seen, by_k, by_s = film_of(k, s, ground)
    np.testing.assert_allclose(seen, layer_reflectance(k, s, 1.0, ground), atol=1e-14)
    more_k = (layer_reflectance(k + STEP, s, 1.0, ground) - seen) / STEP
    more_s = (layer_reflectance(k, s + STEP, 1.0, ground) - seen) / STEP
    np.testing.assert_allclose(by_k, more_k, atol=2e-5)
    np.testing.assert_allclose(by_s, more_s, atol=2e-5)


def test_the_series_joins_the_closed_form() -> None:
    # q = k (k + 2 s) crosses 1e-4, where the one gives way to the other.
    k = np.array([0.0099, 0.00999999, 0.01000001, 0.0101])
    seen, by_k, by_s = film_of(k, np.zeros(4), np.full(4, 0.8))
    np.testing.assert_allclose(seen, 0.8 * np.exp(-2.0 * k), rtol=1e-13)
    np.testing.assert_allclose(by_k, -1.6 * np.exp(-2.0 * k), rtol=1e-9)
    assert by_s == pytest.approx(by_s[0], rel=0.01)


def test_lab_is_that_of_the_engine() -> None:
    white = weights("D65").sum(axis=0)
    for xyz in ([0.2, 0.3, 0.1], [0.001, 0.002, 0.0005], [0.9, 1.0, 1.0]):
        lab, slope = np.empty((2, 3))
        lab_of(np.array(xyz), white, lab, slope)
        np.testing.assert_allclose(lab, xyz_to_lab(xyz), atol=1e-9)


COLOURS = st.tuples(st.floats(0, 100), st.floats(-90, 90), st.floats(-90, 90))


@given(COLOURS, COLOURS)
def test_the_three_parts_make_up_ciede2000(one: tuple[float, ...], two: tuple[float, ...]) -> None:
    # Sharma, Wu, Dalal 2005; the engine's own is held to their 34 pairs in test_difference.py.
    parts = np.empty(3)
    parts_e00(np.array(one), np.array(two), parts)
    hue_1, hue_2 = np.arctan2(one[2], one[1]), np.arctan2(two[2], two[1])
    if abs(abs(hue_1 - hue_2) - np.pi) > 1e-3:  # at opposite hues the formula jumps
        assert float(np.sqrt((parts**2).sum())) == pytest.approx(float(delta_e00(one, two)), abs=1e-6)


@given(COLOURS, st.tuples(*[st.floats(-1, 1)] * 3))
def test_the_quadratic_form_is_ciede2000_near_by(lab: tuple[float, ...], way: tuple[float, ...]) -> None:
    if np.hypot(lab[1], lab[2]) < 1.0 or np.linalg.norm(way) < 0.1:
        return
    there = np.array(lab) + 0.05 * np.array(way)
    told = np.linalg.norm(quadratic_form(np.array(lab)) @ (there - np.array(lab)))
    assert told == pytest.approx(float(delta_e00(lab, there)), rel=0.05, abs=1e-4)
