"""What the bits of a set do on a face, and what is said of those that do nothing or do it badly."""

import json
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiPolygon, box

from blockwright.cutting import plan_cuts
from blockwright.cutting.bit_findings import FaceBits, told_of_bits
from blockwright.cutting.feeds import Speeds
from blockwright.cutting.routed import set_up
from blockwright.cutting.routing import Routed, route_face
from blockwright.model.findings import Finding
from blockwright.model.router import CUT, Bit, Run
from blockwright.model.settings import CuttingTable
from blockwright.model.units import Area
from hollow_faces import MANNER, comb, face_of, routed_by, tools_of
from routed import BALL_3, FLAT_3, FLAT_6, FLAT_15, ROUTER, V_60, run

WIDE = Bit(9, "20 mm flat", "flat", 20.0, 2, 22.0, shank_mm=12.0)
SLIM = Bit(8, "30 degree V", "V", 6.0, 2, 10.0, angle_deg=30.0)
LINE = [(20.0, 20.0, -1.0), (40.0, 20.0, -1.0)]


@pytest.mark.parametrize("printing", [comb(), MultiPolygon([box(2.0, 2.0, 6.0, 6.0)])], ids=["comb", "dot"])
def test_a_wide_bit_that_a_wall_holds_up_leaves_nothing_too_shallow(printing: Area) -> None:
    """Its edge is at the wall's foot while its middle stands 11 mm away, where the floor is wanted deeper."""
    routed, proof = routed_by(printing, WIDE, V_60)
    assert routed.runs[0].bit == WIDE
    assert {finding.code for finding in proof.findings} == {"program-leaves-a-mark"}
    assert proof.shallow_mm2 < 0.001 * proof.reachable_mm2
    assert proof.too_deep_mm2 == 0.0


def test_no_flat_bit_goes_straight_down_on_any_way() -> None:
    routed, _ = routed_by(comb(), FLAT_6, FLAT_3, V_60)
    flats = [each for each in routed.runs if each.bit.kind == "flat"]
    assert {each.bit for each in flats} == {FLAT_6, FLAT_3}
    for each in flats:
        moves = each.moves
        ends = np.vstack([[moves.start], moves.end])
        step = np.diff(ends, axis=0)
        down = (moves.kind == CUT) & (step[:, 2] < -1e-9) & (ends[1:, 2] < 0.0)
        slope = np.tan(np.radians(MANNER.ramp_deg))
        assert np.all(-step[down, 2] <= slope * np.hypot(*step[down, :2].T) + 2e-3)


def test_a_smaller_set_of_bits_does_the_same_on_ground_that_was_laid_out_for_a_larger_one() -> None:
    blocks, whole = face_of(comb()), tools_of(FLAT_6, FLAT_3, V_60)
    (face,) = blocks.faces
    (cut,) = plan_cuts(blocks, CuttingTable.model_validate({"method": "router"})).faces
    larger = route_face(blocks, face, cut.clear, whole, MANNER)
    fewer = (whole[0], whole[2])
    anew = route_face(blocks, face, cut.clear, fewer, MANNER)
    again = route_face(blocks, face, cut.clear, fewer, MANNER, ground=larger.ground)
    assert again.left.equals(anew.left)
    assert [each.bit for each in again.runs] == [each.bit for each in anew.runs] == [FLAT_6, V_60]
    for one, other in zip(again.runs, anew.runs, strict=True):
        assert np.array_equal(one.moves.end, other.moves.end)


def test_marks_and_rim_are_part_of_the_least_time() -> None:
    """Both recesses by area, and once round the block at full feed, each as its bit cuts."""
    routed, _ = routed_by(comb(), FLAT_6, FLAT_3, V_60, manner=replace(MANNER, chamfer_mm=2.0))
    blocks = face_of(comb())
    _, flat, vee = tools_of(FLAT_6, FLAT_3, V_60)
    recesses = [
        recess.area
        for kento in blocks.marks_of(blocks.faces[0])
        for recess in (kento.kagi_recess, kento.hikitsuke_recess)
    ]
    marks_s = 60.0 * sum(recesses) / (flat.steps.over_mm * flat.speeds.feed_mm_min)
    # Half a tip outside the block on every side.
    rim_s = 60.0 * (blocks.block.length + 8.0 * V_60.tip_mm / 2.0) / vee.speeds.feed_mm_min
    assert routed.beside_s == pytest.approx(marks_s + rim_s)
    plain, _ = routed_by(comb(), FLAT_6, FLAT_3, V_60)
    assert plain.beside_s == pytest.approx(marks_s)


def test_a_floor_that_falls_faster_than_the_slack_is_deep_enough() -> None:
    """A flat bit of 6 mm clears 3 mm beyond its middle, where this floor is wanted 0.9 mm deeper."""
    manner = replace(MANNER, floor=replace(MANNER.floor, growth=0.3))
    dot = MultiPolygon([box(2.0, 2.0, 6.0, 6.0)])
    routed, proof = routed_by(dot, FLAT_6, FLAT_3, V_60, manner=manner)
    plain, _ = routed_by(dot, FLAT_6, FLAT_3, V_60)
    assert proof.gouge_mm2 == proof.too_deep_mm2 == 0.0
    assert proof.shallow_mm2 < 0.01 * proof.reachable_mm2
    # And not by many more rings.
    lengths = [
        float(np.hypot(*np.diff(each.runs[0].moves.end[:, :2], axis=0).T).sum()) for each in (routed, plain)
    ]
    assert lengths[0] < 1.6 * lengths[1]


def test_a_steep_bit_leaves_no_shelf_on_a_wall_that_leans_more() -> None:
    """At the foot alone a V of 30 degrees would leave 1.5 (1 / tan 60 - 1 / tan 75) mm, 0.46, by an edge."""
    _, proof = routed_by(comb(), FLAT_6, FLAT_3, SLIM)
    assert proof.gouge_mm2 == 0.0
    assert proof.shallow_mm2 < 0.002 * proof.reachable_mm2
    away, heights = proof.reach.away_mm, proof.surface.heights
    # So near that the foot's own lane, 0.87 mm away and 0.4 mm wide at the face, does not come there.
    beside = proof.reach.reached & (away > 0.25) & (away < 0.4)
    assert beside.any()
    assert (heights[beside] < -0.05).mean() > 0.97


@pytest.mark.parametrize("smallest", [FLAT_3, FLAT_15], ids=lambda bit: bit.name)
def test_marks_are_cut_by_a_bit_of_3_mm_whatever_smaller_one_there_is(smallest: Bit) -> None:
    routed, proof = routed_by(comb(), FLAT_6, *dict.fromkeys((FLAT_3, smallest)), V_60)
    assert [mark.good for mark in proof.marks] == [True, True]
    assert all(mark.position_mm < 0.02 for mark in proof.marks)
    assert not [run for run in routed.runs if run.what == "marks" and run.bit != FLAT_3]


def test_a_flat_bit_comes_only_where_it_saves_time() -> None:
    """A 1.5 mm bit clears 0.675 x 1771 mm2 a minute, the V bit that comes by anyway 0.6 x 3000."""
    routed, _ = routed_by(comb(), FLAT_6, FLAT_15, V_60)
    assert FLAT_15 not in {run.bit for run in routed.runs if run.what == "clearing"}
    alone, _ = routed_by(comb(), FLAT_6, FLAT_15)
    assert FLAT_15 in {run.bit for run in alone.runs if run.what == "clearing"}


@pytest.mark.parametrize(("asked", "held"), [(9.0, 9.0), (None, ROUTER.safe_mm)])
def test_how_high_the_bit_travels_is_the_print_s_or_the_machine_s(asked: float | None, held: float) -> None:
    (board,) = face_of(comb()).boards
    table = CuttingTable.model_validate({"method": "router", "router": {"safe_mm": asked}})
    bench = set_up(board, 0.2, table, (FLAT_6, V_60), ROUTER)
    assert bench.machine.safe_mm == bench.manner.safe_mm == held


def test_bits_that_clear_are_asked_for() -> None:
    blocks = face_of(comb())
    with pytest.raises(ValueError, match="flat or ball bits; there is none"):
        route_face(blocks, blocks.faces[0], comb(), tools_of(V_60), MANNER)


def done(*bits: Bit, at_work: tuple[Bit, ...], widest_mm: float = 11.0, marks: Bit | None = None) -> FaceBits:
    """A face that was routed by some of the bits of a set."""
    runs: list[Run] = [
        replace(run(bit, LINE), what="walls" if bit.kind == "V" else "clearing") for bit in at_work
    ]
    if marks is not None:
        runs.append(replace(run(marks, LINE), what="marks"))
    return FaceBits(
        ROUTER, tools_of(*bits), MANNER, Routed(tuple(runs), MANNER.floor, MultiPolygon(), widest_mm)
    )


def one(*faces: FaceBits) -> Finding:
    (finding,) = told_of_bits(faces)
    return finding


def bits_left(finding: Finding) -> list[str]:
    return list(json.loads(str(dict(finding.about)["bits"])))


def test_nothing_is_said_of_bits_that_all_do_something() -> None:
    assert told_of_bits([]) == ()
    assert told_of_bits([done(FLAT_6, V_60, at_work=(V_60,)), done(FLAT_6, V_60, at_work=(FLAT_6,))]) == ()


def test_a_bit_too_large_for_every_gap_is_told_with_the_size_that_fits() -> None:
    """By hand: a flat bit needs least / tan 60 + r + stock + 0.006; with 6.5 mm of room r is 5.428."""
    narrow = done(WIDE, FLAT_3, V_60, at_work=(FLAT_3, V_60), widest_mm=5.0)
    wider = done(WIDE, FLAT_3, V_60, at_work=(FLAT_3, V_60), widest_mm=6.5)
    finding = one(narrow, wider)
    assert (finding.code, finding.severity) == ("bit-too-large", "warn")
    assert finding.message == (
        "20 mm flat fits nowhere on the faces that are routed and clears nothing; the widest gap takes a "
        "flat bit of 10.8 mm at most."
    )
    assert bits_left(finding) == ["3 mm flat", "60° V"]
    roomy = done(WIDE, FLAT_3, V_60, at_work=(WIDE, FLAT_3, V_60), widest_mm=12.0)
    assert told_of_bits([narrow, roomy]) == ()


def test_where_no_bit_that_clears_fits_it_is_said_so() -> None:
    finding = one(done(WIDE, FLAT_6, V_60, at_work=(V_60,), widest_mm=3.0, marks=FLAT_6))
    assert finding.message.startswith("20 mm flat and 6 mm flat fit nowhere")
    assert finding.message.endswith("No other bit clears the ground between walls.")
    assert "bits" not in dict(finding.about), "none could be left out"
    tight = one(done(WIDE, V_60, at_work=(V_60,), widest_mm=1.1))
    assert "no gap is wide enough for any bit that clears." in tight.message


def test_a_ball_bit_too_large_is_told_with_a_ball_that_fits() -> None:
    face = done(replace(BALL_3, diameter_mm=30.0, name="30 mm ball"), at_work=(), widest_mm=4.0)
    finding = one(face)
    most = float(dict(finding.about)["most_mm"])
    assert f"takes a ball bit of {most:g} mm at most" in finding.message

    def needs(diameter_mm: float) -> float:
        (tool,) = face.tools
        return face.needs_mm(replace(tool, bit=replace(tool.bit, diameter_mm=diameter_mm)))

    assert needs(most) < 4.0 < needs(most + 0.2)


def test_a_bit_that_fits_and_is_not_needed_can_stay_in_the_rack() -> None:
    finding = one(done(FLAT_6, BALL_3, SLIM, V_60, at_work=(FLAT_6, V_60)))
    assert (finding.code, finding.severity) == ("bit-not-needed", "note")
    assert finding.message == (
        "3 mm ball and 30 degree V have nothing to do on the faces that are routed; they can stay in the "
        "rack."
    )
    assert bits_left(finding) == ["6 mm flat", "60° V"]


def test_a_bit_that_rubs_is_told_once_in_the_wood_where_it_rubs_most() -> None:
    def rubbing(chip_mm: float) -> FaceBits:
        face = done(FLAT_6, V_60, at_work=(FLAT_6, V_60))
        slow = Speeds(20000.0, 300.0, 150.0, chip_mm, f"each tooth takes {chip_mm:g} mm.", rubs=True)
        return replace(face, tools=(replace(face.tools[0], speeds=slow), face.tools[1]))

    finding = one(rubbing(0.02), rubbing(0.01), done(FLAT_6, V_60, at_work=(FLAT_6, V_60)))
    assert (finding.code, finding.severity, finding.message) == (
        "bit-rubs",
        "warn",
        "each tooth takes 0.01 mm.",
    )
    assert ("machine", ROUTER.name) in finding.about
    assert "bits" not in dict(finding.about), "no other bit clears"
    idle = replace(rubbing(0.02), routed=done(FLAT_6, V_60, at_work=(V_60,)).routed)
    assert [each.code for each in told_of_bits([idle])] == ["bit-not-needed"], (
        "what does not turn does not rub"
    )
