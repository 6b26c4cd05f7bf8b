"""The print folder: what is fresh, what is stale, and stages that are written whole or not at all.

A stage's folder holds its documents, ``STAGE.json`` for other programs, and ``value.json`` from which the
next stages go on. The note beside them says from which key it was made, a hash of everything that the stage
depends on, and the hash of every file: a document that was deleted, cut short or changed is made again.
Documents have keys of their own, so that a stage that is made again keeps those that stay as they are, and
are drawn by other processes while the next stage is computed.
"""

import hashlib
import json
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

from blockwright.hands import Draw, Hands, finish
from blockwright.hashing import file_hash
from blockwright.model.errors import BlockwrightError, FolderError
from blockwright.model.findings import Finding

Value = TypeVar("Value")
Say = Callable[[str], None]
Told = dict[str, Any]

OUT, SKETCH = "out", ".sketch"
"""The folder of results in a print folder, and in it the folder of stages that were computed ahead."""

_NOTE = ".made.json"
"""The note in a stage's folder."""


_FEW_POINTS = 20_000
"""Documents of a stage with fewer points than this in all are drawn at once: sooner done than handed on."""

_MUCH_BYTES = 400_000
"""A value this large is followed by much to draw: the processes for it start ahead."""


@dataclass(frozen=True)
class Document:
    """Files of a stage that are drawn from its value, by themselves.

    ``key`` is a hash of everything that they show. ``draw`` writes them into the folder that it is given; it
    must be picklable. ``points`` says about how much there is to draw.
    """

    names: tuple[str, ...]
    key: str
    draw: Draw
    points: int


def _no_documents(_: Any) -> tuple[Document, ...]:
    return ()


@dataclass(frozen=True)
class Step(Generic[Value]):
    """A stage that is wanted: its name, the type of its value, its key, and the work that makes it.

    ``work`` writes what only it can write into the folder that it is given and returns the value and what
    ``STAGE.json`` should tell. ``documents`` says what is to be drawn from the value.
    """

    name: str
    kind: type[Value]
    key: str
    work: Callable[[Path], tuple[Value, Told]]
    documents: Callable[[Value], Sequence[Document]] = _no_documents


@dataclass(frozen=True)
class FileStep:
    """A single file that is wanted directly under ``out/``; ``work`` writes it to the path it is given."""

    name: str
    key: str
    work: Callable[[Path], None]


@dataclass(frozen=True)
class Kept(Generic[Value]):
    """A stage's result: read from the folder only when someone asks for the value.

    ``fresh`` tells that nothing had to be made. ``value_hash`` is the SHA-256 of the stage's value: a stage
    that comes out the same as before leaves the later ones fresh. Documents may still be being drawn until
    the run ends.
    """

    name: str
    folder: Path
    key: str
    kind: type[Value]
    fresh: bool
    value_hash: str

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
        # What an earlier version left behind says nothing of what its findings are about.
        told = [{**each, "about": list(each.get("about", {}).items())} for each in self.summary["findings"]]
        return TypeAdapter(tuple[Finding, ...]).validate_json(json.dumps(told))


@dataclass(frozen=True)
class _Making:
    """A stage that is computed and whose documents are being drawn."""

    step: Step[Any]
    folder: Path
    began: float
    parts: dict[str, str]
    drawings: list["Future[object]"] = field(default_factory=list)

    @property
    def drawn(self) -> bool:
        return all(drawing.done() for drawing in self.drawings)


def quiet_say(_: str) -> None:
    """Say nothing."""


def as_json(told: dict[str, Any]) -> str:
    """JSON as the folder keeps it: indented, sorted only where the writer sorted, ending in a line break."""
    return json.dumps(told, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


class OutFolder:
    """``out/`` of a print: safe to delete, filled stage by stage.

    With ``sketches`` it is ``out/.sketch/``, where stages lie that were computed ahead, without the documents
    for the bench. A value that one of the two holds is not computed again for the other.
    """

    def __init__(
        self, print_folder: Path, say: Say, hands: Hands | None = None, *, sketches: bool = False
    ) -> None:
        results = print_folder / OUT
        self.path = results / SKETCH if sketches else results
        self._other = results if sketches else results / SKETCH
        self._may_draw = hands is not None and not sketches
        self._say = say
        self._hands = hands or Hands()
        self._making: list[_Making] = []
        self._much = False

    def kept(self, step: Step[Value]) -> Kept[Value] | None:
        """The stage as it lies in the folder, or None when it has to be made."""
        place = self.path / step.name
        hashes = _whole(place / _NOTE, place, step.key)
        if hashes is None or not {"value.json", f"{step.name}.json"} <= hashes.keys():
            return None
        return Kept(step.name, place, step.key, step.kind, True, hashes["value.json"])

    def glance(self, step: Step[Value]) -> Kept[Value] | None:
        """As ``kept``, believing the note: no file is read but that. For looking, never for going on."""
        place = self.path / step.name
        told = _note_told(place / _NOTE)
        if told is None or told["key"] != step.key or not (place / "value.json").is_file():
            return None
        return Kept(step.name, place, step.key, step.kind, True, told["sha256"]["value.json"])

    def _held_by_the_other(self, step: Step[Value]) -> Path | None:
        """Where the other folder holds this very value, whole."""
        place = self._other / step.name
        hashes = _whole(place / _NOTE, place, step.key)
        return place if hashes is not None and "value.json" in hashes else None

    def stage(self, step: Step[Value]) -> Kept[Value]:
        """Give the stage's result, made anew when the one in the folder is another or not whole.

        Its documents may still be being drawn when this returns; ``settle`` waits for them. Nothing is
        replaced before all of the stage is written.
        """
        self._settle_those_drawn()
        if kept := self.kept(step):
            self._much |= _is_much(kept.folder / "value.json")
            self._say(f"{step.name}: nothing changed")
            return kept
        began = time.perf_counter()
        self._say(f"{step.name} ...")
        if self._much and self._may_draw:
            # A sketch has little to draw, and processes that load would only slow it down.
            self._hands.ready()
        making = _Making(step, self.path / f".making-{step.name}", began, {})
        shutil.rmtree(making.folder, ignore_errors=True)
        making.folder.mkdir()
        try:
            kept = self._worked(step, making.folder)
            self._much |= _is_much(making.folder / "value.json")
            if step.documents is not _no_documents:
                self._begin_drawing(making, step.documents(kept.value))
        except BaseException:
            shutil.rmtree(making.folder, ignore_errors=True)
            raise
        self._making.append(making)
        if not making.drawings:
            self.settle(step.name)
        return kept

    def _worked(self, step: Step[Value], into: Path) -> Kept[Value]:
        """Have a stage computed, or take over what the other folder holds; documents are not in it yet."""
        held = self._held_by_the_other(step)
        if held is not None:
            documents = _documents_there(held)
            for name in _files_in(held):
                if name != _NOTE and name not in documents:
                    keep_file(held / name, into / name)
            value_hash = file_hash(into / "value.json")
            kept = Kept(step.name, self.path / step.name, step.key, step.kind, False, value_hash)
            kept.__dict__["summary"] = json.loads((into / f"{step.name}.json").read_text(encoding="utf-8"))
            kept.__dict__["value"] = TypeAdapter(step.kind).validate_json((into / "value.json").read_bytes())
            return kept
        value, told = step.work(into)
        told = {"stage": step.name, "key": step.key, **told}
        whole = TypeAdapter(step.kind).dump_json(value)
        (into / "value.json").write_bytes(whole)
        (into / f"{step.name}.json").write_text(as_json(told), encoding="utf-8", newline="\n")
        value_hash = hashlib.sha256(whole).hexdigest()
        kept = Kept(step.name, self.path / step.name, step.key, step.kind, False, value_hash)
        kept.__dict__.update(value=value, summary=told)
        return kept

    def settle(self, *names: str) -> None:
        """Wait until the documents of the named stages are drawn, of all without a name, and keep them."""
        wrong: list[Exception] = []
        for making in [each for each in self._making if not names or each.step.name in names]:
            self._making.remove(making)
            try:
                self._keep(making)
            except Exception as error:
                wrong.append(error)
        if wrong:
            # The others are kept first: one drawing that failed costs only its own stage.
            raise wrong[0]

    def _keep(self, making: _Making) -> None:
        try:
            for drawing in making.drawings:
                finish(drawing)
            hashes = {name: file_hash(making.folder / name) for name in _files_in(making.folder)}
            _write_note(making.folder / _NOTE, making.step.key, hashes, making.parts)
            self._put_in_place(making.folder, self.path / making.step.name)
        finally:
            shutil.rmtree(making.folder, ignore_errors=True)
        self._say(f"{making.step.name}: done in {time.perf_counter() - making.began:.1f} s")

    def _settle_those_drawn(self) -> None:
        self.settle(*([each.step.name for each in self._making if each.drawn] or [""]))

    def _begin_drawing(self, making: _Making, documents: Sequence[Document]) -> None:
        """Keep the documents that are there already, draw the few, and hand the many on."""
        earlier = _documents_there(self.path / making.step.name)
        wanted: list[Document] = []
        for document in documents:
            making.parts.update(dict.fromkeys(document.names, document.key))
            if all(earlier.get(name) == document.key for name in document.names):
                for name in document.names:
                    keep_file(self.path / making.step.name / name, making.folder / name)
            else:
                wanted.append(document)
                for name in document.names:
                    (making.folder / name).parent.mkdir(parents=True, exist_ok=True)
        if sum(document.points for document in wanted) < _FEW_POINTS:
            for document in wanted:
                document.draw(making.folder)
        else:
            making.drawings.extend(self._hands.draw(document.draw, making.folder) for document in wanted)

    def expect_drawing(self) -> None:
        """Something will be made anew. Where there was much to draw before, what that needs loads now."""
        if self._may_draw and any(map(_is_much, self.path.glob("*/value.json"))):
            self._hands.ready()

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
            if not hold_file(file.fileno()):
                raise FolderError(f"Another run is at work in {self.path.parent}; wait until it has ended.")
            for leftover in [*self.path.glob(".making-*"), *self.path.glob(".old-*")]:
                # From a run that was killed.
                _take_away(leftover)
            try:
                yield
            except Exception:
                # What was finished before it went wrong is kept.
                with suppress(BlockwrightError, OSError):
                    self.settle()
                raise
            except BaseException:
                # Stopped from outside: only what is finished this very moment is kept.
                for making in self._making:
                    shutil.rmtree(making.folder, ignore_errors=True)
                raise
            self.settle()


def _files_in(folder: Path) -> list[str]:
    """The files in a stage's folder and in folders of it, as they are named from there."""
    return sorted(file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file())


def _is_much(value: Path) -> bool:
    return value.stat().st_size > _MUCH_BYTES


def _take_away(leftover: Path) -> None:
    if leftover.is_dir():
        shutil.rmtree(leftover, ignore_errors=True)
    else:
        leftover.unlink(missing_ok=True)


def _write_note(
    path: Path, key: str, hashes: dict[str, str], documents: dict[str, str] | None = None
) -> None:
    told = {"key": key, "sha256": hashes, **({"documents": documents} if documents else {})}
    path.write_text(as_json(told), encoding="utf-8", newline="\n")


def _documents_there(place: Path) -> dict[str, str]:
    """The documents of a stage as it lies there that are as they were written, with their keys."""
    try:
        told = json.loads((place / _NOTE).read_text(encoding="utf-8"))
        return {
            str(name): str(key)
            for name, key in told["documents"].items()
            if ".." not in Path(name).parts and file_hash(place / name) == told["sha256"][name]
            if ".." not in Path(name).parts and file_hash(place / name) == told["sha256"][name]
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def keep_file(old: Path, new: Path) -> None:
    """Give a file another place beside the one it has; a copy where the disk knows no links."""
    new.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(old, new)
    except OSError:
        shutil.copyfile(old, new)


def _note_told(note: Path) -> dict[str, Any] | None:
    """What a note tells, if it is one."""
    try:
        told = json.loads(note.read_text(encoding="utf-8"))
        if isinstance(told["key"], str) and isinstance(told["sha256"]["value.json"], str):
            return dict(told)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        pass
    return None


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


def noted(stage_folder: Path) -> tuple[str, ...]:
    """The names of the files that a stage made, as its note tells; what else lies there is not its own."""
    told = _note_told(stage_folder / _NOTE)
    return tuple(told["sha256"]) if told else ()


def hold_file(descriptor: int) -> bool:
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
    "Document",
    "FileStep",
    "Kept",
    "OutFolder",
    "Say",
    "Step",
    "as_json",
    "create_folder",
    "hold_file",
    "keep_file",
    "require_free",
]
