"""Ball bits: how near to walls they come, what ridges they leave, what they clear, and no face is gouged."""

from collections.abc import Sequence
from dataclasses import replace
from math import radians, sqrt, tan

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, box

from blockwright.cutting.ball_lanes import Ball, ball_lanes
from blockwright.cutting.cells import cells_inside
from blockwright.cutting.feeds import Steps, half_chord_mm, ridge_mm, steps_for
from blockwright.cutting.reaching import find_reach, keep_off_mm, largest_bits
from blockwright.cutting.simulating import simulate
from blockwright.cutting.wanted import Floor
from blockwright.model.router import Bit, Run
from blockwright.model.settings_router import RouterTable
from hollow_faces import MANNER, comb, rounds, routed_by
from routed import BALL_3, BLOCK, BY_NUMBER, FLAT_3, FLAT_6, V_60, read, run

FLOOR = MANNER.floor
BALL_6 = Bit(6, "6 mm ball", "ball", 6.0, 2, 22.0)


@pytest.mark.parametrize("wall_deg", [45.0, 60.0, 70.0])
@pytest.mark.parametrize(("bit", "depth"), [(BALL_3, 1.5), (BALL_3, 4.5), (BALL_6, 3.0), (BALL_6, 0.4)])
def test_a_ball_keeps_off_as_a_circle_that_touches_a_line(bit: Bit, depth: float, wall_deg: float) -> None:
    """D / tan a + r tan (a / 2); where it would touch above the face, the chord there (plane geometry)."""
    lean, r = radians(wall_deg), bit.radius_mm
    touches = depth >= r * (1.0 - np.cos(lean))
    wanted = depth / tan(lean) + r * tan(lean / 2.0) if touches else sqrt(2.0 * r * depth - depth**2)
    assert keep_off_mm(bit, depth, replace(FLOOR, wall_deg=wall_deg)) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("over_mm", [0.3, 0.9, 1.6])
def test_ridges_between_lanes_are_as_high_as_the_formula_says(over_mm: float) -> None:
    """r - sqrt(r^2 - (s / 2)^2) (Machinery's Handbook), against the simulation of two lanes."""
    ways = [
        (10.0, 10.0, -1.0),
        (40.0, 10.0, -1.0),
        (40.0, 10.0 + over_mm, -1.0),
        (10.0, 10.0 + over_mm, -1.0),
    ]
    surface = simulate(read([run(BALL_3, ways)]), BY_NUMBER, BLOCK, step_mm=0.02)
    column = int((22.0 - surface.origin[0]) / 0.02)
    y_mm = 38.0 - (surface.origin[1] + (np.arange(len(surface.heights)) + 0.5) * 0.02)
    between = (y_mm > 10.0) & (y_mm < 10.0 + over_mm)
    assert surface.heights[between, column].max() + 1.0 == pytest.approx(ridge_mm(BALL_3, over_mm), abs=0.008)


def test_steps_leave_no_ridge_higher_than_the_slack() -> None:
    for slack in (0.05, 0.3, 1.0):
        table = RouterTable(depth_slack_mm=slack, ball_step_over_percent=60.0)
        for bit in (BALL_3, BALL_6):
            over = steps_for(bit, "hardwood", table).over_mm
            assert over <= 0.6 * bit.diameter_mm + 1e-9
            # Even a whole step from the last lane.
            assert bit.rise_mm(over) <= slack + 1e-9
            assert ridge_mm(bit, over) < 0.3 * slack
    assert steps_for(BALL_3, "hardwood", RouterTable(depth_slack_mm=0.0)).over_mm == pytest.approx(
        half_chord_mm(BALL_3, 0.02)
    )


def test_its_lanes_are_deep_enough_between_and_no_deeper_than_the_walls_allow() -> None:
    ball = Ball(BALL_3, FLOOR, Steps(1.2, 0.9), 0.0, 0.3)
    slot = MultiPolygon([box(0.0, 0.0, 30.0, 14.0)])
    lanes = ball_lanes(slot, ball)
    for lane in lanes:
        away = shapely.distance(shapely.points(lane.points[:, :2]), slot.boundary)
        assert np.all(away >= keep_off_mm(BALL_3, -lane.points[0, 2], FLOOR))
        assert np.all(-lane.points[:, 2] <= FLOOR.depth_mm(away) + ball.ridge_mm + 0.01)
        assert max(np.diff((0.0, *lane.layers))) <= 1.2 * 1.2
    # Every place of the floor is within half a step of a lane, or a whole one where lanes end.
    ways = shapely.union_all([shapely.linearrings(lane.points[:, :2]) for lane in lanes])
    inner = slot.buffer(-ball.foot_mm)
    assert inner.difference(ways.buffer(0.9)).area < 1e-6
    assert inner.difference(ways.buffer(0.46)).area < 0.12 * inner.area


FACES = {"comb": comb(), "rounds": rounds()}


@pytest.mark.parametrize("name", FACES)
@pytest.mark.parametrize(
    "bits",
    [(BALL_3,), (FLAT_6, BALL_3, V_60), (BALL_6, BALL_3), (FLAT_6, BALL_3)],
    ids=lambda bits: ", ".join(bit.name for bit in bits),
)
def test_no_face_is_gouged_and_what_stays_shallow_is_told(name: str, bits: tuple[Bit, ...]) -> None:
    """By the simulation of the programs' text."""
    routed, proof = routed_by(FACES[name], *bits)
    assert {finding.code for finding in proof.findings} <= {"program-leaves-a-mark"}
    assert proof.gouge_mm2 == 0.0
    assert proof.shallow_mm2 <= 0.01 * proof.reachable_mm2
    assert any(run.bit.kind == "ball" for run in routed.runs)
    shallow = (proof.reach.needed_mm > 0) & (proof.surface.heights > -proof.reach.needed_mm)
    told = cells_inside(
        shapely.buffer(routed.left, 0.2), proof.surface.origin, proof.surface.step_mm, shallow.shape
    )
    assert np.count_nonzero(shallow & (told == 0)) < 0.004 * np.count_nonzero(proof.reach.needed_mm)
    # What is told as left is not much more than what is shallow, but for marks that no bit of the set cuts.
    marks = 0.0 if proof.marks[0].cut else 14.0 * 7.0 + 24.0 * 7.0 + 17.0 * 7.0
    assert shapely.area(routed.left) < marks + 2.6 * np.count_nonzero(shallow) * 0.01 + 20.0


def test_a_ball_gets_between_walls_where_a_flat_bit_of_its_size_does_not() -> None:
    """A gap of 4.4 mm has room for 2 (D / tan a + r tan (a / 2)) = 3.9, not for 2 (D / tan a + r) = 5.1."""
    gap = box(23.6, 8.0, 25.6, 28.0)
    with_ball, _ = routed_by(comb(), FLAT_6, BALL_3, V_60)
    with_flat, _ = routed_by(comb(), FLAT_6, FLAT_3, V_60)

    def ways(kind: str, runs: Sequence[Run]) -> int:
        ends = np.concatenate([each.moves.end for each in runs if each.bit.kind == kind])
        deep = ends[ends[:, 2] < 0.0]
        return int(shapely.contains_xy(gap, deep[:, 0] - 8.0, 58.0 - deep[:, 1]).sum())

    assert ways("ball", with_ball.runs) > 0
    assert ways("flat", with_flat.runs) == 0


def test_with_ball_bits_alone_the_marks_are_left_to_the_hand_and_told() -> None:
    routed, proof = routed_by(rounds(), BALL_3)
    assert [finding.code for finding in proof.findings] == ["program-leaves-a-mark"] * 2
    kagi = box(46.0, 43.0, 70.0, 50.0)
    assert shapely.area(shapely.intersection(routed.left, kagi)) == pytest.approx(kagi.area)


def test_reach_of_a_ball_is_the_slot_that_it_fits_into() -> None:
    """Two slots, one wider by 0.6 mm than 2 (D / tan a + r tan (a / 2)), the other narrower."""
    floor = Floor(60.0, 1.5, 0.0, 1.5)
    needs = 2.0 * (1.5 / sqrt(3.0) + 1.5 * tan(radians(30.0)))
    slots = MultiPolygon([box(1, 1, 1 + needs + 0.6, 19), box(10, 1, 10 + needs - 0.6, 19)])
    reach = find_reach(slots, floor, [BALL_3], origin=(0.0, 0.0), step_mm=0.1, shape=(200, 200))
    deep = reach.reached & (reach.needed_mm > 1.45)
    assert deep[:, :90].any()
    assert not deep[:, 90:].any()
    # On the walls it touches both slots, and nothing outside of them.
    assert reach.reached[:, 90:].any()
    assert not reach.reached[:10].any()
    # A larger ball comes nowhere a smaller one does not.
    larger = find_reach(slots, floor, [BALL_6], origin=(0.0, 0.0), step_mm=0.1, shape=(200, 200))
    assert np.count_nonzero(larger.reached & ~reach.reached) < 5


def test_what_a_ball_reaches_goes_to_it_before_a_bit_that_clears_less_at_once() -> None:
    ground = MultiPolygon([box(1, 1, 19, 19)])
    reach = find_reach(ground, FLOOR, [V_60], origin=(0.0, 0.0), step_mm=0.1, shape=(200, 200))
    areas = largest_bits(reach, FLOOR, [V_60, BALL_3, BALL_6, FLAT_3])
    assert list(areas) == [FLAT_3.number, BALL_6.number, BALL_3.number, V_60.number]
    assert areas[FLAT_3.number] > 200.0
    assert areas[V_60.number] > 0.0
