"""Gradated films in pictures and in numbers, against the layer formula worked out at every place."""

import numpy as np
import pytest

from blockwright.colour import colour_reflectance, layer_reflectance, linear_to_srgb, reflectance_to_linear
from blockwright.geometry.running import film_share, pixel_places
from blockwright.model.axis import Axis
from blockwright.model.separation import Gradation
from blockwright.proof.light import Layer, SheetLight, Stacks
from spectral_inks import bands

PAPER = "#f6efdf"
HEIGHT, WIDTH, SCALE = 160, 40, 4.0
EDGE = ((0.0, 0.0), (4.0, 9.0), (10.0, 6.0))
GRADATIONS = (
    Gradation("fukisage", Axis((5.0, 2.0), (5.0, 36.0)), (1.0, 0.6, 0.3, 0.0)),
    Gradation("atenashi", Axis((0.0, 10.0), (10.0, 30.0)), (1.0, 0.1, 0.0)),
    Gradation("atenashi", Axis((2.0, 3.0), (2.0, 20.0), EDGE, 0.0, 20.0), (0.0, 0.4, 1.0)),
    Gradation("fukiage", Axis((5.0, 40.0), (5.0, 0.0)), (1.0, 0.0)),
)


def layer(seed: int, gradation: Gradation | None) -> Layer:
    random = np.random.default_rng(seed)
    k, s = np.array(bands(*random.uniform(0.2, 1.6, 3))), np.array(bands(*random.uniform(0.0, 0.2, 3)))
    return Layer(k, s, 2.0, gradation)


def painted(layers: list[Layer], share: np.ndarray, *, top: int = 0, rows: int = HEIGHT) -> np.ndarray:
    stacks = Stacks(colour_reflectance(PAPER), layers)
    sheet = SheetLight(
        stacks, height_px=rows, width_px=WIDTH, origin_mm=(0.0, top / SCALE), pixels_per_mm=SCALE
    )
    for number in range(len(layers)):
        sheet.lay(number, slice(0, rows), slice(0, WIDTH), share[top : top + rows])
    return sheet.picture


def worked_out(layers: list[Layer], share: np.ndarray) -> np.ndarray:
    """Every pixel in 36 bands; ``share`` is 0 or 1."""
    places = pixel_places(origin_mm=(0.0, 0.0), pixels_per_mm=SCALE, width_px=WIDTH, height_px=HEIGHT)
    seen = np.tile(colour_reflectance(PAPER), (len(places), 1))
    for each in layers:
        film = np.ones(len(places)) if each.gradation is None else film_share(each.gradation, places)
        over = layer_reflectance(each.k, each.s, each.thickness * film[:, None], seen)
        seen = np.where(share.reshape(-1, 1) > 0, over, seen)
    return np.rint(255 * linear_to_srgb(reflectance_to_linear(seen))).reshape(HEIGHT, WIDTH, 3)


@pytest.mark.parametrize("films", [1, 2, 3])
def test_a_picture_is_the_layer_formula_within_a_step(films: int) -> None:
    layers = [layer(5, None), *(layer(k, g) for k, g in enumerate(GRADATIONS[:films])), layer(9, None)]
    whole = np.ones((HEIGHT, WIDTH), np.float32)
    apart = np.abs(painted(layers, whole) - worked_out(layers, whole))
    assert apart.max() <= (1 if films < 3 else 2)


def test_pixels_that_are_covered_in_part_are_mixed() -> None:
    layers = [layer(0, GRADATIONS[0]), layer(9, None)]
    half = np.full((HEIGHT, WIDTH), 0.5, np.float32)
    one, none, both = (painted(layers[:1], np.full_like(half, share)) for share in (1.0, 0.0, 0.5))
    linear = [
        np.where(p / 255 <= 0.04045, p / 255 / 12.92, ((p / 255 + 0.055) / 1.055) ** 2.4) for p in (one, none)
    ]
    mixed = 255 * linear_to_srgb(np.mean(linear, axis=0))
    assert np.abs(both - mixed).max() <= 1.5


def test_a_gradation_shows_no_bands() -> None:
    column = painted([layer(2, GRADATIONS[3])], np.ones((HEIGHT, WIDTH), np.float32))[:, 5].astype(int)
    darker = np.diff(column, axis=0)
    assert (darker <= 0).all()
    # From the paper to the full ink in 160 rows no band can step by more than a few levels.
    assert np.abs(darker).max() <= 4


def test_windows_join_without_a_seam() -> None:
    layers = [layer(k, g) for k, g in enumerate(GRADATIONS[:3])]
    whole = np.ones((HEIGHT, WIDTH), np.float32)
    parts = [painted(layers, whole, top=top, rows=HEIGHT // 2) for top in (0, HEIGHT // 2)]
    assert np.array_equal(np.concatenate(parts), painted(layers, whole))


def test_a_fourth_film_lies_evenly() -> None:
    layers = [layer(k, g) for k, g in enumerate(GRADATIONS)]
    assert painted(layers, np.ones((HEIGHT, WIDTH), np.float32)).shape == (HEIGHT, WIDTH, 3)
