"""The commands of bits and machines, as a printmaker and a program call them."""

from pathlib import Path
from typing import Any

import pytest

import test_cli_inks
from test_cli_inks import Capture, refused, said, told

home = test_cli_inks.home


def ball(capsys: Capture, *words: str) -> dict[str, Any]:
    needed = ("--kind", "ball", "--diameter", "3,175", "--flutes", "2", "--cutting-length", "12")
    return told(capsys, "bit", "add", "ball", *needed, *words)


def test_a_bit_is_added_shown_changed_and_retired(capsys: Capture) -> None:
    assert ball(capsys, "--shank", "3.175", "--notes", "new in May") == {
        "what": "bit",
        "number": 5,
        "name": "ball",
        "kind": "ball",
        "diameter_mm": 3.175,
        "flutes": 2,
        "cutting_mm": 12.0,
        "angle_deg": 0.0,
        "tip_mm": 0.0,
        "shank_mm": 3.175,
        "notes": "new in May",
        "retired": False,
    }
    assert said(capsys, "bit", "list", "ball") == "    5  ball: ball, 3.175 mm, 2 flutes, cuts 12 mm\n"
    assert said(capsys, "bit", "edit", "ball", "--number", "9", "--notes", "") == "ball is changed.\n"
    assert said(capsys, "bit", "show", "BALL") == (
        "ball\nkind: ball\nnumber in the tool table: 9\ndiameter: 3.175 mm\nflutes: 2\n"
        "cutting length: 12 mm\nshank: 3.175 mm\n"
    )
    assert said(capsys, "bit", "retire", "ball") == "ball is retired.\n"
    assert said(capsys, "bit", "list", "ball") == "No bit on the shelf has these words.\n"
    assert said(capsys, "bit", "list", "ball", "--retired").endswith(", retired\n")
    assert said(capsys, "bit", "retire", "ball", "--back") == "ball is in use again.\n"


def test_a_v_bit_is_told_with_its_tip(capsys: Capture) -> None:
    words = ("--kind", "v", "--diameter", "12.7", "--flutes", "1", "--cutting-length", "10")
    told(capsys, "bit", "add", "wide V", *words, "--angle", "90", "--tip", "0,2")
    text = said(capsys, "bit", "show", "wide V")
    assert "kind: V\n" in text
    assert "whole angle at the tip: 90 degrees\ntip: 0.2 mm\n" in text
    assert "wide V: V, 12.7 mm, 90 degrees, tip 0.2 mm, 1 flute," in said(capsys, "bit", "list", "wide")


def test_a_machine_is_added_shown_changed_and_retired(capsys: Capture) -> None:
    words = ("--travel", "1200 x 800 x 100", "--spindle", "6000 to 18000", "--feed", "5000", "--no-arcs")
    more = ("--tool-change", "--begin", "(vacuum)", "--begin", "M8", "--end", "M9")
    found = told(capsys, "machine", "add", "big", *words, *more)
    assert (found["travel_mm"], found["rpm"]) == ([1200.0, 800.0, 100.0], [6000.0, 18000.0])
    assert (found["arcs"], found["tool_change"], found["begin"]) == (False, True, ["(vacuum)", "M8"])
    assert found["plunge_mm_min"] == 600.0, "as the plain one"
    text = said(capsys, "machine", "show", "big")
    assert "travel: 1200 x 800 x 100 mm\nfeed: 5000 mm a minute\n" in text
    assert "begins with: (vacuum) | M8\nends with: M9\ntakes no arcs\na program may change bits\n" in text
    told(
        capsys,
        "machine",
        "edit",
        "big",
        "--arcs",
        "--program-for-each-bit",
        "--begin",
        "",
        "--corner",
        "0.05",
    )
    text = said(capsys, "machine", "show", "big")
    assert "begins" not in text
    assert text.endswith("takes arcs\neach bit has a program of its own\n")
    assert "may cut a corner by: 0.05 mm" in text
    assert told(capsys, "machine", "add", "twin", "--as", "BIG")["feed_mm_min"] == 5000.0
    assert said(capsys, "machine", "retire", "plain table router") == "plain table router is retired.\n"
    assert [each["name"] for each in told(capsys, "machine", "list")["machines"]] == ["big", "twin"]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("bit", "show", "mud"), "No bit on the shelf is called mud"),
        (("bit", "add", "new"), "--diameter is missing; a bit needs --diameter, --flutes"),
        (("bit", "add", "new", "--diameter", "3", "--flutes", "2"), "--cutting-length is missing"),
        (("bit", "edit", "6 mm flat"), "Say what to change; blockwright shelf bit edit --help"),
        (
            ("bit", "edit", "6 mm flat", "--diameter", "six"),
            "--diameter is six; it must be a number, without",
        ),
        (("bit", "edit", "6 mm flat", "--diameter", "0"), "The diameter of 6 mm flat is 0"),
        (("bit", "edit", "6 mm flat", "--diameter", "6 mm"), "--diameter is 6 mm; it must be a number"),
        (("bit", "edit", "6 mm flat", "--flutes", "1.5"), "--flutes is 1.5; it must be a whole number"),
        (("bit", "edit", "6 mm flat", "--flutes", "inf"), "--flutes is inf; it must be a whole number"),
        (("bit", "edit", "6 mm flat", "--kind", "drill"), "it is one of flat, ball, V, tapered"),
        (("bit", "edit", "60 degree V", "--angle", "0"), "The whole angle at the tip of 60 degree V is 0"),
        (("bit", "edit", "3 mm flat", "--number", "1"), "which is that of 6 mm flat"),
        (("machine", "edit", "plain table router", "--feed", "0"), "The feed of plain table router is 0"),
        (("machine", "edit", "plain table router"), "blockwright shelf machine edit --help"),
        (("machine", "add", "new", "--travel", "600 400"), "--travel is 600 400; it must be 3 numbers"),
        (("machine", "add", "new", "--as", "mill"), "No machine on the shelf is called mill"),
        (("machine", "add", "new", "--begin", "%"), "have a %"),
        (("machine", "retire", "mill"), "No machine on the shelf is called mill"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(
    capsys: Capture, words: tuple[str, ...], sentence: str
) -> None:
    assert sentence in refused(capsys, *words)


def test_bits_go_out_and_come_in_with_the_other_tables(capsys: Capture, tmp_path: Path) -> None:
    ball(capsys)
    said(capsys, "export", str(tmp_path / "tables"))
    text = said(capsys, "import", str(tmp_path / "tables"), "--studio", str(tmp_path / "other.db"))
    assert "bits: 1 added, 0 changed, 4 as they were.\nmachines: 0 added, 0 changed, 1 as they were." in text
