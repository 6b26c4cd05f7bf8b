"""Programs held against the face that they should cut: good ones, and every kind of bad one."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.cutting.proving import FaceWanted, Proof, check_program
from blockwright.cutting.reaching import find_reach, keep_off_mm, largest_bits
from blockwright.cutting.wanted import Floor
from blockwright.model.blocks import Kento
from blockwright.model.errors import ProgramError
from blockwright.model.router import Bit, Machine, Run
from routed import BITS, BLOCK, FLAT_3, FLAT_6, ROUTER, V_60, ring, run, written

FLOOR = Floor(60.0, 1.5, 0.1, 4.5)
INNER, OUTER = 6.0, 14.0
CENTRE = (17.0, 18.0)
"""A printing disc in a round hollow; on the face. On the machine its middle is at (20, 20)."""

PRINTING = Point(*CENTRE).buffer(INNER, quad_segs=64)
CLEAR = Point(*CENTRE).buffer(OUTER, quad_segs=64).difference(PRINTING)
WANTED = FaceWanted(
    name="1a",
    block=BLOCK,
    thickness_mm=20.0,
    printing=MultiPolygon([PRINTING]),
    clear=MultiPolygon([CLEAR]),
    floor=FLOOR,
    image_width_mm=54.0,
)
DEEP = 1.7


def good_runs(*, shift: float = 0.0) -> list[Run]:
    """Flat rings over the floor, and a V ring along both edges, the inner one ``shift`` nearer."""
    off = keep_off_mm(FLAT_3, DEEP, FLOOR)
    radii = np.linspace(INNER + off, OUTER - off, 4)
    wall = keep_off_mm(V_60, DEEP, FLOOR)
    rings = [run(FLAT_3, ring(20, 20, radius, -DEEP)) for radius in radii]
    walls = [run(V_60, ring(20, 20, r, -DEEP)) for r in (INNER + wall - shift, OUTER - wall)]
    return [*rings, *walls]


def proof_of(
    runs: Sequence[Run], wanted: FaceWanted = WANTED, machine: Machine = ROUTER, bits: Sequence[Bit] = BITS
) -> Proof:
    return check_program([program.text for program in written(runs, machine)], wanted, bits, machine)


def codes(proof: Proof) -> list[str]:
    return [finding.code for finding in proof.findings]


def test_a_good_program_has_nothing_against_it() -> None:
    proof = proof_of(good_runs())
    assert codes(proof) == []
    assert proof.may_be_handed_over
    assert proof.gouge_mm2 == 0.0
    assert proof.deepest_mm == pytest.approx(DEEP)
    assert proof.shallow_mm2 < 0.01 * proof.reachable_mm2
    assert proof.reachable_mm2 + proof.unreached_mm2 == pytest.approx(CLEAR.area, rel=0.08)
    assert proof.moves == 41


def test_a_wall_too_near_is_a_gouge_with_its_place() -> None:
    proof = proof_of(good_runs(shift=0.05))
    assert codes(proof) == ["program-cuts-the-face"]
    assert not proof.may_be_handed_over
    # 0.05 mm sideways is 0.087 mm deep at the edge; what is deeper than 0.02 mm is 0.038 mm wide.
    assert proof.deepest_gouge_mm == pytest.approx(0.087, abs=0.03)
    assert proof.gouge_mm2 == pytest.approx(2 * np.pi * INNER * 0.038, rel=0.1)
    (finding,) = proof.findings
    assert finding.severity == "stop"
    assert finding.at is not None
    x, y = finding.at
    assert np.hypot(54.0 - x - CENTRE[0], y - CENTRE[1]) == pytest.approx(INNER, abs=0.1)


def test_a_touch_of_less_than_two_hundredths_is_none() -> None:
    proof = proof_of(good_runs(shift=0.01))
    assert codes(proof) == []


def test_one_line_changed_by_hand_is_found() -> None:
    (program,) = written(good_runs(), replace(ROUTER, arcs=False))
    lines = program.text.splitlines()
    number = next(k for k, line in enumerate(lines) if line.startswith("G1Z-1.7"))
    lines.insert(number + 1, "X20Y20")
    proof = check_program(["\n".join(lines)], WANTED, BITS, ROUTER)
    assert codes(proof)[0] == "program-cuts-the-face"
    assert proof.deepest_gouge_mm == pytest.approx(DEEP)


def test_what_was_forgotten_is_shallow_where_a_bit_used_can_reach() -> None:
    runs = good_runs()
    proof = proof_of([runs[0], *runs[4:]])
    assert codes(proof) == ["program-leaves-it-shallow"]
    assert proof.may_be_handed_over
    assert proof.shallow_mm2 > 20


def test_a_splinter_that_stands_is_told_though_it_is_little() -> None:
    """A bit in tracks over a whole block leaves one place out: far less than 1 %, but it would print."""
    wanted = replace(WANTED, printing=MultiPolygon(), clear=MultiPolygon([BLOCK]))
    ways = [((0, y), (60, y))[:: 1 if k % 2 else -1] for k, y in enumerate(np.arange(0.0, 41.0, 2.6))]
    tracks = [(x, y, -4.5) for way in ways for x, y in way]
    whole = proof_of([run(FLAT_3, tracks)], wanted)
    assert codes(whole) == []
    at = next(k for k in range(0, len(tracks), 2) if tracks[k][1] > 17.0)
    y = tracks[at][1]
    aside = [(x, y + off, -4.5) for x, off in ((24, 0.0), (24, -1.2), (27, -1.2), (27, 0.0))]
    spoilt = proof_of(
        [
            run(
                FLAT_3,
                [*tracks[: at + 1], *(aside if tracks[at][0] == 0 else aside[::-1]), *tracks[at + 1 :]],
            )
        ],
        wanted,
    )
    assert spoilt.shallow_mm2 < 0.01 * spoilt.reachable_mm2
    (finding,) = spoilt.findings
    assert finding.code == "program-leaves-it-shallow"
    assert "stay standing, in one place: they would print" in finding.message


def test_walls_steeper_than_asked_for_are_told() -> None:
    upright = [run(FLAT_3, ring(20, 20, INNER + 1.55, -DEEP)), *good_runs()]
    proof = proof_of(upright)
    assert codes(proof) == ["program-deeper-than-wanted"]
    # All of the wall that the flat bit took, less what is so deep anyway and the tenth that is let pass.
    assert proof.too_deep_mm2 == pytest.approx(2 * np.pi * (INNER + 0.5) * 0.85, rel=0.1)


def test_a_hollow_deeper_than_the_deepest_is_told() -> None:
    proof = proof_of([*good_runs(), run(FLAT_3, [(30, 20, -1), (30, 20, -5.0), (30, 21, -5.0)])])
    assert codes(proof) == ["program-deeper-than-wanted"]
    assert proof.may_be_handed_over


def test_a_shank_that_meets_standing_wood_is_found() -> None:
    stub = Bit(1, "stub", "flat", 6.0, 2, 1.0, shank_mm=10.0)
    wanted = replace(WANTED, printing=MultiPolygon(), clear=MultiPolygon([box(0, 0, 50, 30)]))
    proof = proof_of([run(stub, [(20, 20, -1.5), (30, 20, -1.5)])], wanted, bits=[stub])
    assert "program-shank-meets-wood" in codes(proof)
    down = [(20, 20, -0.8), (30, 20, -0.8), (30, 20, -1.5), (20, 20, -1.5)]
    thin = replace(stub, shank_mm=6.0)
    assert "program-shank-meets-wood" not in codes(proof_of([run(thin, down)], wanted, bits=[thin]))


def test_moves_beyond_the_machine_are_found_on_its_table_and_in_height() -> None:
    proof = proof_of(good_runs(), machine=replace(ROUTER, reach_mm=(30.0, 400.0, 6.0)))
    assert codes(proof) == ["program-beyond-the-machine"] * 2
    assert "mm along x" in proof.findings[0].message
    assert "mm along z" in proof.findings[1].message


def test_a_rapid_move_in_the_wood_is_found_with_its_line() -> None:
    (program,) = written(good_runs())
    lines = program.text.splitlines()
    number = next(k for k, line in enumerate(lines) if line.startswith("G1Z-1.7"))
    lines[number] = "G0Z-1.7"
    lines[number + 1] = (
        "G1" + lines[number + 1] + "F1200" if "G" not in lines[number + 1] else lines[number + 1]
    )
    proof = check_program(["\n".join(lines)], WANTED, BITS, ROUTER)
    assert codes(proof) == ["program-rapid-in-the-wood"]
    assert f"line {number + 1};" in proof.findings[0].message


def test_a_program_deeper_than_the_board_is_found() -> None:
    proof = proof_of(good_runs(), replace(WANTED, thickness_mm=1.6))
    assert codes(proof) == ["program-through-the-board"]


def test_a_bit_that_is_not_in_the_set_is_refused() -> None:
    with pytest.raises(ProgramError, match="the bit T3, which is not known"):
        proof_of(good_runs(), bits=[FLAT_3, FLAT_6])


KENTO = Kento(
    kagi=(50.0, 33.0),
    hikitsuke=(32.5, 33.0),
    kagi_wall=((38.0, 33.0), (50.0, 33.0), (50.0, 21.0)),
    hikitsuke_wall=((28.0, 33.0), (37.0, 33.0)),
    kagi_recess=box(38.0, 21.0, 50.0, 33.0),
    hikitsuke_recess=box(28.0, 29.0, 37.0, 33.0),
    depth_mm=0.3,
)


def pocket(recess: Polygon, depth: float, *, dx: float = 0.0) -> Run:
    """A rectangle of the face cleared by the 3 mm flat bit, ring in ring."""
    left, top, right, bottom = recess.bounds
    low_x, high_x, low_y, high_y = left + 3 + dx, right + 3 + dx, 38 - bottom, 38 - top
    points = []
    for inset in np.arange(1.5, min(high_x - low_x, high_y - low_y) / 2, 1.0):
        a, b, c, d = low_x + inset, high_x - inset, low_y + inset, high_y - inset
        points += [(a, c, -depth), (b, c, -depth), (b, d, -depth), (a, d, -depth), (a, c, -depth)]
    return run(FLAT_3, points)


def marked(depth: float, *, dx: float = 0.0) -> Proof:
    wanted = replace(WANTED, marks=(KENTO,), mark_depth_mm=0.3)
    pockets = [pocket(KENTO.kagi_recess, depth, dx=dx), pocket(KENTO.hikitsuke_recess, depth)]
    return proof_of([*good_runs(), *pockets], wanted)


def test_marks_in_place_are_good() -> None:
    proof = marked(0.3)
    assert codes(proof) == []
    kagi, hikitsuke = proof.marks
    assert kagi.good
    assert hikitsuke.good
    assert max(kagi.position_mm, hikitsuke.position_mm) <= 0.011
    assert kagi.depth_mm == pytest.approx(0.3)


def test_a_mark_out_of_place_by_a_tenth_is_found() -> None:
    proof = marked(0.3, dx=-0.1)
    assert codes(proof) == ["program-cuts-the-face", "program-mark-is-off"]
    assert proof.marks[0].position_mm == pytest.approx(0.1, abs=0.012)
    assert proof.marks[1].good


def test_a_mark_too_deep_is_found() -> None:
    proof = marked(0.36)
    assert codes(proof) == ["program-mark-is-off"] * 2
    assert proof.marks[0].uneven_mm == pytest.approx(0.06)


def test_marks_that_are_not_cut_are_told() -> None:
    proof = proof_of(good_runs(), replace(WANTED, marks=(KENTO,), mark_depth_mm=0.3))
    assert codes(proof) == ["program-leaves-a-mark"] * 2
    assert proof.may_be_handed_over


def test_programs_of_single_bits_are_checked_together() -> None:
    machine = replace(ROUTER, tool_change=False)
    runs = good_runs()
    assert len(written(runs, machine)) == 2
    assert codes(proof_of(runs, machine=machine)) == []


def test_a_program_without_a_cut_leaves_all_of_it() -> None:
    proof = check_program(["G21 G90\nM30"], WANTED, BITS, ROUTER)
    assert proof.reachable_mm2 == 0.0
    assert proof.unreached_mm2 > 0


@pytest.mark.parametrize(
    ("bit", "depth", "off"),
    [
        (FLAT_3, 1.5, 1.5 + 1.5 / np.sqrt(3.0)),
        (V_60, 1.5, 0.1 + 1.5 / np.sqrt(3.0)),
        (Bit(9, "wide V", "V", 12.0, 2, 9.0, angle_deg=90.0), 1.5, 1.5),
    ],
)
def test_how_far_bits_keep_off(bit: Bit, depth: float, off: float) -> None:
    assert keep_off_mm(bit, depth, FLOOR) == pytest.approx(off)


def test_reach_of_a_flat_bit_is_the_slot_that_it_fits_into() -> None:
    """Two slots: the bit needs 2 (r + foot) of width for the least depth."""
    floor = Floor(60.0, 1.5, 0.0, 1.5)
    needs = 2 * (1.5 + 1.5 / np.sqrt(3.0))
    slots = MultiPolygon([box(1, 1, 1 + needs + 0.6, 19), box(10, 1, 10 + needs - 0.6, 19)])
    reach = find_reach(slots, floor, [FLAT_3], origin=(0.0, 0.0), step_mm=0.1, shape=(200, 200), slack_mm=0.0)
    assert reach.reached[:, :90].any()
    assert not reach.reached[:, 90:].any()
    # Round in the corners: what is reached is the slot's foot line, opened by the bit's round.
    foot = shapely.box(1, 1, 1 + needs + 0.6, 19).buffer(-1.5 / np.sqrt(3.0) - 0.1, join_style="mitre")
    assert np.count_nonzero(reach.reached) / 100 == pytest.approx(foot.area - 9 / 4 * (4 - np.pi), rel=0.06)


def test_the_largest_bit_that_reaches_a_spot_gets_it() -> None:
    wide = Bit(8, "8 mm flat", "flat", 8.0, 2, 20.0)
    reach = find_reach(WANTED.clear, FLOOR, [V_60], origin=(-3.0, -2.0), step_mm=0.1, shape=(400, 600))
    areas = largest_bits(reach, FLOOR, [V_60, FLAT_3, wide])
    assert list(areas) == [8, 2, 3]
    assert areas[8] == 0.0  # 8 mm do not go into a ring of 8 mm with its walls
    # The flat bit leaves the walls, each less than 0.87 mm wide, to the V.
    assert areas[2] == pytest.approx(np.pi * (13.13**2 - 6.87**2), rel=0.03)
    assert areas[3] > 20.0
    # Nothing is forgotten: what is too near to the edge for any depth is the V's.
    assert sum(areas.values()) == pytest.approx(WANTED.clear.area, rel=0.005)
