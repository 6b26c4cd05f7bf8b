"""The lower bound for the number of faces, against brute force."""

from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from blockwright.blocks.sharing import find_conflicts, largest_clique


@st.composite
def graphs(draw: st.DrawFn) -> list[int]:
    size = draw(st.integers(0, 9))
    masks = [0] * size
    for i, j in combinations(range(size), 2):
        if draw(st.booleans()):
            masks[i] |= 1 << j
            masks[j] |= 1 << i
    return masks


def is_clique(vertices: tuple[int, ...], masks: list[int]) -> bool:
    return all(masks[i] >> j & 1 for i, j in combinations(vertices, 2))


def clique_number(masks: list[int]) -> int:
    """Try every set of vertices, largest first."""
    vertices = range(len(masks))
    return next(
        size
        for size in range(len(masks), -1, -1)
        if any(is_clique(chosen, masks) for chosen in combinations(vertices, size))
    )


@settings(max_examples=200)
@given(graphs())
def test_largest_clique_against_every_subset(masks: list[int]) -> None:
    found = largest_clique(masks)
    assert is_clique(found, masks)
    assert len(found) == clique_number(masks)
    assert list(found) == sorted(found)


@given(graphs(), st.integers(0, 6))
def test_a_search_cut_short_still_gives_a_clique(masks: list[int], work_limit: int) -> None:
    found = largest_clique(masks, work_limit=work_limit)
    assert is_clique(found, masks)
    if masks and work_limit:
        assert found


def test_forty_impressions_are_solved_exactly() -> None:
    """The complement of 20 disjoint pairs: one of each pair, 20 in all (a cocktail-party graph)."""
    everyone = (1 << 40) - 1
    masks = [everyone & ~(1 << i) & ~(1 << (i ^ 1)) for i in range(40)]
    assert len(largest_clique(masks)) == 20


def test_a_graph_of_moon_and_moser_is_no_trap() -> None:
    """39 vertices in triples, joined to all others: 3**13 cliques of 13 (Moon & Moser 1965)."""
    masks = [sum(1 << j for j in range(39) if j // 3 != i // 3) for i in range(39)]
    assert len(largest_clique(masks)) == 13


def squares(*places: tuple[float, float]) -> list[MultiPolygon]:
    return [MultiPolygon([box(x, y, x + 10, y + 10)]) for x, y in places]


def test_conflicts_follow_the_clear_distance() -> None:
    """30 mm of clear distance: *Japanese Wood-Block Printing*, Tokyo 1939."""
    areas = squares((0, 0), (39.9, 0), (200, 0))
    assert find_conflicts(areas, nearer_than_mm=30.0) == [0b010, 0b001, 0]


def test_without_a_distance_only_overlaps_conflict() -> None:
    areas = squares((0, 0), (10, 0), (5, 5))
    assert find_conflicts(areas, nearer_than_mm=0.0) == [0b100, 0b100, 0b011]


def test_an_empty_area_conflicts_with_none() -> None:
    assert find_conflicts([MultiPolygon(), *squares((0, 0))], nearer_than_mm=30.0) == [0, 0]


@settings(max_examples=50)
@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 200)), min_size=2, max_size=8),
    st.sampled_from([0.5, 10.0, 30.0, 77.0]),
)
def test_conflicts_against_the_distance_itself(places: list[tuple[int, int]], nearer_than_mm: float) -> None:
    areas = squares(*places)
    masks = find_conflicts(areas, nearer_than_mm=nearer_than_mm)
    for i, j in combinations(range(len(areas)), 2):
        distance = shapely.distance(areas[i], areas[j])
        if abs(distance - nearer_than_mm) > 1e-9:
            assert bool(masks[i] >> j & 1) == (distance < nearer_than_mm)


@pytest.mark.parametrize("count", [1, 5])
def test_every_pair_in_conflict_needs_a_face_each(count: int) -> None:
    masks = find_conflicts(squares(*[(0, 0)] * count), nearer_than_mm=30.0)
    assert len(largest_clique(masks)) == count
