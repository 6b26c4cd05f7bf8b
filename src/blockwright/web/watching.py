"""What someone else does to a print's folder while its page is open, noticed by looking at a few files."""

import hashlib
import time
from dataclasses import dataclass
from pathlib import Path

from blockwright.decisions import FILE_NAME
from blockwright.model.home import DATABASE_NAME, home_folder
from blockwright.project import STAGES

Mark = tuple[int, int, int] | None

_SETTLED_S = 0.05
"""An editor that empties the file before it writes it anew is through with it after this time, as a rule."""

_LOOKS = 6
"""Looks at a file that keeps changing, before it is taken as it is."""


def text_hash(folder: Path) -> str | None:
    """The SHA-256 of a print's decisions as they are now, or None when they cannot be read."""
    try:
        return hashlib.sha256((folder / FILE_NAME).read_bytes()).hexdigest()
    except OSError:
        return None


def asked_of(folder: Path) -> str | None:
    """What a print is made from as it is now, decisions and shelf; None when the decisions cannot be read."""
    text = text_hash(folder)
    return None if text is None else f"{text} {_shelf()}"


def _shelf() -> tuple[Mark, Mark]:
    """What changes when something is written to the studio's shelf; whoever only reads it leaves no mark."""
    file = home_folder() / DATABASE_NAME
    log = _mark(file.with_name(file.name + "-wal"))
    return _mark(file), log if log and log[1] else None


def _mark(path: Path) -> Mark:
    try:
        seen = path.stat()
    except OSError:
        return None
    return seen.st_mtime_ns, seen.st_size, seen.st_ino


def _results(folder: Path) -> tuple[Mark, ...]:
    """The notes that are written last when a stage or the packet is put in place."""
    out = folder / "out"
    notes = [out / stage / ".made.json" for stage in STAGES[:-1]]
    return tuple(_mark(note) for note in (*notes, out / ".packet.pdf.json"))


@dataclass(frozen=True)
class Seen:
    """What one look noticed since the last."""

    vanished: bool = False
    back: bool = False
    decisions: bool = False
    shelf: bool = False
    results: bool = False


class Watched:
    """A print that has a page open; ``may_write`` tells whether this app may work in its folder, and
    ``gone`` that it was not there when it was looked at last.
    """

    def __init__(self, folder: Path, *, may_write: bool, gone: bool = False) -> None:
        self.folder = folder
        self.may_write = may_write
        self._there = not gone
        self._text = _mark(folder / FILE_NAME)
        self._shelf = _shelf()
        self._results: tuple[Mark, ...] | None = None

    def look(self, *, at_work: bool) -> Seen:
        """Look again; what our own job leaves behind while it is ``at_work`` is no news."""
        there = self.folder.is_dir()
        if there != self._there:
            self._there = there
            self._text, self._results = (self._settled(), None) if there else (None, None)
            return Seen(vanished=not there, back=there)
        if not there:
            return Seen()
        decisions = _mark(self.folder / FILE_NAME) != self._text
        if decisions:
            self._text = self._settled()
        shelf, self._shelf = self._shelf, _shelf()
        before, self._results = self._results, None if at_work else _results(self.folder)
        results = before is not None and self._results is not None and before != self._results
        return Seen(decisions=decisions, shelf=shelf != self._shelf, results=results)

    def _settled(self) -> Mark:
        mark = _mark(self.folder / FILE_NAME)
        for _ in range(_LOOKS):
            time.sleep(_SETTLED_S)
            before, mark = mark, _mark(self.folder / FILE_NAME)
            if mark == before:
                break
        return mark
