"""The print folder: what is fresh, what is stale, and stages that are written whole or not at all.

A stage's folder holds its documents, ``STAGE.json`` for other programs, and ``value.json`` from which the
next stages go on. The key in ``STAGE.json`` is a hash of everything the stage depends on.
"""

import hashlib
import json
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from importlib import resources
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter, ValidationError

from blockwright.model.errors import FolderError
from blockwright.model.findings import Finding

Value = TypeVar("Value")
Say = Callable[[str], None]


@dataclass(frozen=True)
class Kept(Generic[Value]):
    """A stage's result: read from the folder only when someone asks for the value."""

    name: str
    folder: Path
    key: str
    kind: type[Value]
    fresh: bool
    seconds: float

    @cached_property
    def value(self) -> Value:
        """The stage's value."""
        return TypeAdapter(self.kind).validate_json((self.folder / "value.json").read_bytes())

    @cached_property
    def summary(self) -> dict[str, Any]:
        """``STAGE.json`` as a dictionary."""
        told: dict[str, Any] = json.loads((self.folder / f"{self.name}.json").read_text(encoding="utf-8"))
        return told

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The stage's findings."""
        return TypeAdapter(tuple[Finding, ...]).validate_json(json.dumps(self.summary["findings"]))


def code_version(rooms: Sequence[str]) -> str:
    """A hash of the source of the named rooms: a stage is made again when its code has changed."""
    digest = hashlib.sha256()
    root = resources.files("blockwright")
    for room in rooms:
        place = root / room
        files = sorted(place.iterdir(), key=lambda f: f.name) if place.is_dir() else [place]
        for file in files:
            if file.name.endswith(".py"):
                digest.update(file.name.encode() + b"\0" + file.read_bytes())
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

    def _is_fresh(self, name: str, key: str) -> bool:
        try:
            told = json.loads((self.path / name / f"{name}.json").read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return False
        return (
            isinstance(told, dict) and told.get("key") == key and (self.path / name / "value.json").is_file()
        )

    def stage(
        self,
        name: str,
        kind: type[Value],
        key: str,
        work: Callable[[Path], tuple[Value, dict[str, Any]]],
    ) -> Kept[Value]:
        """Give the stage's result, made anew by ``work`` when the one in the folder has another key.

        ``work`` writes its documents into the folder that it is given and returns the value and what
        ``STAGE.json`` should tell. Nothing is replaced before all of it is written.
        """
        place = self.path / name
        if self._is_fresh(name, key):
            kept = Kept(name, place, key, kind, True, 0.0)
            if _readable(kept):
                self._say(f"{name}: nothing changed")
                return kept
        began = time.perf_counter()
        self._say(f"{name} ...")
        making = self.path / f".making-{name}-{os.getpid()}"
        shutil.rmtree(making, ignore_errors=True)
        making.mkdir(parents=True)
        try:
            value, told = work(making)
            (making / "value.json").write_bytes(TypeAdapter(kind).dump_json(value))
            text = as_json({"stage": name, "key": key, **told})
            (making / f"{name}.json").write_text(text, encoding="utf-8", newline="\n")
            self._put_in_place(making, place)
        finally:
            shutil.rmtree(making, ignore_errors=True)
        seconds = time.perf_counter() - began
        self._say(f"{name}: done in {seconds:.1f} s")
        kept = Kept(name, place, key, kind, False, seconds)
        kept.__dict__["value"] = value
        return kept

    def single_file(self, name: str, key: str, work: Callable[[Path], None]) -> Path:
        """Give a file directly under ``out/``, written anew by ``work`` when its key has changed."""
        path = self.path / name
        note = self.path / f".{name}.key"
        if path.is_file() and note.is_file() and note.read_text(encoding="utf-8") == key:
            self._say(f"{name}: nothing changed")
            return path
        began = time.perf_counter()
        self._say(f"{name} ...")
        note.unlink(missing_ok=True)
        making = self.path / f".making-{name}"
        try:
            work(making)
            making.replace(path)
        finally:
            making.unlink(missing_ok=True)
        note.write_text(key, encoding="utf-8")
        self._say(f"{name}: done in {time.perf_counter() - began:.1f} s")
        return path

    def _put_in_place(self, made: Path, place: Path) -> None:
        old = place.with_name(f".old-{place.name}-{os.getpid()}")
        shutil.rmtree(old, ignore_errors=True)
        if place.exists():
            place.rename(old)
        made.rename(place)
        shutil.rmtree(old, ignore_errors=True)

    @contextmanager
    def alone(self) -> Iterator[None]:
        """Hold the folder for one run; a second run at the same time is told and ends."""
        try:
            self.path.mkdir(exist_ok=True)
            file = (self.path / ".busy").open("a")
        except OSError as error:
            raise FolderError(f"{self.path} cannot be written ({error.strerror}).") from None
        with file:
            if not _hold(file.fileno()):
                raise FolderError(f"Another run is at work in {self.path.parent}; wait until it has ended.")
            self._sweep()
            yield

    def _sweep(self) -> None:
        """Take away what a run that was killed left half made."""
        for leftover in [*self.path.glob(".making-*"), *self.path.glob(".old-*")]:
            if leftover.is_dir():
                shutil.rmtree(leftover, ignore_errors=True)
            else:
                leftover.unlink(missing_ok=True)


def _readable(kept: Kept[Any]) -> bool:
    try:
        _ = kept.summary
        return (kept.folder / "value.json").stat().st_size > 0
    except (OSError, ValueError, ValidationError):
        return False


def _hold(descriptor: int) -> bool:
    """Lock an open file for this process, where the system can."""
    if sys.platform == "win32":
        return True
    import fcntl

    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def create_folder(folder: Path) -> None:
    """Make a new print folder; one that holds anything already is left alone.

    Raises FolderError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FolderError(f"{folder} is already there and not empty; give the name of a new folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FolderError(f"{folder} cannot be made ({error.strerror}).") from None


__all__ = [
    "Kept",
    "OutFolder",
    "Say",
    "as_json",
    "code_version",
    "create_folder",
    "file_hash",
    "make_key",
]
