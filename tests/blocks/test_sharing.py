"""The lower bound for the number of faces, against brute force."""

from itertools import combinations

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, box

from blockwright.blocks.sharing import find_conflicts, largest_clique, overlap, same_area


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
        if places[i] == places[j]:
            assert not masks[i] >> j & 1, "one carving serves both"
            continue
        distance = shapely.distance(areas[i], areas[j])
        if abs(distance - nearer_than_mm) > 1e-9:
            assert bool(masks[i] >> j & 1) == (distance < nearer_than_mm)


@pytest.mark.parametrize("count", [1, 5])
def test_every_pair_in_conflict_needs_a_face_each(count: int) -> None:
    masks = find_conflicts(squares(*[(k, 0) for k in range(count)]), nearer_than_mm=30.0)
    assert len(largest_clique(masks)) == count


def test_only_two_masked_colours_may_stand_nearer() -> None:
    areas = squares((0, 0), (25, 0), (50, 0))
    both = find_conflicts(areas, nearer_than_mm=30.0, masked=0b011, masked_mm=10.0)
    assert both == [0, 0b100, 0b010]
    ends = find_conflicts(areas, nearer_than_mm=30.0, masked=0b101, masked_mm=10.0)
    assert ends == [0b010, 0b101, 0b010]


def test_an_edge_that_strays_less_than_a_gouge_follows_is_the_same() -> None:
    one = box(0, 0, 100, 60)
    near, far = (MultiPolygon([one.buffer(by, join_style="mitre")]) for by in (0.004, 0.1))
    assert same_area(MultiPolygon([one]), near)
    assert not same_area(MultiPolygon([one]), far)
    assert overlap(MultiPolygon([one]), far)
    assert not overlap(MultiPolygon([one]), near)
    assert not same_area(MultiPolygon([one]), MultiPolygon([box(200, 0, 300, 60)]))


def test_conflicts_with_areas_that_lie_otherwise() -> None:
    """Straight they are far apart; turned about the middle of 100 x 10 mm each meets the other."""
    shifted = squares((5, 0), (90, 0))
    assert find_conflicts(shifted, nearer_than_mm=30.0) == [0, 0]
    turned = [shapely.transform(area, lambda xy: (100, 10) - xy) for area in shifted]
    assert find_conflicts(shifted, others=turned, nearer_than_mm=30.0) == [0b10, 0b01]
