"""What lies in a print folder, at a glance: decisions, stages fresh or stale, findings, and what comes next.

A look reads notes and summaries only and starts nothing. It believes the notes; a run reads the files.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from blockwright.decisions import FILE_NAME, parse, read_text
from blockwright.folder import Kept, OutFolder, Step, Value, noted, quiet_say
from blockwright.hashing import file_hash
from blockwright.history import text_hash
from blockwright.ink_steps import inks_step
from blockwright.model.design import Design
from blockwright.model.errors import BlockwrightError, StudioError
from blockwright.model.findings import is_accepted
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import Settings
from blockwright.separation_steps import AREAS, PLANS, separation_sketch_step, separation_step
from blockwright.shelf import at_hand
from blockwright.steps import (
    PACKET,
    blocks_step,
    cutting_step,
    design_step,
    packet_step,
    proof_step,
    tracing_step,
)

StageState = Literal["fresh", "sketch", "stale", "missing"]
NextStep = Literal["shapes", "impressions", "inks", "blocks", "cutting", "proof", "packet", "done"]

STAGES = ("design", "separation", "inks", "blocks", "cutting", "proof")
"""The stages that a look tells of, in the order of the work."""

_NEXT: tuple[NextStep, ...] = ("shapes", "impressions", "inks", "blocks", "cutting", "proof")


@dataclass(frozen=True)
class StageLook:
    """One stage: ``fresh`` (as decided, and drawn), ``sketch`` (computed ahead), ``stale`` or ``missing``.

    ``version`` changes when the content does. ``told`` is its ``STAGE.json``, ``folder`` where it lies,
    ``value_hash`` the hash of its value; ``files`` are the names of the documents that may be served.
    """

    name: str
    state: StageState
    version: str = ""
    told: Mapping[str, Any] | None = None
    folder: Path | None = None
    value_hash: str = ""
    files: tuple[str, ...] = ()


@dataclass(frozen=True)
class Look:
    """A print folder at a glance. ``wrong`` is one sentence when decisions, picture or shelf cannot be read.

    ``wrong_shelf`` tells that it is the shelf.
    """

    folder: Path
    settings: Settings | None
    wrong: str | None
    text_hash: str
    stages: Mapping[str, StageLook] = field(default_factory=dict)
    packet: Path | None = None
    packet_fresh: bool = False
    small_proofs: Path | None = None
    wrong_shelf: bool = False

    @property
    def title(self) -> str:
        """What the print is called, never empty."""
        return (self.settings.print.title if self.settings else "") or self.folder.name

    def stage(self, name: str) -> StageLook:
        """The stage of a name, one of STAGES."""
        return self.stages.get(name) or StageLook(name, "missing")

    @property
    def findings(self) -> tuple[tuple[str, dict[str, Any]], ...]:
        """Every finding of the stages that are as decided, with its stage, but for those left as they are."""
        return tuple(
            (name, dict(finding))
            for name in STAGES
            if self.stage(name).state in {"fresh", "sketch"}
            for finding in self.open_findings(name)
        )

    def open_findings(self, name: str) -> tuple[Mapping[str, Any], ...]:
        """The findings of a stage, as it was last made, without those that are left as they are."""
        return tuple(each for each in self._told_findings(name) if not self._is_accepted(each))

    def accepted_findings(self, name: str) -> tuple[Mapping[str, Any], ...]:
        """The findings of a stage that are left as they are."""
        return tuple(each for each in self._told_findings(name) if self._is_accepted(each))

    def _told_findings(self, name: str) -> tuple[Mapping[str, Any], ...]:
        return tuple((self.stage(name).told or {}).get("findings", ()))

    def _is_accepted(self, finding: Mapping[str, Any]) -> bool:
        accepted = self.settings.print.accept if self.settings else ()
        return is_accepted(finding["code"], finding["severity"], finding["at"], accepted)

    @property
    def next_step(self) -> NextStep:
        """The first thing that is not there yet as decided."""
        for name, step in zip(STAGES, _NEXT, strict=True):
            if self.stage(name).state in {"stale", "missing"}:
                return step
        return "done" if self.packet_fresh else "packet"


def look(folder: Path) -> Look:
    """Look at a print folder. Whatever is wrong with it is told in ``wrong``; nothing is raised for it."""
    try:
        text = read_text(folder)
    except (BlockwrightError, OSError) as error:
        return Look(folder, None, _sentence(error), "")
    known_as = text_hash(text.encode())
    try:
        settings = parse(text)
    except BlockwrightError as error:
        return Look(folder, None, _sentence(error), known_as)
    out, ahead = OutFolder(folder, quiet_say), OutFolder(folder, quiet_say, sketches=True)
    current: dict[str, Kept[Any]] = {}
    wrong, wrong_shelf = None, False
    try:
        _follow(folder / settings.print.picture, settings, out, ahead, current)
    except StudioError as error:
        wrong, wrong_shelf = _sentence(error), True
    except (BlockwrightError, OSError) as error:
        wrong = f"{FILE_NAME}: the picture {settings.print.picture!r} cannot be read ({_sentence(error)})"
    drawn = {name for name, kept in current.items() if kept.folder.parent == out.path}
    stages = {name: _stage(name, current.get(name), name in drawn, out) for name in STAGES}
    packet = out.path / PACKET
    fresh = drawn >= set(STAGES) and _packet_fresh(out, [current[name] for name in STAGES], settings)
    proof = stages["proof"]
    small = ahead.path / "proof"
    return Look(
        folder=folder,
        settings=settings,
        wrong=wrong,
        text_hash=known_as,
        stages=stages,
        packet=packet if packet.is_file() else None,
        packet_fresh=fresh,
        small_proofs=small if proof.state != "missing" and (small / "small-00.jpg").is_file() else None,
        wrong_shelf=wrong_shelf,
    )


def _sentence(error: Exception) -> str:
    return " ".join(str(error).split())


class _Finder:
    """Finds the stages that are as decided, as drawn or as computed ahead, and writes them down."""

    def __init__(self, out: OutFolder, ahead: OutFolder, current: dict[str, Kept[Any]]) -> None:
        self._folders = out, ahead
        self.current = current

    def take(self, step: Step[Value]) -> Kept[Value] | None:
        """The stage, drawn or ahead; None when it is not there."""
        kept = next((found for folder in self._folders if (found := folder.glance(step))), None)
        if kept is not None and step.name in STAGES:
            self.current[step.name] = kept
        return kept

    def follow(self, design: Kept[Design], wanted: Step[Separation], settings: Settings) -> None:
        """The impressions and all that comes after them, each from those before it."""
        separation = self.take(wanted)
        if separation is None:
            return
        inks = self.take(inks_step(design, separation, at_hand(), settings))
        if inks is not None:
            self.take(proof_step(design, separation, inks, settings))
        blocks = self.take(blocks_step(design, separation, settings))
        if blocks is not None:
            self.take(cutting_step(blocks, separation, settings))


def _follow(
    picture: Path, settings: Settings, out: OutFolder, ahead: OutFolder, current: dict[str, Kept[Any]]
) -> None:
    """Find the stages that are as decided, until one is not there."""
    if not picture.is_file():
        raise FileNotFoundError("it is not in the folder")
    known = _picture_hash(picture, _stamp(picture))
    finder = _Finder(out, ahead, current)
    tracing = finder.take(tracing_step(picture, settings, picture_hash=known))
    if tracing is None or (design := finder.take(design_step(tracing, settings))) is None:
        return
    # A shelf that cannot be read is in the way of what rests on it only.
    searched = settings.separation.blocks == "fewest"
    shelf = at_hand() if searched else Shelf()
    finder.follow(design, separation_step(design, shelf, settings), settings)
    if searched and len(current) < len(STAGES):
        # What was sketched is shown until the run, which may find other overprints, is through.
        sketch = _Finder(out, ahead, {"design": current["design"]})
        sketch.follow(design, separation_sketch_step(design, shelf, settings, ()), settings)
        if len(sketch.current) > len(current):
            current.clear()
            current.update(sketch.current)


def _stage(name: str, kept: Kept[Any] | None, drawn: bool, out: OutFolder) -> StageLook:
    if kept is None:
        folder = out.path / name
        told = _told(folder / f"{name}.json", _stamp(folder / f"{name}.json"))
        if told is None:
            return StageLook(name, "missing")
        return StageLook(name, "stale", str(told.get("key", ""))[:16], told, folder)
    path = kept.folder / f"{name}.json"
    told = _told(path, _stamp(path))
    own = {f"{name}.json", "value.json", PLANS, AREAS}
    files = tuple(sorted(file for file in noted(kept.folder) if file not in own))
    return StageLook(
        name,
        "fresh" if drawn else "sketch",
        kept.key[:16],
        told,
        kept.folder,
        kept.value_hash,
        files if drawn else (),
    )


def _packet_fresh(out: OutFolder, stages: list[Kept[Any]], settings: Settings) -> bool:
    note = out.path / f".{PACKET}.json"
    try:
        key = json.loads(note.read_text(encoding="utf-8"))["key"]
    except (OSError, ValueError, KeyError, TypeError):
        return False
    return bool(key == packet_step(stages, settings).key) and (out.path / PACKET).is_file()


def _stamp(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return (0, 0)
    return (found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=8)
def _picture_hash(path: Path, stamp: tuple[int, int]) -> str:
    """The hash of a picture's file, read again when the file has changed."""
    del stamp
    return file_hash(path)


@lru_cache(maxsize=64)
def _told(path: Path, stamp: tuple[int, int]) -> Mapping[str, Any] | None:
    """A stage's summary, read again when the file has changed."""
    if stamp == (0, 0):
        return None
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) and isinstance(told.get("findings"), list) else None


__all__ = ["STAGES", "Look", "NextStep", "StageLook", "StageState", "look"]
