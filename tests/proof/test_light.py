"""The light of a sheet against the layer formula worked out for every pixel in all bands."""

import warnings

import numpy as np
import pytest

from blockwright.colour import colour_reflectance, layer_reflectance, linear_to_srgb, reflectance_to_linear
from blockwright.colour.bands import BANDS_NM
from blockwright.proof.light import Layer, SheetLight, Stacks
from spectral_inks import bands

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # It misses matplotlib, which nobody needs here.
    import colour as colour_science

PAPER = "#f6efdf"
ALL = slice(0, 24), slice(0, 30)


def layers(count: int) -> list[Layer]:
    random = np.random.default_rng(3)
    return [
        Layer(
            np.array(bands(*random.uniform(0.0, 1.2, 3))),
            np.array(bands(*random.uniform(0.0, 0.2, 3))),
            float(random.integers(1, 4)),
        )
        for _ in range(count)
    ]


def sheet(inks: list[Layer]) -> SheetLight:
    return SheetLight(Stacks(colour_reflectance(PAPER), inks), height_px=24, width_px=30)


def shares(seed: int, partly: float) -> np.ndarray:
    """Coverage like that of shapes: whole blocks, and some pixels that are covered in part."""
    random = np.random.default_rng(seed)
    whole = np.kron(random.integers(0, 2, (4, 5)), np.ones((6, 6)))
    mixed = random.uniform(0.0, 1.0, (24, 30))
    return np.where(random.uniform(size=(24, 30)) < partly, mixed, whole).astype(np.float32)


def worked_out(inks: list[Layer], covered: list[np.ndarray]) -> np.ndarray:
    """Every pixel in 36 bands: the part that an ink covers is a layer over the mean of what lies there.

    Where at most two stacks share a pixel the mean is taken of the light after each, as in the sheet.
    """
    parts = [[(1.0, colour_reflectance(PAPER))] for _ in range(24 * 30)]
    for ink, share in zip(inks, covered, strict=True):
        for pixel, part in enumerate(share.astype(float).ravel().tolist()):
            split = []
            for size, light in parts[pixel]:
                over = layer_reflectance(ink.k, ink.s, ink.thickness, light)
                split += [(size * part, over), (size * (1.0 - part), light)]
            parts[pixel] = [each for each in split if each[0] > 0.0]
    mean = np.array([sum(size * light for size, light in pixel) for pixel in parts])
    return np.rint(255 * linear_to_srgb(reflectance_to_linear(mean))).reshape(24, 30, 3)


def test_bare_paper_is_the_papers_colour() -> None:
    assert np.unique(sheet(layers(1)).picture.reshape(-1, 3), axis=0).tolist() == [[0xF6, 0xEF, 0xDF]]


@pytest.mark.parametrize("partly", [0.0, 0.05, 0.5])
def test_every_pixel_is_what_the_layers_make_of_it(partly: float) -> None:
    inks = layers(2)
    covered = [shares(seed, partly) for seed in range(2)]
    light = sheet(inks)
    for number, share in enumerate(covered):
        light.lay(number, *ALL, share)
    np.testing.assert_allclose(light.picture, worked_out(inks, covered), atol=1)


def test_pixels_that_many_edges_share_are_off_by_little() -> None:
    inks = layers(6)
    covered = [shares(seed, 0.1) for seed in range(6)]
    light = sheet(inks)
    for number, share in enumerate(covered):
        light.lay(number, *ALL, share)
    off = np.abs(light.picture.astype(float) - worked_out(inks, covered)).max(axis=2)
    assert off.max() <= 6
    assert (off > 1).mean() < 0.01


def test_a_window_within_the_sheet_is_laid_where_it_is() -> None:
    light = sheet(layers(1))
    light.lay(0, slice(2, 5), slice(7, 9), np.ones((3, 2), dtype=np.float32))
    changed = (light.picture != np.array([0xF6, 0xEF, 0xDF])).any(axis=2)
    assert changed.sum() == 6
    assert changed[2:5, 7:9].all()


def test_overprints_have_the_colour_that_another_library_gives_their_spectrum() -> None:
    """colour-science integrates the spectrum by its own tables (CIE 1931 2 degree observer, D65)."""
    inks = layers(2)
    light = sheet(inks)
    for number in range(2):
        light.lay(number, *ALL, np.ones((24, 30), dtype=np.float32))
    seen = colour_reflectance(PAPER)
    for ink in inks:
        seen = layer_reflectance(ink.k, ink.s, ink.thickness, seen)
    spectrum = colour_science.SpectralDistribution(dict(zip(BANDS_NM.tolist(), seen.tolist(), strict=True)))
    spectrum.align(colour_science.SpectralShape(360, 830, 1))
    observer = colour_science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    daylight = colour_science.SDS_ILLUMINANTS["D65"].copy().align(observer.shape)
    xyz = colour_science.sd_to_XYZ(spectrum, observer, daylight, method="Integration")
    expected = 255 * colour_science.XYZ_to_sRGB(xyz / 100.0)
    np.testing.assert_allclose(light.picture[0, 0], expected, atol=1.5)


def test_stacks_are_shared_by_all_windows() -> None:
    inks = layers(2)
    stacks = Stacks(colour_reflectance(PAPER), inks)
    for _ in range(3):
        light = SheetLight(stacks, height_px=24, width_px=30)
        for number in range(2):
            light.lay(number, *ALL, shares(number, 0.0))
    # Paper, one ink, the other, both.
    assert len(stacks) == 4
