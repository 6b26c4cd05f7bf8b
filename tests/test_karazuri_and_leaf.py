"""Karazuri and leaf from ``print.toml`` to the packet: what lies in the folder, and what is refused."""

import json
import re
from pathlib import Path
from typing import Any

import pytest

from blockwright import project
from blockwright.deciding import change
from blockwright.deciding.acts import SetFinish
from blockwright.decisions import parse, read_text
from blockwright.model.errors import SettingsError
from tiny_print import IN_BLUE, IN_DARK, IN_OCHRE, IN_PAPER, decide, set_value, tree_hashes

ENTRIES = f"""
[[separation.karazuri]]
at = {list(IN_OCHRE)}
side = "back"

[[separation.karazuri]]
at = {list(IN_DARK)}
printed = false

[[separation.leaf]]
at = {list(IN_BLUE)}
metal = "gold"
"""


@pytest.fixture
def finished(made_print: Path) -> Path:
    decide(made_print, end=ENTRIES)
    return made_print


def told(folder: Path, stage: str) -> dict[str, Any]:
    text = (folder / "out" / stage / f"{stage}.json").read_text(encoding="utf-8")
    read: dict[str, Any] = json.loads(text)
    return read


def test_the_whole_job_with_karazuri_and_leaf(finished: Path) -> None:
    made = project.make(finished)
    assert not made.stopped
    assert [finding.code for _, finding in made.findings] == ["leaf-outside-model"]
    separation = told(finished, "separation")
    assert [(each["name"], each["kind"], each["ink"], each["hex"]) for each in separation["impressions"]] == [
        ("yellow ochre", "colour", "yellow ochre", "#b4935a"),
        ("karazuri", "karazuri", None, "#f6efdf"),
        ("karazuri from the back", "karazuri", None, "#f6efdf"),
        ("gold leaf", "leaf", None, "#d3a93c"),
    ]
    assert separation["figures"]["impressions"] == 4
    assert separation["figures"]["blocks_needed"] == 3
    (leaf,) = separation["leaf"]
    assert (leaf["leaves"], leaf["leaves_needed"], leaf["books"]) == (1, 69, 3)
    assert leaf["proven_fewest"] is True
    faces = [face for board in told(finished, "blocks")["boards"] for face in board["faces"]]
    assert [(face["impressions"], face["mirrored"]) for face in faces] == [
        ([1], True),
        ([2], True),
        ([3], False),
    ]
    assert faces[2]["kento"]["kagi"] == [60.0 - faces[0]["kento"]["kagi"][0], faces[0]["kento"]["kagi"][1]]
    assert [each["impression"] for each in told(finished, "inks")["inks"]] == [1]
    there = {path.name for path in (finished / "out" / "separation").iterdir()}
    assert there >= {"leaf-04-ground.pdf", "leaf-04-plan.pdf", "leaf-04.svg", "leaf-04.dxf"}
    assert {"after-04.png", "small-04.jpg"} <= {path.name for path in (finished / "out" / "proof").iterdir()}
    svg = (finished / "out" / "cutting" / "B-front.svg").read_text(encoding="utf-8")
    assert re.search(r"<desc>Seen from the carved face: not mirrored, to press the sheet's back\.", svg)


def test_the_whole_job_with_finishes_fewest_blocks_and_half_turns(made_print: Path) -> None:
    """The ochre is embossed over its ink, the paper from the back; the dark shape gets leaf."""
    decide(
        made_print,
        end=f"""
[[separation.karazuri]]
at = {list(IN_OCHRE)}

[[separation.karazuri]]
at = {list(IN_PAPER)}
side = "back"

[[separation.leaf]]
at = {list(IN_DARK)}
metal = "silver"
""",
    )
    set_value(made_print, "blocks", '"fewest"')
    set_value(made_print, "half_turn", "true")
    set_value(made_print, "compensate", "true")
    made = project.make(made_print)
    assert not made.stopped
    separation = told(made_print, "separation")
    kinds = [each["kind"] for each in separation["impressions"]]
    assert kinds[-3:] == ["karazuri", "karazuri", "leaf"]
    assert separation["overprints"]["colours"] == 2
    assert separation["key"] is None
    faces = [face for board in told(made_print, "blocks")["boards"] for face in board["faces"]]
    (back,) = [face for face in faces if not face["mirrored"]]
    assert back["impressions"] == [len(kinds) - 1]
    assert back["turned"] == []
    moved = {each["number"]: each["damp"] for each in told(made_print, "blocks")["movement"]["impressions"]}
    assert moved == {number: number <= len(kinds) - 3 for number in range(1, len(kinds))}
    assert {each["impression"] for each in told(made_print, "inks")["inks"]} == set(range(1, len(kinds) - 2))
    assert (made_print / "out" / "packet.pdf").read_bytes().startswith(b"%PDF")
    assert (made_print / "out" / "proof" / f"after-{len(kinds):02d}.png").exists()


def test_the_same_again_gives_the_same_bytes(finished: Path) -> None:
    project.make(finished)
    before = tree_hashes(finished)
    (finished / "out" / "separation" / "value.json").unlink()
    project.make(finished)
    assert tree_hashes(finished) == before


def test_sheets_count_for_leaf_alone(made_print: Path) -> None:
    """More sheets take more leaf; without leaf the separation stays as it is."""
    text = read_text(made_print)
    more = re.sub(r"(?m)^sheets = 60", "sheets = 600", text)
    (made_print / "print.toml").write_text(more, encoding="utf-8")
    made = project.make(made_print, upto="separation")
    assert [stage.fresh for stage in made.stages] == [True, True]
    decide(made_print, end=ENTRIES)
    project.make(made_print, upto="separation")
    assert told(made_print, "separation")["leaf"][0]["leaves_needed"] == 690


@pytest.mark.parametrize(
    ("entry", "sentence"),
    [
        (
            '[[separation.leaf]]\nmetal = "gold"',
            'print.toml: [[separation.leaf]] is {"metal": "gold"}; it must be given a colour or a place, at, '
            "and not both.",
        ),
        (
            '[[separation.leaf]]\nat = [1.0, "x"]\nmetal = "gold"',
            'print.toml: [[separation.leaf]], at is [1.0, "x"]; it must be two numbers, [right, down] in mm.',
        ),
        (
            '[[separation.karazuri]]\ncolour = "snow"\nside = "top"',
            'print.toml: [[separation.karazuri]], side is "top"; it must be "front" or "back".',
        ),
        (
            '[[separation.leaf]]\ncolour = "moon"',
            "print.toml: [[separation.leaf]], metal is missing; it must be given.",
        ),
        (
            '[[separation.leaf_kind]]\nname = "tin"\nside_mm = 2.0',
            "print.toml: [[separation.leaf_kind]], side_mm is 2.0; it must be 10 to 500 mm.",
        ),
    ],
)
def test_an_entry_that_is_wrong_is_refused_in_one_sentence(entry: str, sentence: str) -> None:
    with pytest.raises(SettingsError) as refused:
        parse(f"[print]\nwidth_mm = 100.0\n{entry}\n")
    assert str(refused.value) == sentence


def test_a_finish_is_decided_and_taken_off_and_nothing_else_changes(made_print: Path) -> None:
    text = read_text(made_print)
    gilt = change(text, SetFinish(colour="blue", metal="copper"))
    (leaf,) = parse(gilt).separation.leaf
    assert (leaf.colour, leaf.metal, leaf.printed) == ("blue", "copper", False)
    printed = change(gilt, SetFinish(colour="blue", metal="copper", printed=True))
    assert parse(printed).separation.leaf[0].printed
    pressed = change(printed, SetFinish(colour="blue", side="back"))
    assert parse(pressed).separation.leaf == ()
    assert parse(pressed).separation.karazuri[0].side == "back"
    assert parse(change(pressed, SetFinish(colour="blue"))) == parse(text)
    here = change(text, SetFinish(at=IN_BLUE, metal="gold"))
    assert parse(here).separation.leaf[0].at == IN_BLUE
    assert change(here, SetFinish(at=IN_BLUE)) == text
    with pytest.raises(SettingsError, match="need a colour or a place"):
        change(text, SetFinish(metal="gold"))


@pytest.mark.parametrize(
    ("act", "told"),
    [
        (SetFinish(colour="snow", side="front"), "emboss snow from the front"),
        (SetFinish(at=(3.0, 4.5), metal="gold"), "lay gold leaf on the shape at 3, 4.5"),
        (SetFinish(colour="snow"), "take karazuri and leaf off snow"),
    ],
)
def test_what_was_decided_is_told(act: SetFinish, told: str) -> None:
    assert act.told() == told
