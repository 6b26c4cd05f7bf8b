"""The way back through the decisions: byte for byte, across restarts, kills, a full disk and other hands."""

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blockwright import history
from blockwright.cli import run
from blockwright.deciding import AddDrop, AddName, SetValue, TakeBack, change
from blockwright.decisions import compose, parse
from blockwright.history import decide, redo, steps, take_in, text_hash, undo
from blockwright.model.errors import BlockwrightError, FolderError, SettingsError
from blockwright.model.settings import PrintTable, Settings

FRESH = compose(Settings(print=PrintTable(title="Tide mill", width_mm=360.0)))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return fresh(tmp_path / "mill")


def fresh(folder: Path) -> Path:
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    (folder / "print.toml").write_bytes(FRESH.encode())
    return folder


def text(folder: Path) -> bytes:
    return (folder / "print.toml").read_bytes()


def colours(folder: Path) -> int | None:
    return parse(text(folder).decode()).design.colours


def to(number: int) -> SetValue:
    return SetValue("design", "colours", number)


def refusal(do: Callable[[], object]) -> str:
    with pytest.raises(BlockwrightError) as caught:
        do()
    message = str(caught.value)
    assert message.endswith(".")
    assert "\n" not in message
    assert "Traceback" not in message
    return message


def test_a_decision_is_written_and_its_hash_given(folder: Path) -> None:
    known = decide(folder, to(5))
    assert known == text_hash(text(folder))
    assert text(folder).decode() == change(FRESH, to(5))
    assert steps(folder) == ("set colours to 5", None)
    assert undo(folder) == "Taken back: set colours to 5."
    assert text(folder) == FRESH.encode()
    assert steps(folder) == (None, "set colours to 5")
    assert redo(folder) == "Done again: set colours to 5."
    assert colours(folder) == 5


def test_deciding_the_same_again_is_no_step(folder: Path) -> None:
    decide(folder, to(5))
    decide(folder, to(5))
    undo(folder)
    assert text(folder) == FRESH.encode()
    assert "nothing to undo" in refusal(lambda: undo(folder))


MOVES = st.lists(
    st.one_of(
        st.integers(1, 64).map(to),
        st.sampled_from(["undo", "redo", "take in"]),
        st.integers(1, 64).map(lambda n: f"# a word by hand, {n}\n"),
        st.just(AddDrop((1.0, 2.0))),
    ),
    max_size=14,
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves=MOVES, windows=st.booleans())
def test_the_history_is_a_line_of_texts_with_a_place_on_it(
    tmp_path: Path, moves: list[Any], windows: bool
) -> None:
    """Against the plain model of it: a list of texts and an index."""
    mill = fresh(tmp_path / "mill")
    start = FRESH.replace("\n", "\r\n").encode() if windows else FRESH.encode()
    (mill / "print.toml").write_bytes(start)
    line, at, begun = [start], 0, False

    def taken_in() -> None:
        nonlocal line, at, begun
        if not begun:
            line, at, begun = [text(mill)], 0, True
        elif text(mill) != line[at]:
            line, at = [*line[: at + 1], text(mill)], at + 1

    for move in moves:
        if move == "undo":
            taken_in() if begun else None
            if at:
                undo(mill)
                at -= 1
            else:
                refusal(lambda: undo(mill))
        elif move == "redo":
            if begun and text(mill) == line[at] and at + 1 < len(line):
                redo(mill)
                at += 1
            else:
                refusal(lambda: redo(mill))
                continue
        elif move == "take in":
            by_hand = begun and text(mill) != line[at]
            assert take_in(mill) == by_hand
            taken_in()
        elif isinstance(move, str):
            (mill / "print.toml").write_bytes(text(mill) + move.encode())
            continue
        else:
            taken_in()
            decide(mill, move)
            taken_in()
        if begun:
            assert text(mill) == line[at]
            assert [sentence is not None for sentence in steps(mill)] == [at > 0, at + 1 < len(line)]
    for _ in range(at):
        undo(mill)
    if begun and text(mill) == line[0]:
        for wanted in line[1:]:
            redo(mill)
            assert text(mill) == wanted


def test_only_so_many_steps_are_kept(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(history, "MOST_STEPS", 6)
    for number in range(1, 20):
        decide(folder, to(number))
    assert len(list((folder / ".decisions").glob("*.toml"))) == 6
    for _ in range(5):
        undo(folder)
    assert colours(folder) == 14
    assert "nothing to undo" in refusal(lambda: undo(folder))


# --- other hands -------------------------------------------------------------------------------------------


def test_an_edit_by_hand_is_a_step_of_its_own(folder: Path) -> None:
    decide(folder, to(5))
    by_hand = text(folder) + b"# the sky is still too dark\n"
    (folder / "print.toml").write_bytes(by_hand)
    assert steps(folder) == ("edited by hand", None)
    decide(folder, to(6))
    assert text(folder).endswith(b"too dark\n")
    undo(folder)
    assert text(folder) == by_hand
    assert undo(folder) == "Taken back: edited by hand."
    assert colours(folder) == 5


@pytest.mark.parametrize("broken", [b"colours = = 3\n", b"\xff\xfe\n", b"[edition]\nsize = 20\n"])
def test_an_edit_that_cannot_be_read_is_refused_and_gone_back_from(folder: Path, broken: bytes) -> None:
    decide(folder, to(5))
    good = text(folder)
    (folder / "print.toml").write_bytes(good + broken)
    assert "print.toml" in refusal(lambda: decide(folder, to(6)))
    assert not take_in(folder)
    assert text(folder) == good + broken
    assert steps(folder) == ("edited by hand", None)
    undo(folder)
    assert text(folder) == good
    redo(folder)
    assert text(folder) == good + broken, "not even this is lost"
    undo(folder)
    assert text(folder) == good
    undo(folder)
    assert text(folder) == FRESH.encode()


def test_an_entry_is_not_taken_back_by_number_from_another_text(folder: Path) -> None:
    seen = decide(folder, AddDrop((1.0, 2.0)))
    decide(folder, AddDrop((3.0, 4.0)))
    act = TakeBack("design", "drop", 0)
    assert "changed meanwhile" in refusal(lambda: decide(folder, act, seen=seen))
    decide(folder, AddName((1.0, 2.0), "sky"), seen=seen)
    decide(folder, act, seen=text_hash(text(folder)))
    assert [drop.at for drop in parse(text(folder).decode()).design.drop] == [(3.0, 4.0)]


def test_an_editor_that_saves_in_the_middle_of_a_step_loses_nothing(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    decide(folder, to(5))
    real = history._write
    saved: list[bool] = []

    def write(path: Path, content: bytes) -> None:
        real(path, content)
        if path.name == "at.json" and not saved:
            saved.append(True)
            (folder / "print.toml").write_bytes(text(folder) + b"# saved in between\n")

    monkeypatch.setattr(history, "_write", write)
    decide(folder, to(6))
    assert colours(folder) == 6
    assert text(folder).endswith(b"# saved in between\n")
    assert [undo(folder) for _ in range(3)] == [
        "Taken back: set colours to 6.",
        "Taken back: edited by hand.",
        "Taken back: set colours to 5.",
    ]


DECIDING = """
import sys
from pathlib import Path
from blockwright.deciding import AddDrop
from blockwright import history
from blockwright.history import decide
history._WAIT_S = 60.0  # On a busy machine the other may be quicker for longer than a printmaker would wait.
print("ready", flush=True)
for k in range(int(sys.argv[3])):
    decide(Path(sys.argv[1]), AddDrop((float(sys.argv[2]), float(k))))
    print(k, flush=True)
"""


def deciding(folder: Path, who: int, times: int) -> subprocess.Popen[str]:
    words = [sys.executable, "-c", DECIDING, str(folder), str(who), str(times)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def test_two_programs_that_decide_at_once_both_have_their_way(folder: Path) -> None:
    both = [deciding(folder, who, 12) for who in (1, 2)]
    for each in both:
        each.communicate(timeout=60)
    assert [each.returncode for each in both] == [0, 0]
    found = {drop.at for drop in parse(text(folder).decode()).design.drop}
    assert found == {(float(who), float(k)) for who in (1, 2) for k in range(12)}
    for _ in range(24):
        undo(folder)
    assert text(folder) == FRESH.encode()


def test_whoever_waits_too_long_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(history, "_WAIT_S", 0.05)
    with history._alone(folder):
        assert "Another program is deciding" in refusal(lambda: decide(folder, to(5)))
    decide(folder, to(5))


# --- kills and a full disk ---------------------------------------------------------------------------------


class Killed(BaseException):
    """The process ends here: nothing after it is done, not even the clearing away."""


def break_at(monkeypatch: pytest.MonkeyPatch, number: int, error: BaseException) -> list[str]:
    """Let the number-th call that changes the disk fail; all later ones too, as nobody makes them."""
    calls: list[str] = []

    def counting(name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*words: Any, **options: Any) -> Any:
            if name != "open" or (words[1:2] and "w" in str(words[1])):
                calls.append(name)
                if len(calls) >= number:
                    raise error
            return real(*words, **options)

        return call

    monkeypatch.setattr(os, "fsync", counting("fsync", os.fsync))
    for name in ("replace", "open", "unlink", "mkdir"):
        monkeypatch.setattr(Path, name, counting(name, getattr(Path, name)))
    return calls


STEPS: list[Callable[[Path], object]] = [lambda f: decide(f, to(7)), undo, redo, take_in]


@pytest.mark.parametrize("full", [False, True], ids=["killed", "full disk"])
@pytest.mark.parametrize(
    ("step", "by_hand"), [(0, False), (1, False), (2, False), (0, True), (1, True), (3, True)]
)
def test_whenever_it_ends_the_last_or_the_new_decision_stands(
    tmp_path: Path, step: int, full: bool, by_hand: bool
) -> None:
    outcomes: set[bool] = set()
    ready, mill = fresh(tmp_path / "ready"), tmp_path / "mill"
    for k in (3, 4, 5):
        decide(ready, to(k))
    undo(ready)
    if by_hand:
        (ready / "print.toml").write_bytes(text(ready) + b"# by hand\n")
    before, known = text(ready), steps(ready)
    three, four, five = (change(FRESH, to(k)).encode() for k in (3, 4, 5))
    new = [change(before.decode(), to(7)).encode(), four if by_hand else three, five, before][step]
    whole = tmp_path / "whole"
    shutil.copytree(ready, whole)
    STEPS[step](whole)
    for number in range(1, 60):
        shutil.rmtree(mill, ignore_errors=True)
        shutil.copytree(ready, mill)
        error = OSError(errno.ENOSPC, "No space left on device") if full else Killed()
        sentence = None
        with pytest.MonkeyPatch.context() as patch:
            calls = break_at(patch, number, error)
            try:
                STEPS[step](mill)
            except Killed:
                pass
            except BlockwrightError as refused:
                sentence = str(refused)
        stands = text(mill)
        outcomes.add(stands != before)
        parse(stands.decode())
        assert stands in {before, new}
        if sentence and "nothing to" not in sentence:
            assert stands == before
            assert sentence.endswith(").") or sentence.endswith("nothing was changed.")
        if stands == before and not by_hand:
            assert steps(mill) == known, "neither what can be undone nor what can be redone is lost"
        if stands != before:
            assert steps(mill) == steps(whole), "and what was decided is known"
        decide(mill, to(9))
        undo(mill)
        assert text(mill) == stands, "and the history goes on from there"
        assert steps(mill)[0] is not None
        if len(calls) < number:
            break
    else:
        pytest.fail("the step never came to its end")
    if step < 2:
        assert outcomes == {True, False}


def test_a_process_that_is_shot_leaves_a_whole_text(folder: Path) -> None:
    for round_number in range(5):
        child = deciding(folder, round_number, 400)
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(0.01 + 0.02 * round_number)
        child.send_signal(signal.SIGKILL)
        told = [int(line) for line in child.communicate(timeout=30)[0].split()]
        drops = {drop.at for drop in parse(text(folder).decode()).design.drop}
        mine = {k for who, k in drops if who == round_number}
        assert mine >= set(told), "what was said to be decided is decided"
        assert len(mine) <= len(told) + 1
        decide(folder, to(round_number + 1))
        undo(folder)
        assert {drop.at for drop in parse(text(folder).decode()).design.drop} == drops


@pytest.mark.parametrize(
    "spoil",
    [
        shutil.rmtree,
        lambda place: (place / "at.json").write_text("{", encoding="utf-8"),
        lambda place: (place / "at.json").write_text('{"at": 7, "steps": []}', encoding="utf-8"),
        lambda place: [file.write_text("x", encoding="utf-8") for file in place.glob("*.toml")],
        lambda place: [file.unlink() for file in place.glob("*.toml")],
    ],
)
def test_a_spoilt_history_costs_the_way_back_and_nothing_else(
    folder: Path, spoil: Callable[[Path], object]
) -> None:
    decide(folder, to(5))
    before = text(folder)
    spoil(folder / ".decisions")
    assert "nothing to undo" in refusal(lambda: undo(folder))
    assert text(folder) == before
    decide(folder, to(6))
    assert colours(folder) == 6


def test_a_history_from_elsewhere_leads_to_no_file_outside(folder: Path) -> None:
    decide(folder, to(5))
    secret = folder.parent / "secret.toml"
    secret.write_bytes(FRESH.replace("Tide mill", "secret").encode())
    note = folder / ".decisions" / "at.json"
    told = json.loads(note.read_text(encoding="utf-8"))
    told["steps"][0] |= {"file": str(secret), "sha256": text_hash(secret.read_bytes())}
    note.write_text(json.dumps(told), encoding="utf-8")
    refusal(lambda: undo(folder))
    assert colours(folder) == 5


def test_folders_that_cannot_be_used_are_told(tmp_path: Path, folder: Path) -> None:
    assert "no folder" in refusal(lambda: decide(tmp_path / "none", to(5)))
    (tmp_path / "empty").mkdir()
    for do in (undo, redo, steps, take_in):
        assert "no print folder" in refusal(lambda do=do: do(tmp_path / "empty"))  # type: ignore[misc]
    assert not list((tmp_path / "empty").iterdir())
    (folder / ".decisions").write_text("a file", encoding="utf-8")
    assert "cannot be written" in refusal(lambda: decide(folder, to(5)))
    assert text(folder) == FRESH.encode()


def test_the_kinds_of_refusal(folder: Path) -> None:
    with pytest.raises(SettingsError):
        decide(folder, to(500))
    with pytest.raises(FolderError):
        undo(folder)
    assert text(folder) == FRESH.encode()


def test_the_file_keeps_who_may_read_it(folder: Path) -> None:
    (folder / "print.toml").chmod(0o640)
    decide(folder, to(5))
    assert (folder / "print.toml").stat().st_mode & 0o777 == 0o640


# --- by command --------------------------------------------------------------------------------------------


def test_undo_and_redo_by_command(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    decide(folder, to(5))
    assert run(["undo", str(folder)]) == 0
    assert capsys.readouterr().out.startswith("Taken back: set colours to 5.\n")
    assert run(["redo", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "folder": str(folder),
        "done": "Done again: set colours to 5.",
        "undo": "set colours to 5",
        "redo": None,
    }
    assert run(["redo", str(folder)]) == 2
    assert capsys.readouterr().err == f"There is nothing to redo in {folder}.\n"
