"""Lanes of router bits: how far they keep from wood that stays, how deep they are, how they are joined."""

from functools import partial
from math import sqrt, tan

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.cutting import rising
from blockwright.cutting.distances import distances_in
from blockwright.cutting.joining import Ways, joined, way_through
from blockwright.cutting.lanes import (
    Lane,
    left_after,
    reach_mm,
    ring_lanes,
    steepest,
    wall_lanes,
)
from blockwright.cutting.marks_and_rim import mark_lanes, rim_lane
from blockwright.cutting.ordering import in_order
from blockwright.cutting.rising import rising_lanes
from blockwright.cutting.tours import tours
from blockwright.cutting.wanted import Floor, area_to_work, shrunk
from blockwright.model.router import CUT, RAPID, Bit, Moves

FLOOR = Floor(60.0, 1.5, 0.1, 4.5)
SIX = Bit(1, "6 mm", "flat", 6.0, 2, 20.0)
THREE = Bit(2, "3 mm", "flat", 3.0, 2, 12.0)
VEE = Bit(4, "V", "V", 6.0, 2, 10.0, angle_deg=60.0)
# A field with a printing bar in it, an inside corner of 90 degrees everywhere, and a gap of 1 mm.
WORK = MultiPolygon(
    [
        Polygon(
            [(0, 0), (80, 0), (80, 50), (0, 50)],
            [[(20, 20), (20, 30), (60, 30), (60, 20)], [(61, 20), (61, 30), (70, 30), (70, 20)]],
        )
    ]
)


def swept_samples(moves: Moves) -> NDArray[np.float64]:
    """Places along the cutting moves, close together, with their depths."""
    places = np.vstack([[moves.start], moves.end])
    cut = np.flatnonzero(moves.kind == CUT)
    parts = np.linspace(0.0, 1.0, 9)[:, None, None]
    return (places[cut] * (1.0 - parts) + places[cut + 1] * parts).reshape(-1, 3)


def away_from_wood(points: NDArray[np.float64]) -> NDArray[np.float64]:
    inside = shapely.contains_xy(WORK, points[:, 0], points[:, 1])
    return np.where(inside, shapely.distance(shapely.points(points[:, :2]), WORK.boundary), 0.0)


def routed(bit: Bit, lanes: list[Lane]) -> Moves:
    order = in_order(lanes, lift_mm=30.0, link_mm=4.0)
    return joined(lanes, order, bit, FLOOR, distances_in(WORK), Ways(4.0, 5.0))


def toured(lanes: list[Lane]) -> list[Lane]:
    """Walls and rings of the V bit, with its rising lanes, joined to tours."""
    away = distances_in(WORK)
    return tours(
        lanes,
        rising_lanes(WORK, VEE, FLOOR, walls=wall_lanes(WORK, VEE, FLOOR), away=away),
        way=partial(way_through, bit=VEE, floor=FLOOR, away=away, ramp_deg=8.0),
        link_mm=8.0,
    )


def test_rings_lie_at_even_steps_and_get_deeper() -> None:
    lanes = ring_lanes(WORK, SIX, FLOOR, stock_mm=0.2, step_over_mm=2.7, step_down_mm=3.0)
    first = reach_mm(SIX, FLOOR, 0.2)
    for lane in lanes:
        away = away_from_wood(lane.points)
        step = round((away.min() - first) / 2.7)
        # Round outside corners a ring is drawn with straight pieces.
        assert np.all(np.abs(away - (first + 2.7 * step)) < 0.02)
        ring = first + 2.7 * step
        deep = min(float(FLOOR.depth_mm(ring)), (ring - 3.0) * FLOOR.slope)
        assert lane.points[0, 2] == pytest.approx(-deep, abs=1e-6)
        assert lane.layers[-1] == pytest.approx(-lane.points[0, 2])
        assert all(b - a <= 3.0 * 1.2 for a, b in zip((0.0, *lane.layers), lane.layers, strict=False))
    assert len({round(-lane.points[0, 2], 2) for lane in lanes}) >= 3


def test_the_wood_that_stays_is_on_the_right() -> None:
    for lane in wall_lanes(WORK, VEE, FLOOR):
        along = np.diff(lane.points[:2, :2], axis=0)[0]
        right = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        middle = lane.points[:2, :2].mean(axis=0)
        assert away_from_wood((middle + 0.05 * right)[None])[0] < away_from_wood(middle[None])[0]


@pytest.mark.parametrize("bit", [SIX, THREE, VEE], ids=lambda bit: bit.name)
def test_no_bit_touches_what_stays(bit: Bit) -> None:
    """By exact distances from the outline (GEOS): the bit's edge at the face, the wall below it."""
    stock = 0.2 if bit.kind == "flat" else 0.0
    over = 0.45 * bit.diameter_mm
    lanes = ring_lanes(WORK, bit, FLOOR, stock_mm=stock, step_over_mm=over, step_down_mm=2.0)
    if bit is VEE:
        lanes = toured([*wall_lanes(WORK, bit, FLOOR), *lanes])
    moves = routed(bit, lanes)
    points = swept_samples(moves)
    below = points[points[:, 2] < -1e-9]
    need = -below[:, 2] / steepest(bit, FLOOR) + (bit.radius_mm if bit.kind == "flat" else 0.0)
    assert np.all(away_from_wood(below) >= need - 0.01)
    rapid = moves.kind == RAPID
    assert np.all(np.vstack([[moves.start], moves.end])[1:][rapid, 2] >= 0.0)
    assert moves.end[-1, 2] == 5.0


@pytest.mark.parametrize("bit", [SIX, THREE], ids=lambda bit: bit.name)
def test_every_lane_is_gone_all_along_at_its_depth(bit: Bit) -> None:
    lanes = ring_lanes(WORK, bit, FLOOR, stock_mm=0.2, step_over_mm=0.45 * bit.diameter_mm, step_down_mm=2.0)
    points = swept_samples(routed(bit, lanes))
    for lane in lanes:
        depth = lane.points[0, 2]
        deep = points[np.abs(points[:, 2] - depth) < 1e-6]
        gone = shapely.multipoints(deep[:, :2])
        assert shapely.distance(shapely.points(lane.points[:, :2]), gone).max() < 1e-6


def test_a_flat_bit_never_plunges() -> None:
    lanes = ring_lanes(WORK, SIX, FLOOR, stock_mm=0.2, step_over_mm=2.7, step_down_mm=3.0)
    moves = routed(SIX, lanes)
    ends = np.vstack([[moves.start], moves.end])
    step = np.diff(ends, axis=0)
    down = (moves.kind == CUT) & (step[:, 2] < -1e-9) & (ends[1:, 2] < 0.0)
    flat_way = np.hypot(step[down, 0], step[down, 1])
    assert np.all(-step[down, 2] <= tan(np.radians(4.0)) * flat_way + 1e-3)


def test_a_v_bit_rises_into_an_inside_corner() -> None:
    """In a square corner the round that touches both sides at s from it has the radius s / sqrt 2."""
    lanes = rising_lanes(WORK, VEE, FLOOR, walls=wall_lanes(WORK, VEE, FLOOR), away=distances_in(WORK))
    corner = [lane for lane in lanes if np.hypot(*lane.points[:, :2].T).min() < 1.0]
    assert corner
    points = np.concatenate([lane.points for lane in corner])
    along = np.hypot(points[:, 0], points[:, 1])
    assert np.all(np.abs(points[:, 0] - points[:, 1]) < 0.05)
    deep = np.minimum(along / sqrt(2.0) * tan(np.radians(60.0)), 1.5)
    assert np.all(np.abs(-points[:, 2] - deep) < 0.05)
    assert along.min() < 0.35


def test_a_middle_line_of_nothing_beside_a_foot_is_no_lane(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both its ends are drawn to one place of the foot."""
    walls, away = wall_lanes(WORK, VEE, FLOOR), distances_in(WORK)
    usual = rising_lanes(WORK, VEE, FLOOR, walls=walls, away=away)
    foot = walls[0].points[0, :2]
    speck = shapely.linestrings([foot + 0.05, foot + 0.06])
    leading_on = rising._leading_on
    monkeypatch.setattr(rising, "_leading_on", lambda lines: np.append(leading_on(lines), speck))
    found = rising_lanes(WORK, VEE, FLOOR, walls=walls, away=away)
    assert [lane.points.tolist() for lane in found] == [lane.points.tolist() for lane in usual]


@pytest.mark.parametrize("least", [1.5, 3.0])
@pytest.mark.parametrize("angle", [100.0, 120.0, 130.0, 138.0, 142.0, 150.0, 160.0])
def test_a_blunt_corner_has_a_lane_of_its_own_where_the_foot_leaves_more_than_a_tenth(
    least: float, angle: float
) -> None:
    """A foot o from both sides leaves o / sin(a / 2) - o in the corner."""
    floor = Floor(60.0, least, 0.1, 4.5)
    turn = np.radians(angle)
    work = MultiPolygon([Polygon([(40, 0), (0, 0), (40 * np.cos(turn), 40 * np.sin(turn))])])
    lanes = rising_lanes(work, VEE, floor, walls=wall_lanes(work, VEE, floor), away=distances_in(work))
    there = any(np.hypot(*lane.points[:, :2].T).min() < 1.0 for lane in lanes)
    foot = reach_mm(VEE, floor, 0.0)
    leaves = foot / np.sin(turn / 2.0) - foot
    if abs(leaves - 0.1) > 0.02:
        assert there == (leaves > 0.1)


def test_a_v_bit_runs_down_the_middle_of_a_gap_as_deep_as_its_walls_allow() -> None:
    """Walls of 60 degrees in a gap of 1 mm meet half of it away, 0.5 tan 60 deep."""
    walls = wall_lanes(WORK, VEE, FLOOR)
    points = np.concatenate(
        [
            shapely.get_coordinates(shapely.segmentize(shapely.linestrings(lane.points), 0.2), include_z=True)
            for lane in rising_lanes(WORK, VEE, FLOOR, walls=walls, away=distances_in(WORK))
        ]
    )
    gap = points[(np.abs(points[:, 0] - 60.5) < 0.2) & (np.abs(points[:, 1] - 25.0) < 3.0)]
    assert len(gap)
    assert np.all(np.abs(gap[:, 0] - 60.5) < 0.02)
    assert np.all(np.abs(-gap[:, 2] - 0.5 * tan(np.radians(60.0))) < 0.03)


def test_a_smaller_bit_goes_only_where_a_larger_one_left_waste() -> None:
    """A round bit leaves r^2 (1 - pi / 4) in a square corner."""
    whole = shrunk(WORK, FLOOR.foot_mm + 0.2)
    left = left_after(whole, WORK, SIX, FLOOR, 0.2)
    corners = [part for part in left.geoms if part.area < 4.0]
    wanted = 3.0**2 * (1.0 - np.pi / 4.0)
    at_origin = [part for part in corners if part.distance(shapely.Point(1.0, 1.0)) < 1.0]
    assert len(at_origin) == 1
    assert at_origin[0].area == pytest.approx(wanted, rel=0.1)
    lanes = ring_lanes(WORK, THREE, FLOOR, stock_mm=0.2, step_over_mm=1.35, step_down_mm=1.5, within=left)
    everywhere = ring_lanes(WORK, THREE, FLOOR, stock_mm=0.2, step_over_mm=1.35, step_down_mm=1.5)
    assert 0.0 < sum(lane.length_mm for lane in lanes) < 0.3 * sum(lane.length_mm for lane in everywhere)


def test_the_order_has_every_lane_once_and_is_no_longer_than_the_nearest_first() -> None:
    chance = np.random.default_rng(5)
    lanes = []
    for x, y in chance.uniform(0.0, 200.0, (120, 2)):
        ends = np.array([[x, y, -1.0], [x + chance.uniform(2, 9), y + chance.uniform(2, 9), -1.0]])
        lanes.append(Lane(ends, closed=False))
    order = in_order(lanes, lift_mm=30.0, link_mm=3.0)
    assert sorted(place.lane for place in order) == list(range(120))
    ways, here = 0.0, np.zeros(2)
    for place in order:
        points = lanes[place.lane].points[:: -1 if place.backwards else 1]
        ways += float(np.hypot(*(points[0, :2] - here)))
        here = points[-1, :2]
    assert ways < 0.95 * _nearest_first_way(lanes)


def _nearest_first_way(lanes: list[Lane]) -> float:
    left, here, ways = set(range(len(lanes))), np.zeros(2), 0.0
    while left:
        way, lane, end = min(
            (float(np.hypot(*(lanes[k].points[e, :2] - here))), k, e) for k in left for e in (0, -1)
        )
        left.remove(lane)
        ways += way
        here = lanes[lane].points[-1 - end if end == 0 else 0, :2]
    return ways


def test_a_square_sheet_corner_seats_in_the_kagi() -> None:
    """The bit's edge reaches the very corner, and no farther past the walls than it must."""
    recess = Polygon([(0, 0), (20, 0), (20, 8), (8, 8), (8, 20), (0, 20)])
    bit = Bit(3, "1.5 mm", "flat", 1.5, 2, 6.0)
    lanes = mark_lanes(recess, bit, depth_mm=0.2, corner=((20.0, 0.0), (0.0, 0.0), (0.0, 20.0)))
    points = np.concatenate([lane.points for lane in lanes])
    assert np.hypot(points[:, 0], points[:, 1]).min() == pytest.approx(0.75, abs=1e-6)
    swept = shapely.union_all([shapely.linestrings(lane.points[:, :2]).buffer(0.75) for lane in lanes])
    assert shapely.area(shapely.difference(swept, recess)) < 0.35
    with pytest.raises(ValueError, match="does not fit"):
        mark_lanes(recess, Bit(1, "12 mm", "flat", 12.0, 2, 20.0), depth_mm=0.2, corner=None)


def test_the_rim_is_chamfered_by_a_v_bit_only() -> None:
    block = box(0.0, 0.0, 100.0, 80.0)
    lane = rim_lane(block, VEE, chamfer_mm=2.0)
    assert lane is not None
    assert -lane.points[:, 2] == pytest.approx(2.0 * tan(np.radians(60.0)))
    assert rim_lane(block, SIX, chamfer_mm=2.0) is None
    assert rim_lane(block, VEE, chamfer_mm=0.0) is None


def test_waste_that_reaches_the_rim_is_worked_past_it() -> None:
    block = box(0.0, 0.0, 100.0, 80.0)
    clear = MultiPolygon([box(10.0, 10.0, 50.0, 80.0)])
    work = area_to_work(clear, block)
    assert work.bounds == pytest.approx((10.0, 10.0, 50.0, 84.0), abs=0.01)
