"""Squares that cover areas: exact outlines (shapely); as few as HiGHS (scipy's milp) finds."""

import time
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.geometry.square_cells import Cells, all_places, held_by, holders, holds
from blockwright.geometry.square_cover import Cover, cover_with_squares, held_safely
from blockwright.geometry.square_search import fewest_places
from blockwright.model.errors import SettingsError


def multi(*parts: Polygon) -> MultiPolygon:
    return MultiPolygon([p for p in shapely.get_parts(shapely.union_all(parts)) if p.geom_type == "Polygon"])


def covered(area: MultiPolygon, side_mm: float, lap_mm: float, turn_deg: float = 0.0) -> Cover:
    """The cover, after every point of the area was found to be held safely by some square."""
    cover = cover_with_squares(area, side_mm=side_mm, lap_mm=lap_mm, turn_deg=turn_deg)
    held = held_safely(area, cover.squares, lap_mm=lap_mm)
    assert area.difference(held.buffer(1e-4)).area < 1e-3
    assert cover.fewest_known <= len(cover.squares)
    return cover


@pytest.mark.parametrize(
    ("area", "number"),
    [
        (multi(Point(50, 50).buffer(15)), 1),
        (multi(box(3, 4, 83, 84)), 1),
        (multi(box(0, 0, 81, 80)), 2),
        (multi(box(0, 0, 156, 80)), 2),
        (multi(box(0, 0, 158, 80)), 3),
        (multi(box(0, 0, 156, 156)), 4),
        (multi(box(0, 0, 10, 10), box(60, 60, 70, 70)), 1),
        (multi(box(0, 0, 10, 10), box(300, 0, 310, 10)), 2),
        (multi(box(0, 0, 360, 100)), 10),
        (MultiPolygon(), 0),
    ],
)
def test_counts_worked_by_hand(area: MultiPolygon, number: int) -> None:
    """Leaves of 80 mm with a lap of 3 mm: two in a row reach 157 mm, three 234, five 388."""
    cover = covered(area, 80.0, 3.0)
    assert len(cover.squares) == number
    assert cover.proven


def test_a_lap_is_asked_for_only_where_leaves_meet_on_the_ground() -> None:
    """Two shapes with bare paper between them, each nearly as wide as a leaf, take one leaf each."""
    area = multi(box(0, 0, 80, 80), box(84, 0, 161, 80))
    assert len(covered(area, 80.0, 3.0).squares) == 2


def test_neighbours_lie_over_one_another_by_the_lap() -> None:
    area = multi(box(0, 0, 150, 70))
    first, second = covered(area, 80.0, 5.0).squares
    over = shapely.intersection(first, second).bounds
    assert over[2] - over[0] >= 5.0 - 1e-6
    # Both reach past the ground alike.
    left, right = first.bounds[0], second.bounds[2]
    assert -left == pytest.approx(right - 150.0, abs=1e-6)


def test_leaves_are_numbered_in_rows() -> None:
    corners = [each.bounds[:2] for each in covered(multi(box(0, 0, 200, 130)), 80.0, 3.0).squares]
    assert len(corners) == 6
    assert corners == sorted(corners, key=lambda at: (round(at[1] / 40), at[0]))


def test_turned_leaves_cover_too() -> None:
    lozenge = affinity.rotate(box(0, 0, 150, 75), 30.0)
    straight, turned = covered(multi(lozenge), 80.0, 3.0), covered(multi(lozenge), 80.0, 3.0, turn_deg=-30.0)
    assert len(turned.squares) == 2 < len(straight.squares)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6), discs=st.integers(1, 4), side_mm=st.sampled_from([80.0, 109.0, 140.0, 82.5])
)
def test_random_shapes_are_held_safely(seed: int, discs: int, side_mm: float) -> None:
    random = np.random.default_rng(seed)
    parts = [
        Point(*random.uniform(0, 180, 2)).buffer(random.uniform(4, 50), quad_segs=8) for _ in range(discs)
    ]
    area = multi(*parts)
    cover = covered(area, side_mm, 3.0)
    assert cover_with_squares(area, side_mm=side_mm, lap_mm=3.0) == cover


def by_milp(cells: Cells) -> int:
    """All squares and all cells at once, solved by HiGHS (scipy 1.17)."""
    places = all_places(cells)
    points = np.argwhere(cells.filled)
    holding = holds(cells, places, points).T.astype(float)
    found = milp(
        np.ones(len(places)),
        constraints=LinearConstraint(holding, lb=1.0),
        integrality=np.ones(len(places)),
        bounds=Bounds(0, 1),
    )
    assert found.success
    return int(found.fun + 0.5)


@pytest.mark.parametrize("seed", range(12))
def test_another_solver_finds_as_few(seed: int) -> None:
    random = np.random.default_rng(seed)
    filled = np.zeros((int(random.integers(5, 22)), int(random.integers(5, 22))), dtype=bool)
    for _ in range(int(random.integers(1, 5))):
        row, column = random.integers(0, filled.shape[0]), random.integers(0, filled.shape[1])
        filled[row : row + random.integers(1, 9), column : column + random.integers(1, 9)] = True
    for half_lap in (0, 1):
        cells = Cells(filled, int(random.integers(4, 8)), half_lap)
        places, bound = fewest_places(cells)
        points = np.argwhere(filled)
        assert holds(cells, np.array(places), points).any(axis=0).all()
        assert len(places) == bound == by_milp(cells)


def test_a_shape_like_the_sun_over_the_sea_is_proven_in_time() -> None:
    sun = Point(250, 60).buffer(58)
    streaks = [box(120 + 9 * k, 130 + 14 * k, 330 - 12 * k, 136 + 14 * k) for k in range(5)]
    began = time.perf_counter()
    cover = covered(multi(sun, *streaks), 80.0, 3.0)
    assert cover.proven
    assert time.perf_counter() - began < 5.0


def few_cells(random: np.random.Generator, side: int, half_lap: int) -> Cells:
    """Some cells, scattered or in bars, so few that every choice of squares can be looked at."""
    filled = random.random((int(random.integers(3, 7)), int(random.integers(3, 7)))) < 0.3
    row, column = random.integers(0, filled.shape[0]), random.integers(0, filled.shape[1])
    filled[row, :] |= bool(random.integers(0, 2))
    filled[row, column] = True
    return Cells(filled, side, half_lap)


def by_looking_at_all(cells: Cells) -> int:
    """The fewest squares, by trying all sets of one, of two, and so on."""
    holding = np.unique(holds(cells, all_places(cells), np.argwhere(cells.filled)), axis=0)
    for number in range(1, len(holding) + 1):
        if any(
            holding[list(chosen)].any(axis=0).all() for chosen in combinations(range(len(holding)), number)
        ):
            return number
    raise AssertionError


@pytest.mark.parametrize("seed", range(40))
def test_no_set_of_fewer_squares_holds_a_small_area(seed: int) -> None:
    random = np.random.default_rng(seed)
    side, half_lap = [(2, 0), (3, 0), (3, 1), (4, 1)][seed % 4]
    cells = few_cells(random, side, half_lap)
    places, bound = fewest_places(cells)
    assert held_by(cells, places)[cells.filled].all()
    assert len(places) == bound == by_looking_at_all(cells)


def test_the_squares_that_hold_a_cell_are_those_of_the_whole_table() -> None:
    random = np.random.default_rng(3)
    cells = Cells(random.random((14, 19)) < 0.6, 6, 1)
    points = np.argwhere(cells.filled)
    table = holds(cells, all_places(cells), points)
    for found, column in zip(holders(cells, points), table.T, strict=True):
        assert found.tolist() == np.flatnonzero(column).tolist()


def page_of_discs(number: int, seed: int) -> MultiPolygon:
    """Discs of 4 to 20 mm all over a page of 390 x 265 mm."""
    random = np.random.default_rng(seed)
    radius = random.uniform(2.0, 10.0, number)
    x, y = random.uniform(radius, 390.0 - radius), random.uniform(radius, 265.0 - radius)
    return multi(*shapely.buffer(shapely.points(x, y), radius).tolist())


@pytest.mark.parametrize(("number", "seed", "leaves"), [(30, 2, 11), (60, 2, 15), (120, 5, 18)])
def test_a_page_of_scattered_discs_is_proven(number: int, seed: int, leaves: int) -> None:
    """Counted steps, not seconds, end the search: what is proven here is proven everywhere."""
    cover = covered(page_of_discs(number, seed), 80.0, 3.0)
    assert cover.proven
    assert len(cover.squares) == leaves


def test_a_search_that_comes_to_its_limit_states_the_gap(monkeypatch: pytest.MonkeyPatch) -> None:
    area = page_of_discs(120, 1)
    monkeypatch.setattr("blockwright.geometry.square_search.SEARCH_LIMIT", 0.02)
    cover = covered(area, 80.0, 3.0)
    assert cover.fewest_known < len(cover.squares)
    assert not cover.proven
    monkeypatch.undo()
    longer = covered(area, 80.0, 3.0)
    assert longer.proven
    assert cover.fewest_known <= len(longer.squares) <= len(cover.squares)


def test_a_lap_of_half_a_leaf_is_refused() -> None:
    with pytest.raises(
        SettingsError, match=r"leaf_lap_mm is 20; it must be less than half of a leaf's 40 mm"
    ):
        cover_with_squares(multi(box(0, 0, 90, 90)), side_mm=40.0, lap_mm=20.0)
