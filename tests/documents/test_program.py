"""Programs as text: what stands in them, and that they are read back as what was meant."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.cutting.reading_program import read_program
from blockwright.documents.program import write_program
from blockwright.geometry.arc_fitting import fit_arcs
from blockwright.model.errors import ProgramError
from blockwright.model.router import CUT, RAPID, Run
from routed import BALL_3, BY_NUMBER, FACTS, FLAT_6, ROUTER, V_60, read, ring, run, written

RUNS = [run(FLAT_6, ring(30, 20, 12, -1.5)), run(V_60, [(5, 5, -1), (25, 5, -1), (25, 9, -0.2)])]


def test_the_header_says_what_a_person_at_the_machine_has_to_know() -> None:
    (program,) = written(RUNS)
    lines = program.text.splitlines()
    header = [line.strip("()") for line in lines[: next(k for k, line in enumerate(lines) if line[0] != "(")]]
    said = " ".join(header)
    for words in (
        "Tide [mill]",
        "Face: 1a",
        "Bit T1: 6 mm flat",
        "Bit T3: 60 deg V",
        "lower left corner on the top face",
        "cherry, 60 x 40 x 20 mm",
        "eye and ear protection",
        "cut in the air first",
        "Local codes",
    ):
        assert words in said
    assert all(len(line) <= 80 for line in lines)
    assert program.text.isascii()
    assert "is safe: that is for the person" in said


def test_words_that_stay_as_they_were_are_left_out() -> None:
    (program,) = written([run(V_60, [(5, 5, -1), (25, 5, -1), (25, 9, -1)])])
    lines = program.text.splitlines()
    assert lines[lines.index("G17 G21 G90") + 2 :] == [
        "T3 M6",
        "G0Z5",
        "S18000 M3",
        "X0Y0",
        "X5Y5",
        "G1Z-1F300",
        "X25F1200",
        "Y9",
        "G0Z5",
        "M5",
        "M30",
    ]


def test_the_same_moves_give_the_same_bytes() -> None:
    assert written(RUNS)[0].text == written(RUNS)[0].text


def test_a_program_is_read_back_as_it_was_meant() -> None:
    moves = read(RUNS)
    assert moves.tools == (1, 3)
    assert moves.changes == 2
    meant = [fit_arcs(each.moves) for each in RUNS]
    for tool, each in zip((1, 3), meant, strict=True):
        mine = moves.tool == tool
        ends = moves.end[mine][-len(each) :]
        moved = np.concatenate([[True], (np.diff(each.end, axis=0) != 0).any(axis=1)])
        assert ends[-moved.sum() :] == pytest.approx(each.end[moved])
        assert (moves.kind[mine][-moved.sum() :] == each.kind[moved]).all()
        arcs = each.kind[moved] > CUT
        assert moves.centre[mine][-moved.sum() :][arcs] == pytest.approx(each.centre[moved][arcs])
    assert (moves.rpm == 18000).all()


@settings(max_examples=40)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_any_moves_are_read_back_to_a_thousandth(seed: int, arcs: bool) -> None:
    random = np.random.default_rng(seed)
    points = random.uniform(-3.0, 60.0, (30, 3)).round(int(random.integers(1, 7)))
    points[:, 2] = np.where(random.random(30) < 0.5, -1.0, points[:, 2] / 20 - 2.0)
    moves = read([run(FLAT_6, points)], replace(ROUTER, arcs=arcs))
    for point in np.round(points, 3):
        assert np.abs(moves.end - point).max(axis=1).min() < 1e-9


def test_without_arcs_there_are_only_straight_moves() -> None:
    moves = read(RUNS, replace(ROUTER, arcs=False))
    assert set(moves.kind.tolist()) == {RAPID, CUT}


def test_a_machine_without_a_changer_gets_one_program_for_each_bit() -> None:
    programs = written([*RUNS, RUNS[0]], replace(ROUTER, tool_change=False))
    assert [program.bits for program in programs] == [(FLAT_6,), (V_60,), (FLAT_6,)]
    assert all("M6" not in program.text for program in programs)
    assert [read_program(program.text).tools for program in programs] == [(1,), (3,), (1,)]
    assert "Program 2 of 3" in programs[1].text


def test_the_users_own_lines_stand_before_and_after() -> None:
    machine = replace(ROUTER, begin=("G54", "M8"), end=("M9", "G0 X0 Y0", "M30"))
    (program,) = written(RUNS, machine)
    lines = program.text.splitlines()
    assert lines.index("G54") < lines.index("G17 G21 G90")
    assert lines[-4:] == ["M5", "M9", "G0 X0 Y0", "M30"]
    assert read_program(program.text).end[-1].tolist() == [0.0, 0.0, 5.0]


def test_an_air_cut_is_the_same_higher_up_with_the_spindle_still() -> None:
    (air,) = write_program(RUNS, ROUTER, FACTS, air_cut_mm=8.0)
    assert "AIR CUT" in air.text
    assert "M3" not in air.text.replace("M30", "")
    with pytest.raises(ProgramError, match="spindle stands still"):
        read_program(air.text)
    moves, meant = read_program(air.text, air_cut=True), read(RUNS)
    assert (moves.kind == meant.kind).all()
    assert moves.end == pytest.approx(meant.end + np.array([0, 0, 9.5]))
    assert moves.end[:, 2].min() == 8.0


def test_a_way_down_is_no_faster_than_the_plunge_allows() -> None:
    moves = read([run(FLAT_6, [(5, 5, 0), (15, 5, -1), (20, 5, -6), (20, 5, -7)], feed=2000, plunge=300)])
    cuts = moves.kind == CUT
    way = moves.end[cuts] - moves.start[cuts]
    down = -way[:, 2] / np.linalg.norm(way, axis=1) * moves.feed[cuts]
    assert down.max() <= 300.0 + 1e-9
    assert moves.feed[cuts].tolist() == [300.0, 2000.0, 420.0, 300.0]


def test_a_way_down_that_the_bit_came_up_by_is_gone_at_full_feed() -> None:
    up = [(5, 5, -3), (7, 5, -1), (8, 6, -0.2)]
    moves = read([run(V_60, [*up, up[1], up[0], (9, 5, -3.5)], feed=2000, plunge=300)])
    cuts = moves.kind == CUT
    assert moves.feed[cuts].tolist() == [300.0, 2000.0, 2000.0, 2000.0, 2000.0, 2000.0]
    # A fall over wood that it did not come up by is as slow as ever.
    fresh = read([run(V_60, [*up, (10, 6, -3)], feed=2000, plunge=300)])
    assert fresh.feed[fresh.kind == CUT][-1] < 400.0


def test_what_thousandths_do_not_tell_apart_is_no_move() -> None:
    moves = read([run(BALL_3, [(5, 5, -1), (5.0003, 5, -1), (5.0004, 5.0002, -1), (9, 5, -1)])])
    assert len(moves) == 4
    assert BY_NUMBER[moves.tools[0]] is BALL_3


@pytest.mark.parametrize("feed", [0.0, float("nan"), -3.0])
def test_a_feed_of_nothing_is_refused(feed: float) -> None:
    with pytest.raises(ProgramError, match="must be 1 or more"):
        written([run(FLAT_6, [(5, 5, -1), (9, 5, -1)], feed=feed)])


def test_a_move_that_is_no_number_is_refused() -> None:
    bad = RUNS[0]
    moves = replace(bad.moves, end=np.where(bad.moves.end == -1.5, np.nan, bad.moves.end))
    with pytest.raises(ProgramError, match="no number"):
        written([Run(bad.bit, bad.what, 1000.0, 100.0, 100.0, moves)])
