"""Progressive pictures against the layer formula at single pixels."""

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, box

from blockwright.colour import (
    colour_reflectance,
    hex_to_lab,
    linear_to_srgb,
    reflectance_to_linear,
    stack_reflectance,
)
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.proof import impression_alone, progress_pictures
from spectral_inks import as_wanted, ink

PAPER = "#f6efdf"
YELLOW = ink("yellow", (0.05, 0.1, 0.6), (0.03, 0.03, 0.03))
BLUE = ink("blue", (0.5, 0.2, 0.05), (0.02, 0.02, 0.05))
DPI = 254.0  # ten pixels to the mm


def two_inks() -> tuple[Design, Separation]:
    """A yellow disc and a blue band that crosses it, ending at half a pixel."""
    disc, band = MultiPolygon([Point(6, 5).buffer(4)]), MultiPolygon([box(3, 4.05, 12, 7)])
    colour = PaletteColour("any", "#808080", hex_to_lab("#808080"))
    design = Design(
        "test",
        12.0,
        10.0,
        10.0,
        PAPER,
        (colour,),
        (Shape(0, box(0, 0, 12, 10), (6.0, 5.0)),),
        True,
        0,
        0,
        0,
        0,
    )
    layers = [(disc, YELLOW, 1), (band, BLUE, 3)]
    impressions = tuple(
        Impression(n, ink.name, "colour", ink, passes, (0,), area, 0.0, "#808080", colour.lab)
        for n, (area, ink, passes) in enumerate(layers, start=1)
    )
    return design, Separation(impressions, (), (), 0.0, 0.0)


def coded(*layers: tuple[Ink, int]) -> np.ndarray:
    light = stack_reflectance(colour_reflectance(PAPER), [(ink.k, ink.s, passes) for ink, passes in layers])
    return np.rint(255 * linear_to_srgb(reflectance_to_linear(light)))


def test_every_impression_gives_a_picture_and_paper_is_first() -> None:
    design, separation = two_inks()
    pictures = dict(progress_pictures(design, separation, as_wanted(separation), dpi=DPI))
    assert list(pictures) == [0, 1, 2]
    assert all(p.shape == (100, 120, 3) and p.dtype == np.uint8 for p in pictures.values())
    assert np.unique(pictures[0].reshape(-1, 3), axis=0).tolist() == [[0xF6, 0xEF, 0xDF]]


def test_pixels_are_layers_over_what_lies_beneath() -> None:
    design, separation = two_inks()
    pictures = dict(progress_pictures(design, separation, as_wanted(separation), dpi=DPI))
    for number, (row, column), layers in [
        (1, (50, 60), [(YELLOW, 1)]),
        (1, (50, 110), []),
        (2, (50, 60), [(YELLOW, 1), (BLUE, 3)]),
        (2, (50, 110), [(BLUE, 3)]),
        (2, (20, 60), [(YELLOW, 1)]),
    ]:
        np.testing.assert_allclose(pictures[number][row, column], coded(*layers), atol=1)


def test_half_covered_pixels_mix_light() -> None:
    design, separation = two_inks()
    last = dict(progress_pictures(design, separation, as_wanted(separation), dpi=DPI))[2]
    paper = colour_reflectance(PAPER)
    blue = stack_reflectance(paper, [(BLUE.k, BLUE.s, 3)])
    both = reflectance_to_linear((paper + blue) / 2)
    np.testing.assert_allclose(last[40, 110], np.rint(255 * linear_to_srgb(both)), atol=1)


def test_pictures_belong_to_the_caller() -> None:
    design, separation = two_inks()
    stream = progress_pictures(design, separation, as_wanted(separation), dpi=DPI)
    _, first = next(stream)
    first[:] = 0
    _, second = next(stream)
    assert second[0, 0].tolist() == [0xF6, 0xEF, 0xDF]


def test_an_impression_alone_lies_on_bare_paper() -> None:
    design, separation = two_inks()
    alone = impression_alone(design, separation.impressions[1], dpi=DPI)
    np.testing.assert_allclose(alone[50, 60], coded((BLUE, 3)), atol=1)
    assert alone[20, 60].tolist() == [0xF6, 0xEF, 0xDF]


def blue_over(*boxes: shapely.Polygon) -> Impression:
    area = MultiPolygon(list(boxes))
    return Impression(1, "blue", "colour", BLUE, 1, (), area, 0.0, "#808080", hex_to_lab("#808080"))


def test_areas_outside_the_image_or_empty_are_harmless() -> None:
    design, _ = two_inks()
    paper = impression_alone(design, blue_over(), dpi=DPI)
    far = impression_alone(design, blue_over(box(50, 50, 60, 60)), dpi=DPI)
    over = impression_alone(design, blue_over(box(-9, -9, 60, 60)), dpi=DPI)
    np.testing.assert_array_equal(far, paper)
    assert len(np.unique(over.reshape(-1, 3), axis=0)) == 1
    assert not np.array_equal(over, paper)


@pytest.mark.parametrize("dpi", [30, 97, 150])
def test_no_pale_hairline_at_the_border(dpi: int) -> None:
    design, _ = two_inks()
    picture = impression_alone(design, blue_over(box(0, 0, 12, 10)), dpi=dpi)
    assert np.ptp(picture.reshape(-1, 3).astype(int), axis=0).max() <= 2
