"""Labels of pixels: fringes, slivers, thin lines and calm bands, against the labels that were painted."""

import cv2
import numpy as np
import pytest
from paintings import BLUE, DARK, GREEN, GROUND, RED, dusk, flat_painting

from blockwright.colour import srgb_to_lab
from blockwright.design.assigning import assign_colours, nearest_colours
from blockwright.design.flattening import flatten
from blockwright.design.runs import calm_runs
from blockwright.design.slivers import remove_slivers
from blockwright.geometry.labelling import label_regions

PALETTE = np.array([GROUND, BLUE, RED, GREEN, DARK], float)


def _label(picture: np.ndarray, palette: np.ndarray) -> np.ndarray:
    flat = flatten(picture)
    labels = assign_colours(flat, nearest_colours(srgb_to_lab(palette / 255.0)), palette)
    remove_slivers(labels, flat.pixels, palette)
    return labels


def _truth(palette: np.ndarray) -> np.ndarray:
    clean = flat_painting(noise=0.0).astype(float)
    distance = np.linalg.norm(clean[:, :, None] - palette[None, None], axis=3)
    return np.asarray(distance.argmin(axis=2))


@pytest.mark.parametrize("noise", [0.0, 2.0, 4.0])
def test_pixels_get_the_colour_that_was_painted(noise: float) -> None:
    labels = _label(flat_painting(noise=noise), PALETTE)
    wrong = np.mean(labels != _truth(PALETTE))
    # At the edges the nearest colour is no truth: of two per cent such pixels a part may differ.
    assert wrong < 0.006


@pytest.mark.parametrize("soft", [0.0, 0.8, 1.3])
def test_a_colour_between_two_others_makes_no_fringe(soft: float) -> None:
    # The sixth colour is the mixture of ground and blue; it is painted nowhere.
    between = (np.array(GROUND) + np.array(BLUE)) / 2.0
    labels = _label(flat_painting(soft=soft), np.vstack([PALETTE, between]))
    assert np.mean(labels == 5) < 0.002


def test_a_painted_colour_between_two_others_stays() -> None:
    between = (np.array(GROUND) + np.array(BLUE)) / 2.0
    picture = np.full((120, 160, 3), GROUND, np.uint8)
    picture[:, 70:] = np.rint(between).astype(np.uint8)
    picture[:, 90:] = BLUE
    labels = _label(picture, np.vstack([PALETTE, between]))
    assert (labels[:, 70:90] == 5).all()


@pytest.mark.parametrize("width", [2, 3, 5])
def test_thin_lines_stay_whole(width: int) -> None:
    picture = np.full((160, 200, 3), GROUND, np.uint8)
    picture[:, 100:] = BLUE
    cv2.line(picture, (20, 10), (90, 150), DARK, width)
    cv2.line(picture, (110, 140), (190, 20), RED, width)
    labels = _label(picture, PALETTE)
    for colour, label in ((DARK, 4), (RED, 2)):
        painted = (picture == np.array(colour, np.uint8)).all(axis=2)
        assert np.mean(labels[painted] == label) > 0.97
    _, area, label_of = label_regions(labels)
    assert (label_of == 4).sum() == 1
    assert area[label_of == 4][0] >= 0.97 * (picture == np.array(DARK, np.uint8)).all(axis=2).sum()


def test_bands_of_a_gradation_are_calm() -> None:
    picture = dusk(size=(720, 480))
    steps = np.array(
        [[46 + 200 * t, 60 + 136 * t, 110 + 50 * t] for t in (0.06, 0.18, 0.3, 0.42, 0.54, 0.66)]
    )
    palette = np.vstack([steps, [[70, 96, 84], [120, 80, 60]]])
    flat = flatten(picture)
    nearest = nearest_colours(srgb_to_lab(palette / 255.0))
    ragged = assign_colours(flat, nearest, palette)
    calm = ragged.copy()
    calm_runs(
        flat,
        calm,
        running=np.arange(8) < 6,
        distance=nearest.distance,
        lab=srgb_to_lab(palette / 255.0),
        pixels_per_mm=6.0,
    )
    before, after = (len(label_regions(labels)[1]) for labels in (ragged, calm))
    assert after < 25 < before
    # The flat land is as it was, and where bands meet has moved by little.
    assert (calm[400:] == ragged[400:]).mean() > 0.999
    assert (calm != ragged).mean() < 0.1


def test_runs_on_the_two_sides_of_a_line_do_not_mix() -> None:
    # A narrow run of reds between black lines with runs of greys outside, as in a shaded drawing.
    height, width = 320, 480
    across = np.linspace(0.0, 1.0, width)[None, :, None]
    red = np.array([250, 170, 160]) * (1 - across) + np.array([150, 20, 15]) * across
    grey = np.array([225, 225, 225]) * (1 - across) + np.array([90, 90, 90]) * across
    picture = np.repeat(grey, height, axis=0)
    picture[148:172] = red
    picture[140:148] = picture[172:180] = 0.0
    noise = np.random.default_rng(1).normal(0, 2, picture.shape)
    pixels = np.asarray(np.clip(picture + noise, 0, 255), dtype=np.uint8)
    steps = (0.1, 0.4, 0.7, 0.95)
    reds = [[250 - 100 * t, 170 - 150 * t, 160 - 145 * t] for t in steps]
    palette = np.array([*reds, *([225 - 135 * t] * 3 for t in steps), [0, 0, 0]], float)
    lab = srgb_to_lab(palette / 255.0)
    flat = flatten(pixels)
    nearest = nearest_colours(lab)
    labels = assign_colours(flat, nearest, palette)
    running = np.arange(9) < 8
    calm_runs(flat, labels, running=running, distance=nearest.distance, lab=lab, pixels_per_mm=6.0)
    strip = labels[150:170]
    # Mixed with the greys the strip would keep to the reds but take paler ones.
    wanted = np.linalg.norm(red[0][:, None] - palette[None, :4], axis=2).argmin(axis=1)
    assert (strip == wanted).mean() > 0.93
    for outside in (labels[:136], labels[184:]):
        assert ((outside >= 4) & (outside < 8)).mean() > 0.99
