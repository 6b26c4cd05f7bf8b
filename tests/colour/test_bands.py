"""Measured spectra onto the 36 bands: exact where measured, refused where nothing is known."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour.bands import BANDS_NM, checked_bands, lagrange_matrix, on_bands
from blockwright.model.errors import InkError

cubics = st.lists(st.floats(-1.0, 1.0), min_size=4, max_size=4)


@given(cubics, st.sampled_from([5.0, 7.0, 10.0, 20.0]))
def test_a_cubic_comes_through_exactly_where_four_neighbours_are(factors: list[float], step: float) -> None:
    waves = np.arange(340.0, 781.0, step)
    cubic = np.polynomial.Polynomial(factors, domain=(340.0, 780.0))
    np.testing.assert_allclose(
        lagrange_matrix(waves, BANDS_NM) @ cubic(waves), cubic(np.array(BANDS_NM)), atol=1e-11
    )


def test_measured_wavelengths_keep_their_values() -> None:
    values = np.random.default_rng(4).random((3, 36))
    np.testing.assert_array_equal(on_bands(BANDS_NM, values).reflectance, values)
    fine = np.arange(360.0, 761.0, 2.0)
    many = np.random.default_rng(5).random(len(fine))
    np.testing.assert_array_equal(on_bands(fine, many).reflectance, many[np.isin(fine, BANDS_NM)])


def test_twenty_nanometre_steps_agree_with_colour_science() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
        colour = pytest.importorskip("colour")
    waves = np.arange(380.0, 741.0, 20.0)
    values = 0.4 + 0.3 * np.sin(waves / 60.0)
    ours = on_bands(waves, values).reflectance
    theirs = colour.SpragueInterpolator(waves, values)(BANDS_NM)
    # Another method (Sprague's fifth degree), the same smooth spectrum; the ends are quadratic here.
    np.testing.assert_allclose(ours[2:-2], theirs[2:-2], atol=2e-4)
    np.testing.assert_allclose(ours, theirs, atol=1e-3)


def test_ends_are_held_only_when_asked_and_said() -> None:
    waves = np.arange(400.0, 701.0, 10.0)
    values = np.linspace(0.1, 0.7, 31)
    with pytest.raises(
        InkError, match=r"^Cadmium red is measured from 400 to 700 nm; 380 to 730 nm are needed"
    ):
        on_bands(waves, values, name="cadmium red")
    held = on_bands(waves, values, hold_ends=True)
    assert held.held_nm == (380.0, 390.0, 710.0, 720.0, 730.0)
    assert held.reflectance[:2].tolist() == [0.1, 0.1]
    assert held.reflectance[-3:].tolist() == [0.7, 0.7, 0.7]
    with pytest.raises(InkError, match="410 to 700 nm are needed"):
        on_bands(np.arange(420.0, 731.0, 10.0), np.full(32, 0.5), hold_ends=True)


def test_an_overshoot_beside_a_steep_step_stays_possible() -> None:
    waves = np.arange(380.0, 741.0, 20.0)
    steep = np.where(waves < 560.0, 0.0, 1.0)
    on = on_bands(waves, steep).reflectance
    assert on.min() == 0.0
    assert on.max() == 1.0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (
            {3: -0.01},
            r"The reflectance of this patch at 410 nm is -0\.01; it lies between 0 and 1, so divide",
        ),
        ({3: 56.0}, r"at 410 nm is 56; it lies between 0 and 1"),
        ({3: np.nan, 7: np.inf}, r"^This patch has no value at 410, 450 nm\.$"),
    ],
)
def test_impossible_values_are_told(change: dict[int, float], says: str) -> None:
    values = np.full((2, 36), 0.5)
    for band, value in change.items():
        values[1, band] = value
    with pytest.raises(InkError, match=says):
        checked_bands(values, name="this patch")
    with pytest.raises(InkError, match=says):
        on_bands(BANDS_NM, values, name="this patch")


def test_missing_bands_are_told() -> None:
    with pytest.raises(InkError, match="has 31 bands; 36 are needed, 380 to 730 nm by 10"):
        checked_bands(np.full(31, 0.5))
    with pytest.raises(InkError, match="has 1 bands"):
        checked_bands(0.5)
    gap = np.concatenate([np.arange(380.0, 501.0, 10.0), np.arange(540.0, 731.0, 10.0)])
    with pytest.raises(InkError, match="no wavelength lies between 500 and 540 nm"):
        on_bands(gap, np.full(len(gap), 0.5))
    with pytest.raises(InkError, match="has 5 values for 36 wavelengths"):
        on_bands(BANDS_NM, np.full(5, 0.5))
    with pytest.raises(InkError, match="do not rise"):
        on_bands(BANDS_NM[::-1], np.full(36, 0.5))
    with pytest.raises(InkError, match="at least three"):
        on_bands([380.0, 390.0], [0.5, 0.5])
