"""Rings rounded where they turn sharply: what a bit clears on them, and how sharply they still turn."""

from math import cos, pi, radians, sin

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.cutting.lanes import Lane, reach_mm, ring_lanes, standing
from blockwright.cutting.rounding import left_within, rounded
from blockwright.cutting.wanted import Floor
from blockwright.model.router import Bit

FLOOR = Floor(60.0, 1.5, 0.0, 1.5)
SIX = Bit(1, "6 mm", "flat", 6.0, 2, 20.0)


def rings(work: MultiPolygon, round_mm: float) -> list[Lane]:
    return ring_lanes(work, SIX, FLOOR, stock_mm=0.2, step_over_mm=2.7, step_down_mm=5.0, round_mm=round_mm)


def swept(lanes: list[Lane], radius_mm: float) -> shapely.Geometry:
    lines = [
        shapely.linearrings(lane.points[:, :2]) if lane.closed else shapely.linestrings(lane.points[:, :2])
        for lane in lanes
    ]
    return shapely.union_all(shapely.buffer(lines, radius_mm, quad_segs=32))


def seconds(lanes: list[Lane]) -> float:
    """At 50 mm/s and 300 mm/s2, a stop at every corner of more than 30 degrees."""
    total = 0.0
    for lane in lanes:
        step = np.diff(np.vstack([lane.points, lane.points[:1]])[:, :2], axis=0)
        ways = np.degrees(np.arctan2(step[:, 1], step[:, 0]))
        turn = np.abs((np.diff(ways, append=ways[0]) + 180.0) % 360.0 - 180.0)
        total += lane.length_mm / 50.0 + 0.16 * int((turn > 30.0).sum())
    return total


def corner(angle_deg: float) -> MultiPolygon:
    """A wedge of an angle, cut off far from its tip."""
    half = radians(angle_deg / 2.0)
    far = 60.0 / max(sin(half), 0.5)
    return MultiPolygon(
        [Polygon([(0, 0), (far * cos(half), -far * sin(half)), (far * cos(half), far * sin(half))])]
    )


@pytest.mark.parametrize("angle", [30.0, 45.0, 60.0, 75.0, 90.0, 110.0, 140.0])
def test_what_sharp_rings_clear_is_cleared_by_rounded_ones(angle: float) -> None:
    work = corner(angle)
    sharp, soft = rings(work, 0.0), rings(work, 1.5)
    left = shapely.difference(swept(sharp, 3.0), swept(soft, 3.0))
    assert left.area < 0.02
    # Threads between rings at most.
    assert shapely.buffer(left, -0.02).is_empty
    assert seconds(soft) <= seconds(sharp)


def test_rounded_rings_turn_less_often() -> None:
    field = MultiPolygon([box(0, 0, 60, 40)])
    assert seconds(rings(field, 1.5)) < 0.93 * seconds(rings(field, 0.0))


@given(st.lists(st.tuples(st.floats(8.0, 30.0), st.floats(0.3, 1.0)), min_size=4, max_size=9))
@settings(max_examples=30, deadline=None)
def test_stars_of_any_shape_are_cleared_and_no_wood_is_touched(rays: list[tuple[float, float]]) -> None:
    turns = np.cumsum([gap for _, gap in rays])
    turns *= 2.0 * pi / turns[-1]
    star = Polygon([(far * cos(turn), far * sin(turn)) for (far, _), turn in zip(rays, turns, strict=True)])
    work = MultiPolygon([star]) if star.is_valid else MultiPolygon([star.convex_hull])
    soft, sharp = rings(work, 1.5), rings(work, 0.0)
    left = shapely.difference(swept(sharp, 3.0), swept(soft, 3.0))
    assert shapely.buffer(left, -0.02).is_empty
    stands = standing(work, SIX, FLOOR, 0.2)
    for lane in soft:
        assert shapely.covers(shapely.buffer(stands, 0.02), shapely.multipoints(lane.points[:, :2]))


@pytest.mark.parametrize("share", [0.3, 0.6, 1.0])
@pytest.mark.parametrize("long", [1.0, 2.0, 3.0, 4.0, 5.0])
def test_an_arm_that_narrows_slowly_is_gone_to_its_end(share: float, long: float) -> None:
    """A ring that is a little narrower near its end than the round, is no corner that can be left out."""
    falls = 0.02
    # The second ring is as wide as two radii that are tried, ``long`` before its end.
    end = 2.0 * (reach_mm(SIX, FLOOR, 0.2) + 2.7 + 3.0 * share) - falls * (long + 6.8)
    start = end + 50.0 * falls
    work = MultiPolygon(
        [Polygon([(0, -25), (40, -start / 2), (90, -end / 2), (90, end / 2), (40, start / 2), (0, 25)])]
    )
    left = shapely.difference(swept(rings(work, 0.0), 3.0), swept(rings(work, 1.5), 3.0))
    assert shapely.buffer(left, -0.02).is_empty


def around_of(part: Polygon, step: float, clears: float) -> MultiPolygon:
    """What a bit leaves that went round a step outside."""
    return left_within(MultiPolygon([part.buffer(step, join_style="mitre")]), clears)


def test_a_neck_is_not_cut_off() -> None:
    neck = shapely.union_all([box(0, 0, 20, 20), box(19, 6, 22, 14), box(21, 0, 45, 20)])
    part = rounded(neck, around_of(neck, 2.7, 3.0), 2.7, 3.0, 1.5)
    assert isinstance(part, Polygon)
    assert part.covers(shapely.Point(20.5, 10))
    # And the corners are rounded all the same.
    assert neck.area - part.area > 8 * (1 - pi / 4)


@pytest.mark.parametrize(("clears", "step"), [(3.0, 2.7), (1.5, 1.35), (0.5, 0.6)])
def test_a_square_corner_is_rounded_as_the_formula_allows(clears: float, step: float) -> None:
    """The tip is cut off by R (1 - pi / 4) R in each corner, with (s + R - r) sqrt 2 <= r + R."""
    square = box(0, 0, 40, 40)
    lost = (square.area - rounded(square, around_of(square, step, clears), step, clears, 10.0).area) / 4.0
    radius = np.sqrt(lost / (1.0 - pi / 4.0))
    clear = clears - 0.05
    assert (step + radius - clear) * np.sqrt(2.0) <= clear + radius + 1e-6
    assert radius > 0.9 * clears
