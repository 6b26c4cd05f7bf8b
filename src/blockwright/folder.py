"""The print folder: what is fresh, what is stale, and stages that are written whole or not at all.

A stage's folder holds its documents, ``STAGE.json`` for other programs, and ``value.json`` from which the
next stages go on. The note beside them says from which key it was made, a hash of everything that the stage
depends on, and the hash of every file: a document that was deleted, cut short or changed is made again.
"""

import hashlib
import json
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

from blockwright.model.errors import FolderError
from blockwright.model.findings import Finding

Value = TypeVar("Value")
Say = Callable[[str], None]
Told = dict[str, Any]

_NOTE = ".made.json"
"""The note in a stage's folder."""


@dataclass(frozen=True)
class Step(Generic[Value]):
    """A stage that is wanted: its name, the type of its value, its key, and the work that makes it.

    ``work`` writes documents into the folder that it is given and returns the value and what ``STAGE.json``
    should tell.
    """

    name: str
    kind: type[Value]
    key: str
    work: Callable[[Path], tuple[Value, Told]]


@dataclass(frozen=True)
class FileStep:
    """A single file that is wanted directly under ``out/``; ``work`` writes it to the path it is given."""

    name: str
    key: str
    work: Callable[[Path], None]


@dataclass(frozen=True)
class Kept(Generic[Value]):
    """A stage's result: read from the folder only when someone asks for the value.

    ``fresh`` tells that nothing had to be made. ``hashes`` are the SHA-256 of the stage's files by name: a
    stage that comes out the same as before leaves the later ones fresh.
    """

    name: str
    folder: Path
    key: str
    kind: type[Value]
    fresh: bool
    seconds: float
    hashes: dict[str, str]

    @property
    def value_hash(self) -> str:
        """The hash of the stage's value."""
        return self.hashes["value.json"]

    @property
    def documents_hash(self) -> str:
        """One hash of all documents; what ``STAGE.json`` tells is left out, as it holds the key."""
        return make_key({name: each for name, each in self.hashes.items() if name != f"{self.name}.json"})

    @cached_property
    def value(self) -> Value:
        """The stage's value."""
        return TypeAdapter(self.kind).validate_json((self.folder / "value.json").read_bytes())

    @cached_property
    def summary(self) -> Told:
        """``STAGE.json`` as a dictionary."""
        told: Told = json.loads((self.folder / f"{self.name}.json").read_text(encoding="utf-8"))
        return told

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The stage's findings."""
        return TypeAdapter(tuple[Finding, ...]).validate_json(json.dumps(self.summary["findings"]))


def _source_files(place: Traversable) -> Iterator[Traversable]:
    if place.is_dir():
        for inside in sorted(place.iterdir(), key=lambda f: f.name):
            if not inside.name.startswith(("__pycache__", ".")):
                yield from _source_files(inside)
    else:
        yield place


def code_version(rooms: Sequence[str]) -> str:
    """A hash of the named rooms and modules, with what they carry: a stage is made again when they change."""
    digest = hashlib.sha256()
    root = resources.files("blockwright")
    for room in rooms:
        for file in _source_files(root / room):
            digest.update(f"{room}/{file.name}\0".encode() + hashlib.sha256(file.read_bytes()).digest())
    return digest.hexdigest()


def file_hash(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def make_key(*parts: Any) -> str:
    """A hash of plain values."""
    text = json.dumps(parts, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def as_json(told: dict[str, Any]) -> str:
    """JSON as the folder keeps it: indented, sorted only where the writer sorted, ending in a line break."""
    return json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


class OutFolder:
    """``out/`` of a print: safe to delete, filled stage by stage."""

    def __init__(self, print_folder: Path, say: Say) -> None:
        self.path = print_folder / "out"
        self._say = say

    def kept(self, step: Step[Value]) -> Kept[Value] | None:
        """The stage as it lies in the folder, or None when it has to be made."""
        place = self.path / step.name
        hashes = _whole(place / _NOTE, place, step.key)
        if hashes is None or not {"value.json", f"{step.name}.json"} <= hashes.keys():
            return None
        return Kept(step.name, place, step.key, step.kind, True, 0.0, hashes)

    def stage(self, step: Step[Value]) -> Kept[Value]:
        """Give the stage's result, made anew when the one in the folder is another or not whole.

        Nothing is replaced before all of it is written.
        """
        if kept := self.kept(step):
            self._say(f"{step.name}: nothing changed")
            return kept
        began = time.perf_counter()
        self._say(f"{step.name} ...")
        making = self.path / f".making-{step.name}"
        shutil.rmtree(making, ignore_errors=True)
        making.mkdir()
        try:
            value, told = step.work(making)
            (making / "value.json").write_bytes(TypeAdapter(step.kind).dump_json(value))
            text = as_json({"stage": step.name, "key": step.key, **told})
            (making / f"{step.name}.json").write_text(text, encoding="utf-8", newline="\n")
            hashes = {file.name: file_hash(file) for file in sorted(making.iterdir())}
            _write_note(making / _NOTE, step.key, hashes)
            self._put_in_place(making, self.path / step.name)
        finally:
            shutil.rmtree(making, ignore_errors=True)
        seconds = time.perf_counter() - began
        self._say(f"{step.name}: done in {seconds:.1f} s")
        place = self.path / step.name
        kept = Kept(step.name, place, step.key, step.kind, False, seconds, hashes)
        kept.__dict__["value"] = value
        return kept

    def kept_file(self, step: FileStep) -> Path | None:
        """The file as it lies in the folder, or None when it has to be made."""
        hashes = _whole(self.path / f".{step.name}.json", self.path, step.key)
        return self.path / step.name if hashes is not None and step.name in hashes else None

    def single_file(self, step: FileStep) -> Path:
        """Give a file directly under ``out/``, made anew when the one there is another or not whole."""
        if path := self.kept_file(step):
            self._say(f"{step.name}: nothing changed")
            return path
        path, note = self.path / step.name, self.path / f".{step.name}.json"
        began = time.perf_counter()
        self._say(f"{step.name} ...")
        making = self.path / f".making-{step.name}"
        try:
            step.work(making)
            note.unlink(missing_ok=True)
            making.replace(path)
        finally:
            making.unlink(missing_ok=True)
        _write_note(note, step.key, {step.name: file_hash(path)})
        self._say(f"{step.name}: done in {time.perf_counter() - began:.1f} s")
        return path

    def holds(self, name: str) -> bool:
        """Whether a stage or a file of that name lies in the folder, fresh or stale."""
        return (self.path / name).exists()

    def _put_in_place(self, made: Path, place: Path) -> None:
        old = place.with_name(f".old-{place.name}")
        if place.exists():
            place.rename(old)
        try:
            made.rename(place)
        except BaseException:
            if old.exists() and not place.exists():
                old.rename(place)
            raise
        _take_away(old)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Hold the folder for one run; a second run at the same time is told and ends."""
        try:
            self.path.mkdir(exist_ok=True)
            file = (self.path / ".busy").open("a")
        except FileExistsError:
            raise FolderError(f"{self.path} is a file; results need a folder of that name.") from None
        except OSError as error:
            raise FolderError(f"{self.path} cannot be written ({error.strerror}).") from None
        with file:
            if not _hold(file.fileno()):
                raise FolderError(f"Another run is at work in {self.path.parent}; wait until it has ended.")
            for leftover in [*self.path.glob(".making-*"), *self.path.glob(".old-*")]:
                # From a run that was killed.
                _take_away(leftover)
            yield


def _take_away(leftover: Path) -> None:
    if leftover.is_dir():
        shutil.rmtree(leftover, ignore_errors=True)
    else:
        leftover.unlink(missing_ok=True)


def _write_note(path: Path, key: str, hashes: dict[str, str]) -> None:
    path.write_text(as_json({"key": key, "sha256": hashes}), encoding="utf-8", newline="\n")


def _whole(note: Path, place: Path, key: str) -> dict[str, str] | None:
    """The hashes that a note tells when it has this key and every file is as it was written, or None."""
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
        if told["key"] != key:
            return None
        hashes: dict[str, str] = told["sha256"]
        whole = all(file_hash(place / name) == wanted for name, wanted in hashes.items())
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        # Whatever is wrong with what lies there, making it again is right.
        return None
    return hashes if whole else None


def _hold(descriptor: int) -> bool:
    """Lock an open file for this process; the system lets go when the process ends, however it ends."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def require_free(folder: Path) -> None:
    """Raise FolderError when a new print cannot go there: something is in the place already."""
    try:
        free = not folder.exists() or (folder.is_dir() and not any(folder.iterdir()))
    except OSError as error:
        raise FolderError(f"{folder} cannot be made ({error.strerror}).") from None
    if not free:
        raise FolderError(f"{folder} is already there and not empty; give the name of a new folder.")


def create_folder(folder: Path) -> bool:
    """Make a new print folder and tell whether it is new; one that holds anything already is left alone.

    Raises FolderError.
    """
    require_free(folder)
    there = folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FolderError(f"{folder} cannot be made ({error.strerror}).") from None
    return not there


__all__ = [
    "FileStep",
    "Kept",
    "OutFolder",
    "Say",
    "Step",
    "as_json",
    "code_version",
    "create_folder",
    "file_hash",
    "make_key",
    "require_free",
]
