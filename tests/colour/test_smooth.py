"""Smooth reflectances: the colour comes back, and nothing calmer has it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour import delta_e00, srgb_to_lab, srgb_to_linear
from blockwright.colour.smooth import smooth_reflectance, smooth_reflectance_of_linear
from blockwright.colour.spectra import reflectance_to_lab, reflectance_to_xyz, weights
from blockwright.model.errors import InkError

ROUND_TRIP_DE00 = 1e-3
levels = st.integers(0, 255)


def test_a_thousand_colours_come_back() -> None:
    srgb = np.random.default_rng(8).random((1000, 3))
    found = smooth_reflectance_of_linear(srgb_to_linear(srgb))
    assert 0.0 < found.min() < found.max() < 1.0
    assert delta_e00(reflectance_to_lab(found), srgb_to_lab(srgb)).max() < ROUND_TRIP_DE00


@given(levels, levels, levels)
def test_every_colour_of_a_display_comes_back(red: int, green: int, blue: int) -> None:
    srgb = np.array([red, green, blue]) / 255.0
    found = smooth_reflectance_of_linear(srgb_to_linear(srgb))
    assert 0.0 <= found.min() <= found.max() <= 1.0
    assert float(delta_e00(reflectance_to_lab(found), srgb_to_lab(srgb))) < ROUND_TRIP_DE00


def test_it_is_the_calmest_of_all_with_its_colour() -> None:
    # What Burns asks for, checked without his equations: any small change that keeps the colour is less calm.
    rng = np.random.default_rng(9)
    found = smooth_reflectance_of_linear([0.5, 0.2, 0.05])
    z = np.arctanh(2.0 * found - 1.0)
    calm = np.sum(np.diff(z) ** 2)
    slope = (1.0 - np.tanh(z) ** 2)[:, None] / 2.0 * weights("D65")
    for _ in range(20):
        change = rng.normal(0.0, 0.01, 36)
        other = z + change - slope @ np.linalg.lstsq(slope, change, rcond=None)[0]
        for _ in range(5):  # back to exactly the same colour
            miss = reflectance_to_xyz((1.0 + np.tanh(other)) / 2.0) - reflectance_to_xyz(found)
            bent = (1.0 - np.tanh(other) ** 2)[:, None] / 2.0 * weights("D65")
            other = other - np.linalg.pinv(bent.T) @ miss
        assert np.sum(np.diff(other) ** 2) > calm


def test_greys_are_flat_and_black_and_white_are_themselves() -> None:
    for grey in (0.0, 0.2, 0.97, 1.0):
        np.testing.assert_allclose(smooth_reflectance_of_linear([grey] * 3), grey, atol=1e-7)


def test_colours_that_no_surface_has_are_told() -> None:
    for xyz in ([2.0, 2.0, 2.0], [0.9, 0.1, 0.1], [-0.1, 0.1, 0.1]):
        with pytest.raises(InkError, match=r"^No paper or ink can have the colour X .* in daylight\.$"):
            smooth_reflectance(xyz)
    for wrong in ([0.1, 0.2], 0.5, [0.1, np.nan, 0.2]):
        with pytest.raises(InkError, match="three numbers"):
            smooth_reflectance(wrong)


def test_shapes() -> None:
    assert smooth_reflectance(np.full((2, 3, 3), 0.4)).shape == (2, 3, 36)
    assert smooth_reflectance(np.empty((0, 3))).shape == (0, 36)
