"""Ways back over what was gone before."""

import numpy as np
import pytest

from blockwright.geometry.ways_back import leads_back


def told(places: list[tuple[int, int, int]], gone: list[bool] | None = None) -> list[bool]:
    """Which of the moves through places that fall lead back."""
    at = np.array(places)
    begin, end = at[:-1], at[1:]
    went = np.full(len(begin), True) if gone is None else np.array(gone)
    back: list[bool] = leads_back(begin, end, went, end[:, 2] < begin[:, 2]).tolist()
    return back


def test_a_way_up_is_open_on_the_way_down_and_no_other_is() -> None:
    up = [(0, 0, -2000), (1000, 0, -500), (1500, 500, -200)]
    assert told([*up, up[1], up[0]]) == [False, False, True, True]
    # One that was not gone up, though it ends at the same place.
    assert told([*up, (900, 900, -200), up[0]]) == [False, False, False, False]


def test_places_on_a_straight_way_may_be_left_out_on_the_way_back() -> None:
    up = [(0, 0, -2000), (500, 1, -1500), (1000, 0, -1000)]
    assert told([*up, up[0]]) == [False, False, True]
    aside = [(0, 0, -2000), (500, 40, -1500), (1000, 0, -1000)]
    assert told([*aside, aside[0]]) == [False, False, False]


def test_what_was_passed_above_the_work_is_not_open() -> None:
    places = [(0, 0, -2000), (1000, 0, -1000), (0, 0, -2000)]
    assert told(places, [False, True]) == [False, False]


@pytest.mark.parametrize("times", [1, 3])
def test_a_way_down_is_open_only_after_it_was_gone(times: int) -> None:
    down_and_up = [(0, 0, 0), (1000, 0, -1000)] * times
    assert told(down_and_up) == [False] + [k % 2 == 1 for k in range(2 * times - 2)]
