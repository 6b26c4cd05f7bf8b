"""The palette that is found, against the colours that were painted (differences by CIEDE2000)."""

import numpy as np
import pytest
from paintings import BLUE, DARK, GREEN, GROUND, RED, dusk, flat_painting, no_flat_colours

from blockwright.colour import delta_e00, srgb_to_lab
from blockwright.design.flattening import flatten
from blockwright.design.palette import MOST_COLOURS, find_palette, lost_at

PAINTED = srgb_to_lab(np.array([GROUND, BLUE, RED, GREEN, DARK]) / 255.0)


@pytest.mark.parametrize(("noise", "soft"), [(0.0, 0.0), (2.0, 0.0), (5.0, 0.0), (2.0, 0.8)])
def test_flat_colours_are_found_exactly(noise: float, soft: float) -> None:
    found = find_palette(flatten(flat_painting(noise=noise, soft=soft)), colours=None)
    difference = delta_e00(PAINTED[:, None], found.lab[None])
    assert len(found.lab) == len(PAINTED)
    assert difference.min(axis=1).max() < 1.0
    assert found.heaped_share > 0.9


def test_a_gradation_is_covered_in_even_steps_and_flat_colours_stay_apart() -> None:
    found = find_palette(flatten(dusk()), colours=None)
    flat = found.lab[~found.running]
    land = srgb_to_lab(np.array([[70, 96, 84], [120, 80, 60]]) / 255.0)
    assert delta_e00(land[:, None], flat[None]).min(axis=1).max() < 1.0
    steps = found.lab[found.running]
    assert 3 <= len(steps) <= 9
    apart = np.linalg.norm(steps[:, None] - steps[None], axis=2)[~np.eye(len(steps), dtype=bool)]
    assert apart.min() > 6.0


@pytest.mark.parametrize("count", [1, 2, 3, 5, 9, 16])
def test_the_number_asked_for_is_the_number_given(count: int) -> None:
    assert len(find_palette(flatten(flat_painting()), colours=count).lab) == count


def test_fewer_colours_keep_the_most_different_ones() -> None:
    found = find_palette(flatten(flat_painting()), colours=4)
    kept = delta_e00(PAINTED[:, None], found.lab[None]).min(axis=1)
    assert (kept < 1.0).sum() >= 3


def test_a_colour_that_only_thin_lines_carry_is_found() -> None:
    picture = np.full((200, 300, 3), GROUND, np.uint8)
    picture[:, 150:] = BLUE
    for x in range(20, 140, 12):
        picture[20:180, x : x + 2] = RED
    found = find_palette(flatten(picture), colours=None)
    assert delta_e00(srgb_to_lab(np.array(RED) / 255.0), found.lab).min() < 3.0


def test_a_photograph_has_no_heaps_and_its_loss_falls_with_more_colours() -> None:
    flat = flatten(no_flat_colours())
    found = find_palette(flat, colours=None)
    assert len(found.lab) <= MOST_COLOURS
    assert found.heaped_share < 0.2
    few, some, many = lost_at(flat, (4, 12, 36))
    assert few > some > many
    painted = flatten(flat_painting())
    assert lost_at(painted, (5,))[0] < 3.0


def test_the_same_picture_gives_the_same_palette() -> None:
    first, second = (find_palette(flatten(dusk()), colours=None).lab for _ in range(2))
    assert (first == second).all()
