"""What the commands say when all goes well: readable for a printmaker, one JSON object for a program."""

import json
import sys
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

import blockwright
from blockwright import cli
from blockwright.cli import run
from tiny_print import DARK, decide, set_value

Capture = pytest.CaptureFixture[str]


def said(capsys: Capture, *words: str, code: int = 0) -> str:
    """Standard output of a command."""
    capsys.readouterr()
    assert run(list(words)) == code
    return capsys.readouterr().out


def told(capsys: Capture, *words: str, code: int = 0) -> dict[str, Any]:
    """Standard output of a command with ``--json``, which is one object and nothing else."""
    found = json.loads(said(capsys, *words, "--json", code=code))
    assert isinstance(found, dict)
    return found


# --- help --------------------------------------------------------------------------------------------------


def test_help_is_plain_text_and_names_every_command(capsys: Capture) -> None:
    text = said(capsys, "--help")
    commands = set(get_command(cli.app).commands)  # type: ignore[attr-defined]
    assert commands >= {"demo", "new", "make", "check"}
    for name in commands:
        assert f"\n  {name} " in text
        own = said(capsys, name, "--help")
        assert own.startswith(f"Usage: blockwright {name} ")
        assert own.isascii(), "no frames"
        assert "--json" in own or name in {"open", "swatch"}, (
            "the app tells its address; a group has commands"
        )
    assert "..." not in text.split("\n", 1)[1], "no line is cut off"
    assert text.isascii()
    assert said(capsys) == text, "no words at all ask for help"


def test_every_word_is_explained() -> None:
    commands: dict[str, Any] = dict(get_command(cli.app).commands)  # type: ignore[attr-defined]
    for group in [each for each in commands.values() if hasattr(each, "commands")]:
        commands.update({f"{group.name} {name}": each for name, each in group.commands.items()})
    for command in commands.values():
        assert command.help.endswith(".")
        for parameter in command.params:
            assert parameter.help.endswith("."), f"{command.name} {parameter.name}"


def test_the_version_is_told(capsys: Capture) -> None:
    assert said(capsys, "--version") == f"blockwright {blockwright.__version__}\n"


# --- what a run says ---------------------------------------------------------------------------------------


def test_a_new_print_says_what_comes_next(tmp_path: Path, tiny_picture: Path, capsys: Capture) -> None:
    folder = tmp_path / "my print"
    text = said(capsys, "new", str(folder), "--picture", str(tiny_picture), "--width", "60.50")
    assert text == (
        f"{folder} is ready: the image will be 60.5 mm wide. "
        f"Every decision is explained in {folder / 'print.toml'}.\n"
        f"Next: blockwright make '{folder}'\n"
    )
    found = told(capsys, "new", str(tmp_path / "b"), "--picture", str(tiny_picture), "--title", "Mühle")
    assert found == {"folder": str(tmp_path / "b"), "width_mm": pytest.approx(60, abs=0.01), "title": "Mühle"}


def test_a_run_says_what_it_made(made_print: Path, capsys: Capture) -> None:
    lines = said(capsys, "make", str(made_print)).splitlines()
    assert lines[:2] == ["4 colours in 4 shapes, 60 x 45 mm.", "3 impressions."]
    assert lines[2:4] == ["3 inks: 3 to mix by eye.", "3 faces on 2 boards."]
    assert lines[4].startswith("About ")
    assert lines[4].endswith(" minutes of carving, at the rates in print.toml.")
    assert "matches the design over nearly all of its area" in lines[5]
    assert "predicted, not measured, give or take" in lines[5]
    assert lines[6:] == [f"For the bench: {made_print / 'out' / 'packet.pdf'}"]


def test_progress_goes_to_standard_error(new_print: Path, capsys: Capture) -> None:
    capsys.readouterr()
    assert run(["make", str(new_print), "--upto", "design", "--json"]) == 0
    caught = capsys.readouterr()
    assert json.loads(caught.out)["stages"]["design"]["made_anew"] is True
    first, second = [line for line in caught.err.splitlines() if not line.startswith("tracing")]
    assert first == "design ..."
    assert second.startswith("design: done in ")


def test_a_run_told_to_a_program(made_print: Path, capsys: Capture) -> None:
    found = told(capsys, "make", str(made_print))
    assert set(found) == {"folder", "packet", "stopped", "outdated", "stages", "findings"}
    assert found["packet"] == str(made_print / "out" / "packet.pdf")
    assert (found["stopped"], found["outdated"], found["findings"]) == (False, False, [])
    assert set(found["stages"]) == {"design", "separation", "inks", "blocks", "cutting", "proof"}
    for stage, each in found["stages"].items():
        kept = json.loads((made_print / "out" / stage / f"{stage}.json").read_text(encoding="utf-8"))
        assert each == {"figures": kept["figures"], "made_anew": False}


def test_a_run_that_stops_early_says_what_is_left_behind(made_print: Path, capsys: Capture) -> None:
    set_value(made_print, "trap_mm", "0.7")
    text = said(capsys, "make", str(made_print), "--upto", "separation")
    assert text.splitlines()[:2] == ["4 colours in 4 shapes, 60 x 45 mm.", "3 impressions."]
    assert f"out is older than these decisions: blockwright make {made_print}\n" in text
    assert "For the bench" not in text


def test_one_of_a_thing_is_said_in_the_singular(new_print: Path, capsys: Capture) -> None:
    decide(new_print, design=f'palette = ["#f6efdf", "{DARK}"]')
    text = said(capsys, "make", str(new_print))
    assert "1 impression.\n1 ink: 1 to mix by eye.\n1 face on 1 board.\n" in text
    decide(new_print, design="colours = 1")
    text = new_print.joinpath("print.toml").read_text(encoding="utf-8")
    new_print.joinpath("print.toml").write_text(text.replace(f', "{DARK}"', ""), encoding="utf-8")
    assert "1 colour in 1 shape, 60 x 45 mm." in said(capsys, "make", str(new_print), "--upto", "design")


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0.2, "1 minute"),
        (1.4, "1 minute"),
        (46.4, "46 minutes"),
        (60.0, "1 hour"),
        (91, "1 h 30 min"),
        (598.0, "10 hours"),
        (2217.0, "37 hours"),
    ],
)
def test_working_time_is_said_as_one_would_say_it(minutes: float, words: str) -> None:
    assert cli._duration(minutes) == words


@pytest.mark.parametrize(
    ("length", "words"), [(240.0, "240"), (12.5, "12.5"), (59.99, "60"), (300.04, "300"), (99.96, "100")]
)
def test_lengths_have_no_trailing_nought(length: float, words: str) -> None:
    assert cli._plain_mm(length) == words


# --- findings ----------------------------------------------------------------------------------------------


@pytest.fixture
def print_with_findings(made_print: Path) -> Path:
    """Three colours named that do not exist, edits that miss, and marks that stand in the image."""
    for side in ("left", "right", "top", "bottom"):
        set_value(made_print, f"margin_{side}_mm", "0.0")
    decide(
        made_print,
        end="\n".join(
            [
                *(f'[[separation.passes]]\ncolour = "mauve {k}"\ntimes = 2' for k in range(3)),
                "[[design.drop]]\nat = [500.0, 1.25]",
            ]
        ),
    )
    return made_print


def test_check_tells_every_finding_the_gravest_first(print_with_findings: Path, capsys: Capture) -> None:
    lines = said(capsys, "check", str(print_with_findings), code=1).splitlines()
    words = [line.split()[0] for line in lines]
    assert words == sorted(words, key=["STOP", "look", "note"].index)
    assert {"STOP", "look"} <= set(words)
    assert sum("mauve" in line for line in lines) == 3
    assert any(line.endswith("[at 500.0, 1.2 mm]") for line in lines)
    found = told(capsys, "check", str(print_with_findings), code=1)
    assert set(found) == {"folder", "stopped", "findings", "accepted"}
    assert found["stopped"] is True
    assert len(found["findings"]) == len(lines)
    for finding in found["findings"]:
        assert set(finding) == {"stage", "code", "severity", "message", "at", "about"}


def test_what_is_accepted_is_not_told_again_but_counted(print_with_findings: Path, capsys: Capture) -> None:
    """What stops the work is told whatever was accepted."""
    before = told(capsys, "check", str(print_with_findings), code=1)
    assert before["accepted"] == 0
    kinds = {"passes-unknown-colour", "marks-in-image"}
    accepted = "\n".join(f'[[print.accept]]\nfinding = "{kind}"' for kind in sorted(kinds))
    decide(print_with_findings, end=accepted)
    after = told(capsys, "check", str(print_with_findings), code=1)
    assert [f for f in before["findings"] if f["code"] != "passes-unknown-colour"] == after["findings"]
    assert any(finding["code"] == "marks-in-image" for finding in after["findings"])
    assert after["accepted"] == 3
    lines = said(capsys, "check", str(print_with_findings), code=1).splitlines()
    assert lines[-1] == "3 findings left as they are."
    made = told(capsys, "make", str(print_with_findings), code=1)
    assert made["findings"] == after["findings"]


def test_a_run_tells_each_kind_of_finding_once(print_with_findings: Path, capsys: Capture) -> None:
    lines = said(capsys, "make", str(print_with_findings), code=1).splitlines()
    assert sum("mauve" in line for line in lines) == 1
    assert any("mauve 0" in line and line.endswith("And 2 more like it.") for line in lines)
    assert any(line.strip().endswith(f"findings: blockwright check {print_with_findings}") for line in lines)
    assert lines[-2].startswith("For the bench: ")
    assert lines[-1] == "Do not cut yet: mend what is marked STOP first."


def test_nothing_to_look_at_is_said(made_print: Path, capsys: Capture) -> None:
    assert said(capsys, "check", str(made_print)) == "Nothing to look at.\n"


# --- the demo's own rule -----------------------------------------------------------------------------------


def test_the_demo_is_not_painted_over_a_print_that_is_there(made_print: Path, capsys: Capture) -> None:
    """A second ``demo`` on the same folder goes on from what lies there."""
    picture = (made_print / "design.png").read_bytes()
    found = told(capsys, "demo", str(made_print))
    assert found["demo"] is True
    assert not any(stage["made_anew"] for stage in found["stages"].values())
    assert (made_print / "design.png").read_bytes() == picture


def test_running_a_command_changes_nothing_in_the_interpreter(made_print: Path, capsys: Capture) -> None:
    hook = sys.excepthook
    said(capsys, "check", str(made_print))
    assert sys.excepthook is hook


def test_a_print_that_cannot_match_its_design_is_told(made_print: Path, capsys: Capture) -> None:
    """An ink that is transparent cannot be lighter than the paper: a grey paper dulls everything."""
    text = (made_print / "print.toml").read_text(encoding="utf-8")
    (made_print / "print.toml").write_text(
        text.replace('\npaper = "#f6efdf"', '\npaper = "#5a5a5a"'), encoding="utf-8"
    )
    line = said(capsys, "make", str(made_print), "--upto", "proof").splitlines()[5]
    assert "differs from the design by" in line
    assert "CIEDE2000" in line
