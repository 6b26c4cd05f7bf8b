"""The strict reader of programs: what it understands, and what it refuses with the line."""

import pytest

from blockwright.cutting.reading_program import read_program
from blockwright.model.errors import BlockwrightError, ProgramError

HEAD = "(a program)\nG21 G90\nT1 M6\nS9000 M3\nG0 X0 Y0 Z5\n"


def test_modal_words_hold_until_they_are_changed() -> None:
    moves = read_program(HEAD + "g1 z-1 f300\nX10 F1200\nY5\nG3 X5 Y10 I-5 J0\nX0 Y5 J-5\nG0 Z5\nM5\nM30\n")
    assert moves.kind.tolist() == [1, 1, 1, 3, 3, 0]
    assert moves.feed.tolist() == [300, 1200, 1200, 1200, 1200, 1200]
    assert moves.line.tolist() == [6, 7, 8, 9, 10, 11]
    assert moves.centre[3:5].tolist() == [[5.0, 5.0], [5.0, 5.0]]
    assert moves.end[4].tolist() == [0.0, 5.0, -1.0]


def test_comments_numbers_of_lines_and_idle_words_are_passed_over() -> None:
    text = (
        "%\nN10 G17 G21 G90 G94 G54 ; as ever\nN20 T2 M6 (the (second)\nM8\nG4 P1.5\nS1 M3 G0 X1 Y2 Z3\nM0\n"
    )
    moves = read_program(text + "N30 G1 F10 X-.5(left)Y+2.\nM9\nM2\nnothing after the end is read")
    assert moves.end.tolist() == [[-0.5, 2.0, 3.0]]
    assert moves.tools == (2,)


def test_a_whole_turn_is_a_move() -> None:
    moves = read_program(HEAD + "G1 Z-1 F300\nG2 X0 I5\nM30")
    assert moves.kind.tolist() == [1, 2]
    assert moves.end[1].tolist() == moves.start[1].tolist()


def test_without_a_change_of_bits_the_named_one_is_in_the_spindle() -> None:
    assert read_program("G21 G90 T7 S9 M3\nG0 X0 Y0 Z5\nX1\nM30").tools == (7,)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("G1 X10 F300 Q3", "the word Q3 is none of those"),
        ("G5 X1", "the word G5 is none of those"),
        ("M98", "the word M98 is none of those"),
        ("G20", "only millimetres"),
        ("G18", "upright plane"),
        ("G91", "only absolute"),
        ("G90.1", "only absolute"),
        ("G1 X1", "a feed of 0"),
        ("G1 X1 F0", "a feed of 0"),
        ("G1 X1 F-20", "a feed of -20"),
        ("G1 X1 X2 F30", "X stands there twice"),
        ("G1 X F30", "X is not followed by a number"),
        ("G1 X1.2.3 F30", "not followed by a number"),
        ("G1 X[1+1] F30", "a number is computed"),
        ("G1 X#3 F30", "a number is computed"),
        ("G1 X1 F30 (open", "comment is not closed"),
        ("G0 X1 I3", "belong to arcs"),
        ("G2 X10 F300", "needs its end"),
        ("G2 I5 F300", "needs its end"),
        ("G2 X10 Z-1 I5 F300", "changes its height"),
        ("G2 X10 R5 F300", "by its radius"),
        ("G2 X10 I5.003 F300", "differ by 0.0060 mm"),
        ("M5\nG1 X1 F30", "spindle stands still"),
        ("S0\nG1 X1 F30", "spindle stands still"),
        ("M4", "backwards"),
        ("G80\nX3", "no way to get there"),
        ("G0 G1 X3 F30", "two ways of moving"),
        ("µ", "not followed by a number"),
    ],
)
def test_what_is_not_understood_is_refused_with_its_line(line: str, said: str) -> None:
    with pytest.raises(ProgramError, match=said) as caught:
        read_program(HEAD + line + "\nM30\n")
    number = 6 + line.count("\n")
    assert str(caught.value).startswith(f"Line {number} of the program: ")
    assert isinstance(caught.value, BlockwrightError)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("G90 T1 S9 M3\nG0 X1 Y1 Z1\nX2\nM30", "Line 2.*before the unit"),
        ("G21 T1 S9 M3\nG0 X1 Y1 Z1\nM30", "Line 2.*called absolute"),
        ("G21 G90 T1 S9 M3\nG1 X1 F3\nM30", "Line 2.*where X, Y and Z are"),
        ("G21 G90 S9 M3\nG0 X1 Y1 Z1\nX2\nM30", "Line 3.*before a bit is named"),
        ("G21 G90\nM6\nM30", "Line 2.*before a bit is named"),
        ("G21 G90 T1 M6\nS9 M3\nT2 M6\nG0 X0 Y0 Z0\nG1 X1 F3\nM30", "Line 5.*spindle stands still"),
        (HEAD + "G1 X3 F30", "After line 6.*no end"),
        ("", "no end"),
    ],
)
def test_what_is_missing_is_said(text: str, said: str) -> None:
    with pytest.raises(ProgramError, match=said):
        read_program(text)


def test_half_a_circles_radii_may_differ_by_two_thousandths() -> None:
    assert len(read_program(HEAD + "G2 X10 I5.0009 F300\nM30")) == 1
