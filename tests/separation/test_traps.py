"""Traps: under the darker neighbour, never elsewhere, as GEOS measures it."""

from time import process_time

import numpy as np
import pytest
import shapely
from drawn import strips, voronoi_coverage
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.separation import traps
from blockwright.separation.edges import shared_edges
from blockwright.separation.middles import PAST_MIDDLE_MM
from blockwright.separation.remembered import dissolve
from blockwright.separation.traps import SLOT_MM, printing_areas

NOTHING_MM2 = 1e-4  # outlines that were untangled lie on a grid of a millionth of a millimetre
FAR_SIDE_MM = 0.02  # how exactly the hidden side of a trap is kept


def areas_of(
    regions: NDArray[np.object_], rank: list[int], *, trap_mm: float, inks: int
) -> tuple[MultiPolygon, ...]:
    ranks = np.array(rank, dtype=np.int64)
    return printing_areas(
        regions,
        covers=ranks == np.arange(inks)[:, None],
        rank=ranks,
        trap_mm=np.full(inks, trap_mm),
        edges=shared_edges(regions),
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(4, 40), st.sampled_from([0.0, 0.05, 0.3, 0.5, 1.5]), st.data())
def test_traps_of_any_coverage(seed: int, cells: int, trap_mm: float, data: st.DataObject) -> None:
    regions = voronoi_coverage(seed, cells)
    inks = 4
    rank = data.draw(st.lists(st.integers(-1, inks - 1), min_size=len(regions), max_size=len(regions)))
    rank[0:inks] = range(inks)
    areas = areas_of(regions, rank, trap_mm=trap_mm, inks=inks)
    ranks = np.array(rank)
    assert shapely.is_valid(np.array(areas)).all()
    for ink, area in enumerate(areas):
        own = shapely.union_all(regions[ranks == ink])
        lighter = shapely.union_all(regions[ranks < ink])
        darker = shapely.union_all(regions[ranks > ink])
        assert own.difference(area).area < NOTHING_MM2
        assert area.intersection(lighter).area < NOTHING_MM2
        gained = area.difference(own)
        assert gained.difference(darker).area < NOTHING_MM2
        assert gained.difference(own.buffer(trap_mm + SLOT_MM / 2, quad_segs=64)).area < NOTHING_MM2
        # Every part of the ink belongs to one of its shapes.
        assert all(part.intersection(own).area > NOTHING_MM2 for part in area.geoms)
    everything = shapely.union_all([*areas, *regions[ranks == -1]])
    assert shapely.union_all(regions).difference(everything).area < NOTHING_MM2


def test_a_straight_edge_gets_exactly_its_trap() -> None:
    light, dark = areas_of(np.array(strips(10.0, 12.0)), [0, 1], trap_mm=0.5, inks=2)
    assert light.area == pytest.approx(20 * 10.5, abs=20 * FAR_SIDE_MM)
    assert light.bounds == pytest.approx((0.0, 0.0, 10.5, 20.0), abs=FAR_SIDE_MM)
    assert dark.area == pytest.approx(20 * 12.0)


def _from_to_mm(area: MultiPolygon) -> list[float]:
    """Where each part begins and ends, from left to right."""
    return sorted(x for part in area.geoms for x in part.bounds[::2])


def test_an_impression_of_several_colours_runs_under_what_it_does_not_print() -> None:
    # Light, middle, dark, middle: the first impression prints the light and the dark, the second the middle.
    regions = np.array(strips(10.0, 10.0, 10.0, 10.0))
    rank = np.array([0, 1, 2, 1])
    covers = np.array([[True, False, True, False], [False, True, False, True]])
    first, second = printing_areas(
        regions, covers=covers, rank=rank, trap_mm=np.array([0.5, 0.4]), edges=shared_edges(regions)
    )
    assert _from_to_mm(first) == pytest.approx([0.0, 10.5, 20.0, 30.0], abs=FAR_SIDE_MM)
    assert _from_to_mm(second) == pytest.approx([10.0, 20.4, 29.6, 40.0], abs=FAR_SIDE_MM)


def test_nothing_runs_under_a_shape_that_it_prints() -> None:
    regions = np.array(strips(10.0, 10.0))
    covers = np.array([[True, True], [False, True]])
    below, above = printing_areas(
        regions,
        covers=covers,
        rank=np.array([0, 1]),
        trap_mm=np.array([0.5, 0.5]),
        edges=shared_edges(regions),
    )
    assert below.equals(shapely.union_all(regions))
    assert above.equals(regions[1])


def test_no_trap_towards_paper_or_a_lighter_ink() -> None:
    areas = areas_of(np.array(strips(10.0, 10.0, 10.0)), [0, -1, 1], trap_mm=0.5, inks=2)
    assert [area.area for area in areas] == pytest.approx([200.0, 200.0])


def test_the_trap_of_each_ink_is_its_own() -> None:
    regions = np.array(strips(10.0, 10.0, 10.0))
    areas = printing_areas(
        regions,
        covers=np.eye(3, dtype=np.bool_),
        rank=np.array([0, 1, 2]),
        trap_mm=np.array([0.3, 1.2, 9.0]),
        edges=shared_edges(regions),
    )
    assert [area.bounds[2] for area in areas] == pytest.approx([10.3, 21.2, 30.0], abs=FAR_SIDE_MM)


def test_under_a_dark_line_two_inks_meet_with_a_lap_past_its_middle() -> None:
    # Trade: under a key line to its middle (common practice, no source).
    left, right, _ = areas_of(np.array(strips(10.0, 0.4, 10.0)), [0, 2, 1], trap_mm=0.5, inks=3)
    reach = 0.2 + PAST_MIDDLE_MM
    assert left.bounds[2] == pytest.approx(10.0 + reach, abs=0.03)
    assert right.bounds[0] == pytest.approx(10.4 - reach, abs=0.03)
    assert left.intersection(right).area > 0.0


@pytest.mark.parametrize("width_mm", [0.3, 0.6, 0.99, 1.02, 1.3])
def test_no_slot_is_left_under_a_line_within_one_ink(width_mm: float) -> None:
    field, _ = areas_of(np.array(strips(10.0, width_mm, 10.0)), [0, 1, 0], trap_mm=0.5, inks=2)
    assert len(field.geoms) == 1
    assert field.area == pytest.approx(20 * (20 + width_mm), abs=0.05)


def test_a_wide_dark_band_keeps_its_middle_free() -> None:
    field, _ = areas_of(np.array(strips(10.0, 3.0, 10.0)), [0, 1, 0], trap_mm=0.5, inks=2)
    assert [part.bounds[2] - part.bounds[0] for part in field.geoms] == pytest.approx(
        [10.5, 10.5], abs=FAR_SIDE_MM
    )


def test_no_trap_where_only_corners_touch() -> None:
    quarters = [shapely.box(x, y, x + 5, y + 5) for x in (0, 5) for y in (0, 5)]
    areas = areas_of(np.array(quarters), [0, -1, -1, 1], trap_mm=0.5, inks=2)
    assert areas[0].area == pytest.approx(25.0)


def test_a_trap_does_not_jump_over_a_lighter_line() -> None:
    areas = areas_of(np.array(strips(10.0, 0.3, 10.0)), [1, 0, 2], trap_mm=0.5, inks=3)
    assert areas[1].area == pytest.approx(200.0)


def test_same_input_same_bytes() -> None:
    regions = voronoi_coverage(11, 60)
    rank = [i % 5 - 1 for i in range(len(regions))]
    one, two = (areas_of(regions, rank, trap_mm=0.5, inks=4) for _ in range(2))
    assert [a.wkb for a in one] == [b.wkb for b in two]


def test_what_is_remembered_from_before_an_edit_is_what_is_found_anew() -> None:
    def forget() -> None:
        for each in (traps._half_width_mm, traps._band, traps._run_under, traps._with_traps):
            each.forget()

    regions = voronoi_coverage(12, 60)
    before = [i % 5 - 1 for i in range(len(regions))]
    after = [*before[:17], 3, *before[18:]]
    forget()
    first = areas_of(regions, before, trap_mm=0.5, inks=4)
    found_before = traps._run_under.worked_out
    one = areas_of(regions, after, trap_mm=0.5, inks=4)
    assert traps._run_under.worked_out > found_before
    forget()
    two = areas_of(regions, after, trap_mm=0.5, inks=4)
    assert [a.wkb for a in one] == [b.wkb for b in two]
    assert [a.wkb for a in one] != [b.wkb for b in first]


def test_a_ragged_edge_is_trapped_in_a_moment() -> None:
    # An edge that turns far more often than the trap is wide, as noise in a picture makes it.
    rng = np.random.default_rng(4)
    x = np.linspace(0.0, 120.0, 4001)
    edge = np.column_stack(
        [x, 10.0 + np.cumsum(rng.choice([-0.1, 0.1], x.size)) + 0.3 * (np.arange(x.size) % 2)]
    )
    dark, light = (shapely.Polygon([*edge, (120.0, end), (0.0, end)]) for end in (80.0, -60.0))
    assert dark.is_valid
    started = process_time()
    areas = areas_of(np.array([light, dark]), [0, 1], trap_mm=0.5, inks=2)
    assert process_time() - started < 5.0
    assert areas[0].is_valid
    assert areas[0].intersection(dark).area > 0.3 * 120


def test_where_traps_cross_only_those_that_lie_together_are_untangled() -> None:
    """The general union moves corners to a grid; what shares its edges elsewhere stays as exact as it was."""
    crossing = [shapely.box(0, 0, 4, 1), shapely.box(1, -1, 2, 3)]
    third = 1.0 / 3.0
    far = [shapely.box(10 + third, third, 11, 1), shapely.box(11, third, 12 + third, 1)]
    joined = dissolve(np.array([*crossing, *far]))
    assert sorted(part.area for part in joined) == pytest.approx([(2.0) * 2.0 / 3.0, 7.0])
    (kept,) = [part for part in joined if part.bounds[0] > 5.0]
    assert kept.bounds == (10 + third, third, 12 + third, 1.0)
    nearly = dissolve(np.array([*crossing, shapely.box(4 + 1e-7, 0, 5, 1)]))
    assert [part.area for part in nearly] == pytest.approx([8.0])
