"""A block that lies on the machine turned by a quarter: the same cuts, turned and not mirrored."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, box

from blockwright.cutting.on_machine import Lying
from blockwright.cutting.proving import FaceWanted, check_program
from blockwright.cutting.reading_program import ProgramMoves, read_program
from blockwright.cutting.wanted import Floor
from blockwright.model.findings import Finding
from blockwright.model.router import CLOCKWISE, CUT, Machine, Moves, Run
from routed import BITS, BLOCK, FLAT_6, ROUTER, ring, run, written

LYING = Lying.of(BLOCK, quarter_turn=True)
HOLLOW = Point(21.0, 20.0).buffer(10.0, quad_segs=64)
WANTED = FaceWanted(
    name="1a",
    block=BLOCK,
    thickness_mm=20.0,
    printing=MultiPolygon([BLOCK.difference(HOLLOW)]),
    clear=MultiPolygon([HOLLOW]),
    floor=Floor(60.0, 1.5, 0.1, 4.5),
    image_width_mm=54.0,
)
RUNS = [run(FLAT_6, ring(24.0, 18.0, radius, -1.7)[::-1]) for radius in (2.0, 5.0)]


def read(runs: list[Run], machine: Machine = ROUTER) -> ProgramMoves:
    (program,) = written(runs, machine)
    return read_program(program.text)


def test_a_turned_block_has_its_upper_left_corner_at_the_zero() -> None:
    assert LYING.size_mm == (40.0, 60.0)
    # Of the block as carved: its four corners and a place near the lower edge.
    corners = [(0, 40, 0), (0, 0, 0), (60, 0, 0), (60, 40, 0), (10, 5, -1)]
    turned = LYING.on_machine(run(FLAT_6, corners))
    assert turned.moves.end[1:-1].tolist() == [
        [0.0, 0.0, 0.0],
        [40.0, 0.0, 0.0],
        [40.0, 60.0, 0.0],
        [0.0, 60.0, 0.0],
        [35.0, 10.0, -1.0],
    ]
    straight = run(FLAT_6, corners)
    assert Lying.of(BLOCK, quarter_turn=False).on_machine(straight) is straight


@given(
    width=st.integers(1000, 900_000),
    height=st.integers(1000, 900_000),
    points=st.lists(
        st.tuples(st.integers(1, 900_000), st.integers(-4000, 900_000), st.integers(-4000, -1)),
        min_size=2,
        max_size=20,
    ),
)
def test_what_is_turned_for_the_machine_comes_back_as_it_was(
    width: int, height: int, points: list[tuple[int, int, int]]
) -> None:
    lying = Lying(width / 1000.0, height / 1000.0, quarter_turn=True)
    here = run(FLAT_6, np.array(points) / 1000.0)
    machine = replace(ROUTER, arcs=False)
    back = lying.off_machine(read([lying.on_machine(here)], machine))
    straight = read([here], machine)
    assert np.allclose(back.end, straight.end, atol=1e-6)
    # The first way, above the work, begins at the machine's zero, whichever corner lies there.
    assert np.allclose(back.start[1:], straight.start[1:], atol=1e-6)
    assert back.start[0].tolist() == pytest.approx([0.0, height / 1000.0, 5.0])
    assert back.kind.tolist() == straight.kind.tolist()


def test_rings_and_arcs_go_round_the_same_way() -> None:
    """A turning keeps the sign of an area and the sense of an arc; a mirror image would not."""

    def area(moves: ProgramMoves) -> float:
        x, y = moves.end[:, 0], moves.end[:, 1]
        return float(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0

    plain = replace(ROUTER, arcs=False)
    before, after = (read([each], plain) for each in (RUNS[1], LYING.on_machine(RUNS[1])))
    assert area(before) == pytest.approx(area(after), rel=1e-3)
    assert abs(area(before)) == pytest.approx(np.pi * 25.0, rel=0.05)
    with_arcs = [read([each]) for each in (RUNS[1], LYING.on_machine(RUNS[1]))]
    turns = [[kind for kind in each.kind.tolist() if kind >= CLOCKWISE] for each in with_arcs]
    assert turns[0] == turns[1] != []
    back = LYING.off_machine(with_arcs[1])
    arcs = back.kind >= CLOCKWISE
    # Thousandths of a turned place and of the place itself round apart by half a thousandth.
    assert np.allclose(back.centre[arcs], with_arcs[0].centre[with_arcs[0].kind >= CLOCKWISE], atol=2e-3)


def test_the_face_is_cut_alike_and_places_are_told_on_the_face() -> None:
    here = check_program([each.text for each in written(RUNS)], WANTED, BITS, ROUTER)
    turned = replace(WANTED, quarter_turn=True)
    texts = [each.text for each in written([LYING.on_machine(each) for each in RUNS])]
    there = check_program(texts, turned, BITS, ROUTER)
    assert np.abs(there.surface.heights - here.surface.heights).max() <= 0.02
    assert there.gouge_mm2 == here.gouge_mm2 == 0.0
    # Into the wood beyond the hollow, near the block's lower right corner.
    wrong = run(FLAT_6, [(52.0, 8.0, -1.0), (53.0, 8.0, -1.0)])
    found = [
        check_program([each.text for each in written([one])], wanted, BITS, ROUTER).findings
        for one, wanted in ((wrong, WANTED), (LYING.on_machine(wrong), turned))
    ]
    assert found[0] == found[1]
    assert found[0][0].code == "program-cuts-the-face"
    # The same text with the block laid down the other way is another cut.
    other = check_program(texts, WANTED, BITS, ROUTER)
    assert np.abs(other.surface.heights - here.surface.heights).max() > 1.0


# --- whether it fits ----------------------------------------------------------------------------------------


def found(*, reach: tuple[float, float, float], turned: bool) -> list[Finding]:
    """What is said of moves 55 mm along the block's width and 35 mm along its height, up to 5 mm above it."""
    across = run(FLAT_6, [(5, 5, -1), (55, 5, -1), (55, 35, -1), (5, 35, -1)])
    lying = Lying.of(BLOCK, quarter_turn=turned)
    texts = [each.text for each in written([lying.on_machine(across)])]
    open_wood = box(*BLOCK.bounds)
    wanted = replace(
        WANTED,
        printing=MultiPolygon(),
        clear=MultiPolygon([open_wood]),
        relief=open_wood,
        quarter_turn=turned,
    )
    proof = check_program(texts, wanted, BITS, replace(ROUTER, name="small", reach_mm=reach))
    return [each for each in proof.findings if each.code == "program-beyond-the-machine"]


def test_a_block_that_fits_either_way_is_let_be() -> None:
    for turned in (False, True):
        assert found(reach=(55.0, 55.0, 10.0), turned=turned) == []
    assert found(reach=(55.0, 35.0, 10.0), turned=False) == []
    assert found(reach=(35.0, 55.0, 10.0), turned=True) == []


def test_a_block_that_fits_only_turned_stops_and_says_how_to_turn_it() -> None:
    (one,) = found(reach=(40.0, 60.0, 10.0), turned=False)
    assert one.severity == "stop"
    assert one.message == (
        "On the face 1a the program moves 55.0 mm along x and 35.0 mm along y; the machine small reaches 40 "
        "and 60 mm. Turned by a quarter it fits: in print.toml write quarter_turn = true under "
        '[[cutting.face]] with face = "1a", or under [cutting.router] for all faces, and run '
        "blockwright make."
    )
    spans = {"x_mm": 55.0, "y_mm": 35.0, "z_mm": 6.0}
    assert dict(one.about) == {"face": "1a", "machine": "small", "quarter_turn": 1, **spans}


def test_a_block_that_fits_only_as_it_is_carved_says_so() -> None:
    (one,) = found(reach=(60.0, 40.0, 10.0), turned=True)
    assert "35.0 mm along x and 55.0 mm along y" in one.message
    assert "Laid down as it is carved, not turned, it fits" in one.message
    assert dict(one.about)["quarter_turn"] == 0


@pytest.mark.parametrize(
    ("reach", "told"),
    [
        ((40.0, 50.0, 10.0), "reaches 40 and 50 mm, so 55.0 mm is too much, turned or not."),
        ((20.0, 60.0, 10.0), "reaches 20 and 60 mm, so 35.0 mm is too much, turned or not."),
        ((20.0, 25.0, 10.0), "reaches 20 and 25 mm, so 55.0 mm and 35.0 mm are too much, turned or not."),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_a_block_too_large_both_ways_says_which_length_is_too_much(
    reach: tuple[float, float, float], told: str, turned: bool
) -> None:
    (one,) = found(reach=reach, turned=turned)
    assert told in one.message
    assert "quarter_turn" not in dict(one.about)


def test_moves_too_high_are_told_by_themselves() -> None:
    (one,) = found(reach=(60.0, 60.0, 5.0), turned=True)
    assert "moves 6.0 mm up and down; the machine small reaches 5 mm along z" in one.message


def test_a_run_with_its_begin_and_its_centres_is_turned_whole() -> None:
    moves = Moves(
        (1.0, 2.0, 3.0),
        np.array([CUT, CLOCKWISE], np.uint8),
        np.array([[4.0, 5.0, -1.0], [6.0, 5.0, -1.0]]),
        np.array([[0.0, 0.0], [5.0, 5.0]]),
    )
    turned = LYING.on_machine(Run(FLAT_6, "clearing", 9000.0, 900.0, 300.0, moves)).moves
    assert turned.start == (38.0, 1.0, 3.0)
    assert turned.centre[1].tolist() == [35.0, 5.0]
    assert moves.end[0].tolist() == [4.0, 5.0, -1.0]
