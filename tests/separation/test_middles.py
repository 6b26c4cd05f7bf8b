"""Colours close up to the middle of a line: against the medial axes of strips, rings, wedges and a fork."""

import numpy as np
import pytest
import shapely
from drawn import strips, voronoi_coverage
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.separation.edges import shared_edges
from blockwright.separation.middles import PAST_MIDDLE_MM
from blockwright.separation.traps import KeyShapes, printing_areas

NEAR_MM = 0.04
"""How exactly a middle is found: the samples' steps and what is smoothed of them."""


def closed(
    regions: NDArray[np.object_], rank: list[int], *, trap_mm: float = 0.5, widest_mm: float = 3.0
) -> tuple[MultiPolygon, ...]:
    """The areas with the darkest rank as the key, one impression a rank."""
    ranks = np.array(rank, dtype=np.int64)
    inks = int(ranks.max()) + 1
    return printing_areas(
        regions,
        covers=ranks == np.arange(inks)[:, None],
        rank=ranks,
        trap_mm=np.full(inks, trap_mm),
        edges=shared_edges(regions),
        key=KeyShapes(ranks == inks - 1, widest_mm),
    )


@pytest.mark.parametrize("width_mm", [0.4, 1.0, 1.7, 2.9])
def test_two_colours_meet_at_the_middle_of_a_strip(width_mm: float) -> None:
    left, right, _ = closed(np.array(strips(10, width_mm, 10)), [0, 2, 1])
    middle = 10 + width_mm / 2
    assert left.bounds[2] == pytest.approx(middle + PAST_MIDDLE_MM, abs=NEAR_MM)
    assert right.bounds[0] == pytest.approx(middle - PAST_MIDDLE_MM, abs=NEAR_MM)
    assert left.intersection(right).area == pytest.approx(2 * PAST_MIDDLE_MM * 20, abs=NEAR_MM * 20)


@pytest.mark.parametrize("width_mm", [0.4, 1.0, 2.9])
def test_one_colour_on_both_sides_closes_to_one_area(width_mm: float) -> None:
    field, _ = closed(np.array(strips(10, width_mm, 10)), [0, 1, 0])
    assert len(field.geoms) == 1
    assert field.area == pytest.approx(20 * (20 + width_mm), abs=0.02)


def test_what_is_wider_than_a_line_gets_the_ordinary_trap() -> None:
    left, right, _ = closed(np.array(strips(10, 3.2, 10)), [0, 2, 1])
    assert left.bounds[2] == pytest.approx(10.5, abs=NEAR_MM)
    assert right.bounds[0] == pytest.approx(12.7, abs=NEAR_MM)


def test_no_trap_no_closing() -> None:
    left, right, _ = closed(np.array(strips(10, 1.0, 10)), [0, 2, 1], trap_mm=0.0)
    assert (left.area, right.area) == (200.0, 200.0)


def test_the_middle_of_a_ring_is_a_circle() -> None:
    def disc(radius_mm: float) -> shapely.Polygon:
        return shapely.Point(0, 0).buffer(radius_mm, quad_segs=90)

    regions = np.array(
        [disc(8), disc(10).difference(disc(8)), shapely.box(-20, -20, 20, 20).difference(disc(10))]
    )
    inner, outer, _ = closed(regions, [0, 2, 1])
    assert inner.area == pytest.approx(np.pi * (9 + PAST_MIDDLE_MM) ** 2, rel=0.004)
    assert outer.area == pytest.approx(1600 - np.pi * (9 - PAST_MIDDLE_MM) ** 2, rel=0.004)


def test_along_a_wedge_the_middle_stays_in_the_middle() -> None:
    """A line that swells from 0.3 to 2.7 mm: no constant reach would do at both of its ends."""
    wedge = shapely.Polygon([(0, 9.85), (40, 8.65), (40, 11.35), (0, 10.15)])
    above = shapely.Polygon([(0, 0), (40, 0), (40, 8.65), (0, 9.85)])
    below = shapely.Polygon([(0, 10.15), (40, 11.35), (40, 20), (0, 20)])
    upper, lower, _ = closed(np.array([above, wedge, below]), [0, 2, 1])
    for x in (2.0, 10.0, 25.0, 38.0):
        across = shapely.LineString([(x, 0), (x, 20)])
        assert upper.intersection(across).bounds[3] == pytest.approx(10 + PAST_MIDDLE_MM, abs=NEAR_MM)
        assert lower.intersection(across).bounds[1] == pytest.approx(10 - PAST_MIDDLE_MM, abs=NEAR_MM)


def test_where_a_line_joins_a_solid_only_the_line_is_closed() -> None:
    solid, line = shapely.box(20, 4, 32, 16), shapely.box(0, 9.5, 20, 10.5)
    key = shapely.union_all([solid, line])
    rest = shapely.box(0, 0, 40, 20).difference(key)
    field, _ = closed(np.array([rest, key]), [0, 1])
    hole = shapely.box(0, 0, 40, 20).difference(field)
    assert hole.area == pytest.approx(11.0 * 11.0, rel=0.02)
    assert hole.within(solid)


def test_never_past_the_middle_of_what_is_thin_only_in_parts() -> None:
    """Without a key too: a dark shape of 6 mm with a neck of 0.4 mm between two lighter colours."""
    neck = shapely.box(6, 9.8, 14, 10.2)
    dark = shapely.union_all([shapely.box(0, 4, 6, 16), neck, shapely.box(14, 4, 20, 16)])
    above, below = shapely.box(6, 4, 14, 9.8), shapely.box(6, 10.2, 14, 16)
    ranks = np.array([0, 2, 1])
    regions = np.array([above, dark, below])
    upper, lower, _ = printing_areas(
        regions,
        covers=ranks == np.arange(3)[:, None],
        rank=ranks,
        trap_mm=np.full(3, 0.5),
        edges=shared_edges(regions),
    )
    across = shapely.LineString([(10, 0), (10, 20)])
    assert upper.intersection(across).bounds[3] == pytest.approx(10.0 + PAST_MIDDLE_MM, abs=NEAR_MM)
    assert lower.intersection(across).bounds[1] == pytest.approx(10.0 - PAST_MIDDLE_MM, abs=NEAR_MM)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(6, 30), st.sampled_from([0.5, 1.5, 3.0, 9.0]), st.data())
def test_closing_in_any_coverage(seed: int, cells: int, widest_mm: float, data: st.DataObject) -> None:
    """Traps by edge and a key in random coverages, as GEOS measures them."""
    regions = voronoi_coverage(seed, cells)
    inks, nothing_mm2 = 4, 1e-4  # outlines that were untangled lie on a grid of a millionth of a millimetre
    rank = data.draw(st.lists(st.integers(-1, inks - 1), min_size=len(regions), max_size=len(regions)))
    rank[0:inks] = range(inks)
    ranks, edges = np.array(rank), shared_edges(regions)
    trap_mm = np.random.default_rng(seed).uniform(0.0, 1.0, (inks, len(edges.first)))
    areas = printing_areas(
        regions,
        covers=ranks == np.arange(inks)[:, None],
        rank=ranks,
        trap_mm=trap_mm,
        edges=edges,
        key=KeyShapes(ranks == inks - 1, widest_mm),
    )
    assert shapely.is_valid(np.array(areas)).all()
    for ink, area in enumerate(areas):
        own, lighter = (shapely.union_all(regions[chosen]) for chosen in (ranks == ink, ranks < ink))
        assert own.difference(area).area < nothing_mm2
        assert area.intersection(lighter).area < nothing_mm2
    everything = shapely.union_all([*areas, *regions[ranks == -1]])
    assert shapely.union_all(regions).difference(everything).area < nothing_mm2
