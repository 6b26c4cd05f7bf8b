"""Lanes joined to tours: everything is gone, nothing harmed, and the bit is seldom lifted."""

from functools import partial

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.cutting.distances import distances_in
from blockwright.cutting.innermost import innermost
from blockwright.cutting.joining import Ways, joined, way_through
from blockwright.cutting.lanes import Lane, ring_lanes, steepest, wall_lanes
from blockwright.cutting.ordering import in_order
from blockwright.cutting.rising import rising_lanes
from blockwright.cutting.tours import tours
from blockwright.cutting.wanted import Floor, shrunk
from blockwright.model.router import CUT, RAPID, Bit, Moves

FLOOR = Floor(60.0, 1.5, 0.1, 4.5)
THREE = Bit(2, "3 mm", "flat", 3.0, 2, 12.0)
VEE = Bit(4, "V", "V", 6.0, 2, 10.0, angle_deg=60.0)
# Two rooms with a gap of 1.2 mm between them, an island in the first one, and a room that nothing leads to.
ROOMS = MultiPolygon(
    [
        Polygon(
            [(0, 0), (20, 0), (20, 9.4), (26, 9.4), (26, 0), (40, 0),
             (40, 20), (26, 20), (26, 10.6), (20, 10.6), (20, 20), (0, 20)],
            [[(8, 8), (8, 12), (12, 12), (12, 8)]],
        ),
        box(60, 0, 70, 10),
    ]
)  # fmt: skip


def lanes_of(work: MultiPolygon) -> tuple[list[Lane], list[Lane]]:
    walls = wall_lanes(work, VEE, FLOOR)
    return walls, rising_lanes(work, VEE, FLOOR, walls=walls, away=distances_in(work))


def joined_tours(work: MultiPolygon, link_mm: float, bit: Bit = VEE) -> list[Lane]:
    away = distances_in(work)
    walls, rising = lanes_of(work)
    return tours(
        walls,
        rising,
        way=partial(way_through, bit=bit, floor=FLOOR, away=away, ramp_deg=8.0),
        link_mm=link_mm,
    )


def places(lane: Lane, *, apart_mm: float = 0.05) -> NDArray[np.float64]:
    """Places close together all along a lane, (n, 3)."""
    points = np.vstack([lane.points, lane.points[:1]]) if lane.closed else lane.points
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    at = np.arange(0.0, along[-1], apart_mm)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in range(3)])


def test_what_hangs_together_is_one_tour() -> None:
    """The gap leads from the first room to the second; the island is a short way from the walls around it."""
    assert len(joined_tours(ROOMS, 8.0)) == 2
    # Without ways through the work neither the island nor the gap hang on anything.
    assert len(joined_tours(ROOMS, 0.0)) >= 4


@pytest.mark.parametrize("link_mm", [0.0, 8.0])
def test_tours_go_along_every_lane_at_its_depth(link_mm: float) -> None:
    gone = shapely.multipoints(np.vstack([places(lane) for lane in joined_tours(ROOMS, link_mm)]))
    tree = np.asarray(shapely.get_coordinates(gone, include_z=True))
    walls, rising = lanes_of(ROOMS)
    for lane in [*walls, *rising]:
        assert cKDTree(tree).query(places(lane))[0].max() < 0.05


@pytest.mark.parametrize("link_mm", [0.0, 8.0])
def test_tours_harm_nothing(link_mm: float) -> None:
    """By exact distances from the outline (GEOS)."""
    for tour in joined_tours(ROOMS, link_mm):
        at = places(tour)
        away = shapely.distance(shapely.points(at[:, :2]), ROOMS.boundary)
        assert shapely.contains_xy(ROOMS, at[:, 0], at[:, 1]).all()
        assert np.all(away >= -at[:, 2] / steepest(VEE, FLOOR) - 0.01)


def test_a_tour_is_gone_without_a_lift() -> None:
    lanes = joined_tours(ROOMS, 8.0)
    moves = joined(
        lanes, in_order(lanes, lift_mm=30.0, link_mm=4.0), VEE, FLOOR, distances_in(ROOMS), Ways(8.0, 5.0)
    )
    lifts = (moves.kind[1:] == RAPID) & (moves.kind[:-1] == CUT)
    assert int(lifts.sum()) == len(lanes)


def test_open_lanes_beside_each_other_are_gone_to_and_fro() -> None:
    """Five of 10 mm, 0.6 mm apart: once along each, and from end to end."""
    room = MultiPolygon([box(0, 0, 30, 30)])
    lanes = [
        Lane(np.array([[10.0, 10.0 + 0.6 * k, -2.0], [20.0, 10.0 + 0.6 * k, -2.0]]), closed=False)
        for k in range(5)
    ]
    way = partial(way_through, bit=VEE, floor=FLOOR, away=distances_in(room), ramp_deg=8.0)
    (tour,) = tours(lanes, (), way=way, link_mm=8.0)
    assert 52.4 - 1e-6 < tour.length_mm < 54.0
    # Too far from each other they stay apart.
    assert len(tours(lanes, (), way=way, link_mm=0.5)) == 5


def test_a_tour_begins_at_the_top_of_a_corner() -> None:
    """So the bit comes down as it cuts the corner; what it would go again at the end is left out."""
    lanes = joined_tours(ROOMS, 8.0)
    order = in_order(lanes, lift_mm=30.0, link_mm=4.0)
    moves = joined(lanes, order, VEE, FLOOR, distances_in(ROOMS), Ways(8.0, 5.0))
    ends = np.vstack([[moves.start], moves.end])
    entries = np.flatnonzero((moves.kind[1:] == CUT) & (moves.kind[:-1] == RAPID)) + 1
    assert len(entries) == len(lanes)
    assert np.all(ends[entries + 1, 2] > -0.8)
    gone = Lane(ends[int(entries[0]) + 1 :], closed=False)
    tree = cKDTree(places(gone))
    for lane in lanes:
        assert tree.query(places(lane))[0].max() < 0.05
    cut = float(np.linalg.norm(np.diff(ends, axis=0), axis=1)[moves.kind == CUT].sum())
    assert cut < sum(lane.length_mm for lane in lanes) + 2.0


def test_a_way_through_falls_along_the_walls_as_straight_as_they_allow() -> None:
    """From the foot of a wall into a notch in it: by exact distances nowhere too near to the edge."""
    room = MultiPolygon(
        [Polygon([(0, 0), (9, 0), (9, -0.5), (10, -0.5), (10, 0), (30, 0), (30, 20), (0, 20)])]
    )
    away = distances_in(room)
    foot_mm = 1.5 / steepest(VEE, FLOOR) + 0.02
    here, there = np.array([9.5, 0.3 + foot_mm, -1.5]), np.array([9.5, 0.3, -0.8])
    between = way_through(here, there, bit=VEE, floor=FLOOR, away=away, ramp_deg=8.0)
    assert between is not None
    line = places(Lane(np.vstack([here, between, there]), closed=False))
    off = shapely.distance(shapely.points(line[:, :2]), room.boundary)
    assert np.all(off >= -line[:, 2] / steepest(VEE, FLOOR) - 0.01)
    # And no deep step straight down, nor far above the straight way.
    straight = np.interp(line[:, 1], [there[1], here[1]], [there[2], here[2]])
    assert np.all(line[:, 2] < straight + 0.5)


def test_rising_lanes_are_straight_where_corners_are() -> None:
    """Into a square corner leads one straight way, whose ends are all there is to it."""
    corners = [
        lane for lane in lanes_of(ROOMS)[1] if np.hypot(*(lane.points[:, :2] - [70, 10]).T).min() < 1.0
    ]
    assert len(corners) == 1
    assert len(corners[0].points) <= 4


def vertical(moves: Moves) -> NDArray[np.float64]:
    """How steeply each cutting move below the face leads down, (n,)."""
    ends = np.vstack([[moves.start], moves.end])
    step = np.diff(ends, axis=0)
    down = (moves.kind == CUT) & (step[:, 2] < -1e-9) & (ends[1:, 2] < 0.0)
    steep: NDArray[np.float64] = -step[down, 2] / np.maximum(np.hypot(*step[down, :2].T), 1e-9)
    return steep


def test_a_flat_bit_is_led_down_into_a_tour() -> None:
    away = distances_in(ROOMS)
    lanes = tours(
        ring_lanes(ROOMS, THREE, FLOOR, stock_mm=0.1, step_over_mm=1.3, step_down_mm=5.0),
        (),
        way=partial(way_through, bit=THREE, floor=FLOOR, away=away, ramp_deg=8.0),
        link_mm=8.0,
    )
    assert all(not lane.layers for lane in lanes)
    moves = joined(lanes, in_order(lanes, lift_mm=30.0, link_mm=2.0), THREE, FLOOR, away, Ways(8.0, 5.0))
    assert vertical(moves).max() <= np.tan(np.radians(8.0)) + 1e-3
    at = np.vstack([[moves.start], moves.end])
    cut = [np.linspace(at[k], at[k + 1], 40) for k in np.flatnonzero(moves.kind == CUT)]
    tree = cKDTree(np.concatenate(cut))
    for lane in lanes:
        assert tree.query(places(lane, apart_mm=0.5))[0].max() < 0.3


def test_innermost_rings_clear_what_is_left_by_the_shortest_way() -> None:
    """A slot of 2 mm between rings is cleared from one side; one of 0.3 mm was cleared already."""
    slot, thin, wide = box(0, 0, 30, 2.0), box(40, 0, 70, 0.3), box(80, 0, 110, 30)
    region = MultiPolygon([slot, thin, wide])
    inner = shrunk(region, 2.7)
    found = innermost(region, inner, 2.7, 3.0)
    assert list(found.rings) == [wide]
    (way,) = found.open
    assert shapely.within(way, slot.buffer(1e-6))
    assert shapely.length(way) < slot.length / 2.0
    cleared = shapely.union(slot.buffer(0.3), shapely.buffer(way, 3.0))
    # The ring around reaches 3 - 2.7 mm into it from all sides.
    assert shapely.covers(shapely.union(cleared, slot.buffer(0.3) - slot.buffer(-0.3)), slot)
    assert shapely.covers(shapely.buffer(way, 3.0), slot.buffer(-0.3))


def test_of_two_rings_round_an_island_one_is_enough() -> None:
    hoop = MultiPolygon([Polygon(box(0, 0, 40, 40).exterior, [box(2, 2, 38, 38).exterior.coords])])
    found = innermost(hoop, MultiPolygon(), 2.7, 3.0)
    total = sum(shapely.length(way) for way in found.open) + sum(part.length for part in found.rings)
    assert total < 0.55 * hoop.length
    gone = shapely.union_all(shapely.buffer([*found.open, *(p.boundary for p in found.rings)], 3.0))
    assert shapely.covers(gone, shrunk(hoop, 0.3))
