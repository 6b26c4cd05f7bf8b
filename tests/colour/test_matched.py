"""Inks that are taken as mixed to match: what they absorb, and where they cannot match."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    hex_to_srgb,
    ink_for_colour,
    layer_reflectance,
    reflectance_to_lab,
    reflectance_to_linear,
    srgb_to_linear,
)
from blockwright.colour.layers import LEAST_REFLECTANCE
from blockwright.colour.matched import TRANSPARENT_SCATTERING

PAPER = "#f6efdf"

hexes = st.tuples(*[st.integers(0, 255)] * 3).map(lambda rgb: "#{:02x}{:02x}{:02x}".format(*rgb))


def printed(srgb_hex: str, *, passes: int = 1, paper: str = PAPER) -> np.ndarray:
    k, s = ink_for_colour(srgb_hex, paper, passes=passes)
    return layer_reflectance(k, s, float(passes), colour_reflectance(paper))


def test_a_colour_has_the_colour_and_is_calm() -> None:
    seen = colour_reflectance(PAPER)
    np.testing.assert_allclose(reflectance_to_linear(seen), srgb_to_linear(hex_to_srgb(PAPER)), atol=1e-9)
    assert np.abs(np.diff(seen)).max() < 0.03


@pytest.mark.parametrize("passes", [1, 2, 4])
@pytest.mark.parametrize("srgb_hex", ["#d9b26a", "#a4502f", "#3f6f8f", "#f0c020", "#c02030", "#221e19"])
def test_what_paper_and_ink_can_reach_is_met(srgb_hex: str, passes: int) -> None:
    light = printed(srgb_hex, passes=passes)
    assert float(delta_e00(reflectance_to_lab(light), hex_to_lab(srgb_hex))) < 0.01


@settings(max_examples=40, deadline=None)
@given(hexes, st.integers(1, 4))
def test_an_ink_never_lightens_the_paper(srgb_hex: str, passes: int) -> None:
    k, s = ink_for_colour(srgb_hex, PAPER, passes=passes)
    assert s == (TRANSPARENT_SCATTERING,) * 36
    paper = colour_reflectance(PAPER)
    clear = layer_reflectance(0.0, s, float(passes), paper)
    light = layer_reflectance(k, s, float(passes), paper)
    assert min(k) >= 0.0
    assert np.all(light <= clear + 1e-9)


def test_a_colour_out_of_reach_is_met_where_it_can_be_and_the_error_shows() -> None:
    light = printed("#7fb2ff", paper="#d9cfb8")
    paper, wanted = colour_reflectance("#d9cfb8"), colour_reflectance("#7fb2ff")
    clear = layer_reflectance(0.0, TRANSPARENT_SCATTERING, 1.0, paper)
    np.testing.assert_allclose(light, np.minimum(wanted, clear), atol=1e-6)
    assert float(delta_e00(reflectance_to_lab(light), hex_to_lab("#7fb2ff"))) > 5.0


def test_black_stops_at_the_floor() -> None:
    k, _ = ink_for_colour("#000000", PAPER, passes=1)
    light = printed("#000000")
    np.testing.assert_allclose(light, LEAST_REFLECTANCE, atol=1e-9)
    assert float(delta_e00(reflectance_to_lab(light), (0.0, 0.0, 0.0))) < 2.0
    assert max(k) < TRANSPARENT_SCATTERING / LEAST_REFLECTANCE


def test_more_passes_need_a_weaker_ink_for_the_same_colour() -> None:
    strengths = [ink_for_colour("#806040", PAPER, passes=n)[0][5] for n in (1, 2, 3, 4)]
    assert strengths == sorted(strengths, reverse=True)
    # Four passes scatter more as well, and need a little more than a quarter of it.
    assert 3.0 < strengths[0] / strengths[3] < 4.0
