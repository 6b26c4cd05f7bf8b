"""Colours of spectra against the published white points and colour-science."""

import importlib.util
import warnings
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour import delta_e00, linear_to_srgb
from blockwright.colour.bands import BANDS_NM
from blockwright.colour.spectra import (
    LIGHTS,
    Light,
    reflectance_to_display,
    reflectance_to_lab,
    reflectance_to_linear,
    reflectance_to_oklab,
    reflectance_to_xyz,
    weights,
    white_point,
)
from blockwright.colour.srgb import lab_to_srgb
from blockwright.model.errors import InkError

ROOT = Path(__file__).resolve().parents[2]
greys = st.floats(0.0, 1.0)


@pytest.fixture(scope="module")
def colour() -> ModuleType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
        module: ModuleType = pytest.importorskip("colour")
    return module


def smooth_spectra(count: int) -> np.ndarray:
    """Seeded sums of three broad waves, as paints have."""
    rng = np.random.default_rng(11)
    waves = sum(
        rng.uniform(-1.5, 1.5, (count, 1)) * np.sin(BANDS_NM / rng.uniform(25.0, 90.0, (count, 1)) + phase)
        for phase in (0.0, 1.0, 2.0)
    )
    spectra: np.ndarray = 1.0 / (1.0 + np.exp(-waves))
    return spectra


def test_white_points() -> None:
    # ASTM E308 and ISO/CIE 11664-2, 2 degree observer; FL11 is F11 there.
    np.testing.assert_allclose(100.0 * white_point("D65"), [95.047, 100.0, 108.883], atol=1e-6)
    np.testing.assert_allclose(100.0 * white_point("D50"), [96.42, 100.0, 82.51], atol=0.012)
    np.testing.assert_allclose(100.0 * white_point("A"), [109.850, 100.0, 35.585], atol=1e-6)
    np.testing.assert_allclose(100.0 * white_point("FL11"), [100.962, 100.0, 64.350], atol=1e-6)


@pytest.mark.parametrize("light", LIGHTS)
def test_a_perfect_white_and_an_even_grey_have_no_hue(light: Light) -> None:
    np.testing.assert_allclose(reflectance_to_lab(np.ones(36), light), [100.0, 0.0, 0.0], atol=1e-9)
    np.testing.assert_allclose(reflectance_to_lab(np.full(36, 0.3), light)[1:], 0.0, atol=1e-9)


def test_the_committed_weights_are_what_the_script_makes(colour: ModuleType) -> None:
    spec = importlib.util.spec_from_file_location("vendor_spectra", ROOT / "vendor" / "spectra.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    assert script.text() == script.WEIGHTS.read_text(encoding="utf-8")


@pytest.mark.parametrize("light", ["D65", "D50", "A"])
def test_colours_agree_with_colour_science(colour: ModuleType, light: Light) -> None:
    # Integrated there at 1 nm over 380-730 nm after interpolating the reflectance by Sprague's method.
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    fine = colour.SpectralShape(360, 780, 1)
    power = colour.SDS_ILLUMINANTS[light].copy().interpolate(fine, interpolator=colour.LinearInterpolator)
    seen = power.values[:, None] * observer.copy().align(fine).values
    for spectrum in smooth_spectra(12):
        inside = colour.SpragueInterpolator(np.array(BANDS_NM), spectrum)(np.arange(380.0, 731.0))
        whole = np.concatenate([np.full(20, spectrum[0]), inside, np.full(50, spectrum[-1])])
        theirs = whole @ seen / seen[:, 1].sum()
        np.testing.assert_allclose(reflectance_to_xyz(spectrum, light), theirs, atol=2e-4)


def test_the_fluorescent_agrees_with_a_sum_over_its_own_table(colour: ModuleType) -> None:
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    power = colour.SDS_ILLUMINANTS["FL11"]
    waves = power.wavelengths
    seen = power.values[:, None] * np.array([observer[wave] for wave in waves])
    for spectrum in smooth_spectra(12):
        between = colour.SpragueInterpolator(np.array(BANDS_NM), spectrum)(np.clip(waves, 380.0, 730.0))
        theirs = between @ seen / seen[:, 1].sum()
        np.testing.assert_allclose(reflectance_to_xyz(spectrum, "FL11"), theirs, atol=5e-4)


def test_lab_agrees_with_colour_science(colour: ModuleType) -> None:
    spectra = smooth_spectra(20)
    for light in LIGHTS:
        xyz = reflectance_to_xyz(spectra, light)
        white = white_point(light)
        theirs = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
        np.testing.assert_allclose(reflectance_to_lab(spectra, light), theirs, atol=1e-9)


def test_metamers_part_under_another_light() -> None:
    # A step that the observer cannot see under D65: orthogonal to its three weights.
    daylight = weights("D65")
    bump = np.cos(BANDS_NM / 15.0)
    bump -= daylight @ np.linalg.lstsq(daylight, bump, rcond=None)[0]
    one, two = np.full(36, 0.5) + 0.3 * bump, np.full(36, 0.5) - 0.3 * bump
    assert float(delta_e00(reflectance_to_lab(one), reflectance_to_lab(two))) < 1e-6
    assert float(delta_e00(reflectance_to_lab(one, "FL11"), reflectance_to_lab(two, "FL11"))) > 1.0


def test_srgb_and_oklab_agree_with_coloraide() -> None:
    # coloraide takes the white point from chromaticities of four digits, hence the tolerance.
    for spectrum in smooth_spectra(20):
        color = Color("xyz-d65", list(reflectance_to_xyz(spectrum)))
        np.testing.assert_allclose(
            reflectance_to_linear(spectrum), color.convert("srgb-linear").coords(), atol=1e-3
        )
        np.testing.assert_allclose(reflectance_to_oklab(spectrum), color.convert("oklab").coords(), atol=1e-3)


def test_display_is_the_colour_itself_inside_srgb() -> None:
    spectra = smooth_spectra(40)
    shown = reflectance_to_display(spectra)
    inside = ~shown.mapped
    assert inside.any()
    np.testing.assert_allclose(
        shown.srgb[inside], lab_to_srgb(reflectance_to_lab(spectra[inside])), atol=1e-6
    )
    np.testing.assert_allclose(
        shown.srgb[inside], linear_to_srgb(reflectance_to_linear(spectra[inside])), atol=1e-6
    )


@given(greys, greys)
def test_a_lighter_grey_looks_lighter(one: float, two: float) -> None:
    low, high = sorted((one, two))
    lower, higher = reflectance_to_lab(np.full((2, 36), [[low], [high]]))[:, 0]
    assert -1e-9 <= lower <= higher <= 100.0 + 1e-9


def test_shapes_and_wrong_words() -> None:
    assert reflectance_to_xyz(np.full((4, 5, 36), 0.5)).shape == (4, 5, 3)
    with pytest.raises(InkError, match="'C' is no light that is known here; there are D65, D50, A, FL11"):
        weights("C")  # type: ignore[arg-type]
    with pytest.raises(InkError, match="of 31 bands was given; 36 are needed"):
        reflectance_to_xyz(np.full(31, 0.5))
    with pytest.raises(ValueError, match="read-only"):
        weights("A")[0, 0] = 1.0
