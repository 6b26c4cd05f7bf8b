"""sRGB, XYZ and CIELAB against the standards' figures and coloraide."""

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour.srgb import (
    hex_to_lab,
    hex_to_srgb,
    lab_to_hex,
    lab_to_srgb,
    linear_to_srgb,
    linear_to_xyz,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
    xyz_to_lab,
    xyz_to_linear,
)
from blockwright.model.errors import SettingsError

# IEC 61966-2-1:1999, the matrix as printed there, four digits.
IEC_MATRIX = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]

hexes = st.integers(0, 0xFFFFFF).map(lambda v: f"#{v:06x}")


def test_matrix_agrees_with_the_standard_to_its_digits() -> None:
    ours = linear_to_xyz(np.eye(3)).T
    np.testing.assert_allclose(ours, IEC_MATRIX, atol=2e-4)


def test_white_is_exactly_lightness_100_without_hue() -> None:
    # D65 for the 2 degree observer: 95.047, 100, 108.883 (ISO/CIE 11664-2, ASTM E308).
    np.testing.assert_allclose(linear_to_xyz([1.0, 1.0, 1.0]), [0.95047, 1.0, 1.08883], atol=1e-12)
    np.testing.assert_allclose(srgb_to_lab([1.0, 1.0, 1.0]), [100.0, 0.0, 0.0], atol=1e-9)


@pytest.mark.parametrize(
    ("hex_colour", "lab"),
    # CIELAB of the sRGB primaries under D65 as generally published, two digits.
    [
        ("#ff0000", (53.24, 80.09, 67.20)),
        ("#00ff00", (87.73, -86.18, 83.18)),
        ("#0000ff", (32.30, 79.19, -107.86)),
    ],
)
def test_primaries(hex_colour: str, lab: tuple[float, float, float]) -> None:
    np.testing.assert_allclose(hex_to_lab(hex_colour), lab, atol=0.011)


@given(hexes)
def test_lab_agrees_with_coloraide(hex_colour: str) -> None:
    # coloraide takes the white point from chromaticities of four digits, hence the tolerance.
    theirs = Color(hex_colour).convert("lab-d65").coords()
    np.testing.assert_allclose(hex_to_lab(hex_colour), theirs, atol=0.02)


def test_transfer_curve_agrees_with_coloraide_and_returns() -> None:
    coded = np.linspace(0.0, 1.0, 401)
    theirs = [Color("srgb", [v, v, v]).convert("srgb-linear")["red"] for v in coded]
    np.testing.assert_allclose(srgb_to_linear(coded), theirs, atol=1e-12)
    # The two pieces of the standard's curve miss each other by a few parts in a hundred million.
    np.testing.assert_allclose(linear_to_srgb(srgb_to_linear(coded)), coded, atol=1e-7)


@given(st.lists(st.floats(-0.2, 1.4), min_size=3, max_size=3))
def test_there_and_back_also_outside_srgb(linear: list[float]) -> None:
    np.testing.assert_allclose(xyz_to_linear(linear_to_xyz(linear)), linear, atol=1e-12)
    coded = linear_to_srgb(linear)
    np.testing.assert_allclose(lab_to_srgb(srgb_to_lab(coded)), coded, atol=2e-7)


@given(hexes)
def test_hex_survives_the_way_through_lab(hex_colour: str) -> None:
    assert srgb_to_hex(hex_to_srgb(hex_colour)) == hex_colour
    assert lab_to_hex(hex_to_lab(hex_colour)) == hex_colour


def test_colours_outside_srgb_are_clipped_in_hex() -> None:
    assert lab_to_hex((60.0, 120.0, 0.0)).startswith("#ff00")


def test_pictures_keep_their_shape() -> None:
    picture = np.random.default_rng(1).random((4, 5, 3))
    assert srgb_to_lab(picture).shape == (4, 5, 3)
    np.testing.assert_allclose(srgb_to_lab(picture)[2, 3], srgb_to_lab(picture[2, 3]), atol=1e-12)


def test_dark_end_of_lab_is_the_straight_line() -> None:
    # ISO/CIE 11664-4: below (6/29)^3 L* = 903.3 Y (24389/27).
    np.testing.assert_allclose(
        xyz_to_lab(np.array([0.95047, 1.0, 1.08883]) * 0.001)[0], 24389 / 27 * 0.001, atol=1e-9
    )


@pytest.mark.parametrize("wrong", ["", "f6efdf", "#f6efd", "#f6efdg", "#f6efdf0", "red"])
def test_wrong_hex_is_one_plain_sentence(wrong: str) -> None:
    with pytest.raises(SettingsError, match=r"^'.*' is no colour; write it as .*\.$"):
        hex_to_srgb(wrong)
