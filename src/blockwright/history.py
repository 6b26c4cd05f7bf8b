"""The history of ``print.toml``: every decision is a step that can be taken back, across restarts.

``.decisions/`` beside it holds the whole text after every step and ``at.json``, which says where we are.
``print.toml`` is always the truth. A step is written in this order, each file whole or not at all: the new
text among the snapshots; ``at.json`` with the new state as what comes next; ``print.toml``; ``at.json``.
Ended at any moment, the text in ``print.toml`` tells which of the two states holds.
"""

import hashlib
import json
import os
import re
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from blockwright.deciding import Act, TakeBack, change
from blockwright.decisions import FILE_NAME, parse, read_text
from blockwright.folder import as_json, hold_file
from blockwright.model.errors import BlockwrightError, FolderError, SettingsError

FOLDER_NAME = ".decisions"

MOST_STEPS = 500
"""Snapshots that are kept; the oldest go first."""

_WAIT_S = 2.0
"""How long another process may hold the decisions before we say so: a step takes some hundredths."""

_POLL_S = 0.01

_TRIES = 20
"""How often a step begins again because an editor saved ``print.toml`` in the middle of it."""

_START, _BY_HAND = "as it was found", "edited by hand"

_NAME = re.compile(r"[0-9]{4,9}\.toml")


@dataclass(frozen=True)
class _Step:
    """A text that ``print.toml`` had: the snapshot's file, its SHA-256, what was decided."""

    file: str
    sha256: str
    told: str
    readable: bool


@dataclass(frozen=True)
class _State:
    """The steps, the oldest first, and which of them is the present one."""

    steps: tuple[_Step, ...] = ()
    at: int = 0

    @property
    def present(self) -> _Step | None:
        return self.steps[self.at] if self.steps else None


class _ChangedMeanwhileError(Exception):
    """Somebody else wrote ``print.toml`` while a step was being made."""


# --- files -------------------------------------------------------------------------------------------------


def text_hash(text: bytes) -> str:
    """The hash by which a text of ``print.toml`` is known: the SHA-256 of its bytes."""
    return hashlib.sha256(text).hexdigest()


def _write(path: Path, text: bytes) -> None:
    """Write a file so that a reader sees the old one or the new one, and a kill leaves one of the two."""
    beside = path.with_name(path.name + ".part")
    try:
        with beside.open("wb") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            shutil.copymode(path, beside)
        beside.replace(path)
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def _present_text(folder: Path) -> bytes:
    """The bytes of ``print.toml``; a text that is no UTF-8 is handed on as well. Raises FolderError."""
    try:
        return read_text(folder).encode()
    except SettingsError as error:
        if "UTF-8" not in str(error):
            raise
        return (folder / FILE_NAME).read_bytes()


def _is_readable(text: bytes) -> bool:
    try:
        parse(text.decode())
    except (BlockwrightError, UnicodeDecodeError):
        return False
    return True


def _state(told: Any) -> _State:
    steps = tuple(_Step(**step) for step in told["steps"])
    if not all(_NAME.fullmatch(step.file) and isinstance(step.told, str) for step in steps):
        raise ValueError
    at = int(told["at"])
    if not 0 <= at < max(1, len(steps)):
        raise ValueError
    return _State(steps, at)


def _recorded(place: Path) -> tuple[_State, _State | None]:
    """The state, and the one that was to come next when the last step was not brought to its end."""
    try:
        told = json.loads((place / "at.json").read_text(encoding="utf-8"))
        return _state(told), _state(told["next"]) if "next" in told else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        # Whatever is wrong with it, print.toml is the truth; only the way back is lost.
        return _State(), None


def _as_told(state: _State) -> dict[str, Any]:
    return {"at": state.at, "steps": [asdict(step) for step in state.steps]}


def _load(place: Path, text: bytes) -> _State:
    """The state that holds, by what is in ``print.toml``."""
    state, following = _recorded(place)
    if following is None:
        return state
    known = text_hash(text)
    if following.present and following.present.sha256 == known:
        return following
    if state.present is None or state.present.sha256 == known:
        return state
    # Edited outside as well: both texts are among the steps of the later state.
    return following


def _snapshot(place: Path, step: _Step) -> bytes | None:
    """The text of a step, or None when its file is gone or is another."""
    try:
        text = (place / step.file).read_bytes()
    except OSError:
        return None
    return text if text_hash(text) == step.sha256 else None


# --- steps -------------------------------------------------------------------------------------------------


def _with_step(place: Path, state: _State, text: bytes, told: str) -> _State:
    """The state with one step more, whose snapshot is written; what could be done again is dropped."""
    kept = state.steps[: state.at + 1][-(MOST_STEPS - 1) :]
    used = [int(file.stem) for file in place.iterdir() if _NAME.fullmatch(file.name)]
    step = _Step(f"{max(used, default=0) + 1:04d}.toml", text_hash(text), told, _is_readable(text))
    _write(place / step.file, text)
    return _State((*kept, step), len(kept))


def _with_present(place: Path, state: _State, text: bytes) -> _State:
    """The state with what stands in ``print.toml`` as its present step."""
    if state.present is None:
        return _with_step(place, state, text, _START)
    if state.present.sha256 == text_hash(text):
        return state
    return _with_step(place, state, text, _BY_HAND)


def _record(place: Path, state: _State) -> None:
    """Write the state, and take away snapshots that nothing leads to any more."""
    _write(place / "at.json", as_json(_as_told(state)).encode())
    wanted = {step.file for step in state.steps}
    for file in list(place.iterdir()):
        if (_NAME.fullmatch(file.name) and file.name not in wanted) or file.suffix == ".part":
            file.unlink(missing_ok=True)


def _require_same(folder: Path, before: bytes) -> None:
    if _present_text(folder) != before:
        raise _ChangedMeanwhileError


def _go(folder: Path, before: bytes, state: _State, following: _State, text: bytes) -> None:
    """Make ``text`` the present one. Up to the moment when it is, everything is as before."""
    place = folder / FOLDER_NAME
    _write(place / "at.json", as_json({**_as_told(state), "next": _as_told(following)}).encode())
    try:
        _require_same(folder, before)
        _write(folder / FILE_NAME, text)
    except Exception:
        with suppress(OSError):
            _record(place, state)
        raise
    # The decision stands now; if this cannot be written, the next reading finds out by itself.
    with suppress(OSError):
        _record(place, following)


@contextmanager
def _alone(folder: Path) -> Iterator[Path]:
    """Hold the decisions of a print for one step, and say in one sentence what the disk refuses."""
    _present_text(folder)
    place = folder / FOLDER_NAME
    try:
        place.mkdir(exist_ok=True)
        with (place / ".busy").open("a") as file:
            until = time.monotonic() + _WAIT_S
            while not hold_file(file.fileno()):
                if time.monotonic() > until:
                    raise FolderError(f"Another program is deciding in {folder}; try again in a moment.")
                time.sleep(_POLL_S)
            yield place
    except BlockwrightError:
        raise
    except OSError as error:
        raise FolderError(
            f"{folder / FILE_NAME} cannot be written ({error.strerror or error}); nothing was changed."
        ) from None


def _in_turn(folder: Path, make: Callable[[Path], str]) -> str:
    """Make a step while nobody else does; begin again when an editor saved in between."""
    with _alone(folder) as place:
        for _ in range(_TRIES):
            with suppress(_ChangedMeanwhileError):
                return make(place)
    raise FolderError(f"{folder / FILE_NAME} keeps changing; wait until the other program is done.")


def decide(folder: Path, act: Act, *, seen: str | None = None) -> str:
    """Write one more decision into ``print.toml`` and give the hash of its new text.

    The act is applied to the text as it is now; an edit made outside is taken in first, as a step of its own.
    ``seen`` is the hash of the text that the printmaker was looking at: an act that points at an entry by its
    number is refused when the text has become another. Raises FolderError or SettingsError, one sentence
    each; ``print.toml`` is then as it was.
    """

    def make(place: Path) -> str:
        before = _present_text(folder)
        if seen is not None and isinstance(act, TakeBack) and seen != text_hash(before):
            raise SettingsError(f"{FILE_NAME} has changed meanwhile; look again what is to be taken back.")
        text = change(read_text(folder), act).encode()
        state = _load(place, before)
        known = _with_present(place, state, before)
        if text == before:
            if known != _recorded(place)[0]:
                _record(place, known)
            return text_hash(text)
        _go(folder, before, known, _with_step(place, known, text, act.told()), text)
        return text_hash(text)

    return _in_turn(folder, make)


def take_in(folder: Path) -> bool:
    """Take an edit made outside in as a step of its own; tells whether there was one that can be read.

    Raises FolderError.
    """

    def make(place: Path) -> str:
        text = _present_text(folder)
        state = _load(place, text)
        known = _with_present(place, state, text) if _is_readable(text) else state
        if known == state:
            return ""
        _record(place, known)
        return "taken in" if state.steps else ""

    return bool(_in_turn(folder, make))


def _back(state: _State) -> int | None:
    """The nearest step before the present one that can be read."""
    return next((k for k in range(state.at - 1, -1, -1) if state.steps[k].readable), None)


def undo(folder: Path) -> str:
    """Go back to the text before the last step, and say what was taken back.

    An edit made outside is a step too; one that cannot be read is gone back from to the last text that can.
    Raises FolderError when there is nothing to undo.
    """

    def make(place: Path) -> str:
        before = _present_text(folder)
        state = _load(place, before)
        if state.present is not None:
            state = _with_present(place, state, before)
        target = _back(state)
        text = None if target is None else _snapshot(place, state.steps[target])
        if target is None or text is None or state.present is None:
            raise FolderError(f"There is nothing to undo in {folder}.")
        _go(folder, before, state, replace(state, at=target), text)
        return f"Taken back: {state.present.told}."

    return _in_turn(folder, make)


def redo(folder: Path) -> str:
    """Go forward again to the text that was last gone back from, and say what was done again.

    Raises FolderError when there is nothing to redo, as after a new decision or an edit made outside.
    """

    def make(place: Path) -> str:
        before = _present_text(folder)
        state = _load(place, before)
        after = state.steps[state.at + 1 : state.at + 2]
        present = state.present is not None and state.present.sha256 == text_hash(before)
        text = _snapshot(place, after[0]) if present and after else None
        if text is None:
            raise FolderError(f"There is nothing to redo in {folder}.")
        _go(folder, before, state, replace(state, at=state.at + 1), text)
        return f"Done again: {after[0].told}."

    return _in_turn(folder, make)


def steps(folder: Path) -> tuple[str | None, str | None]:
    """What ``undo`` would take back and what ``redo`` would do again; None when there is nothing.

    Reads only, and waits for nobody. Raises FolderError.
    """
    place, text = folder / FOLDER_NAME, _present_text(folder)
    state = _load(place, text)
    if state.present is None:
        return None, None
    if state.present.sha256 != text_hash(text):
        back = state.present.readable or _back(state) is not None
        return (_BY_HAND if back else None), None
    after = state.steps[state.at + 1 : state.at + 2]
    return (
        state.present.told if _back(state) is not None else None,
        after[0].told if after else None,
    )
