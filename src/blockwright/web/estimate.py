"""How far a job is and how long it still takes, told from what earlier jobs took and from nothing else."""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from blockwright.folder import as_json
from blockwright.project import STAGES

TRACING, SKETCH = "tracing", "sketch"
"""Tracing the picture, which few edits need anew, and the quick first look: they come before the stages."""

_PARTS = (TRACING, SKETCH, *STAGES)
_FILE = ".seconds.json"

_MOST_BYTES = 10_000
"""Such a file has some 200 bytes."""

_MOST_RATIO = 4.0
"""Pictures whose pixels differ more in number say nothing of each other: one of 0.02 megapixels takes a
second to trace and one of 12 takes ten (measured), not six hundred."""

_MOST_PERCENT = 99
"""A job that is still running is not done."""


@dataclass(frozen=True)
class Seconds:
    """What each part of a job took when it was last made, and the megapixels of the picture (None: unknown).

    >>> half = Seconds({"tracing": 8.0, "blocks": 2.0}, megapixels=24.0).scaled(12.0)
    >>> half.of["tracing"], half.of["blocks"]
    (4.0, 2.0)
    """

    of: Mapping[str, float] = field(default_factory=dict)
    megapixels: float | None = None

    def scaled(self, megapixels: float | None) -> "Seconds":
        """For a picture of another size: only tracing goes with the pixels, all else with the shapes.

        Nothing is known when either size is unknown, or when they are too far apart to tell anything.
        """
        if not self.megapixels or not megapixels:
            return Seconds({}, megapixels)
        ratio = megapixels / self.megapixels
        if not 1 / _MOST_RATIO <= ratio <= _MOST_RATIO:
            return Seconds({}, megapixels)
        scaled = {part: s * ratio if part == TRACING else s for part, s in self.of.items()}
        return Seconds(scaled, megapixels)

    def updated(self, of: Mapping[str, float], megapixels: float | None) -> "Seconds":
        """With the parts that were made now in the place of the earlier ones."""
        return Seconds({**self.of, **of}, megapixels or self.megapixels)


def read_seconds(folder: Path) -> Seconds:
    """What a print's folder remembers; nothing when there is no such file or it cannot be understood."""
    try:
        with (folder / "out" / _FILE).open("rb") as file:
            told = json.loads(file.read(_MOST_BYTES))
        of = {part: float(told["seconds"][part]) for part in _PARTS if part in told["seconds"]}
        megapixels = None if told["megapixels"] is None else float(told["megapixels"])
    except (OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError):
        return Seconds()
    if not all(0 <= each < math.inf for each in (*of.values(), megapixels or 0)):
        return Seconds()
    return Seconds(of, megapixels)


def write_seconds(folder: Path, seconds: Seconds) -> None:
    """Remember it in the print's ``out/``; a folder that cannot be written is left as it is."""
    told = {
        "megapixels": seconds.megapixels,
        "seconds": {part: round(seconds.of[part], 3) for part in _PARTS if part in seconds.of},
    }
    # Under this name it is cleared away by the next run if this one is killed before it is in place.
    making = folder / "out" / f".making-{_FILE}"
    try:
        making.write_text(as_json(told), encoding="utf-8", newline="\n")
        making.replace(folder / "out" / _FILE)
    except OSError:
        return


class Progress:
    """How far one job is. Times are seconds of one clock that only goes forward; the caller reads it.

    A part's time runs until the next part begins: stages overlap, as documents are drawn while the next stage
    is computed, so that only these times add up to the whole.
    """

    def __init__(self, known: Seconds, *, now: float) -> None:
        self.known = known
        self.took: dict[str, float] = {}
        self.part: str | None = None
        self._ahead = list(_PARTS)
        self._start = self._part_began = now
        self._percent: int | None = None
        self._left: int | None = None

    def begins(self, part: str, *, now: float) -> None:
        """The work on a part begins; those before it that were not heard of are passed over."""
        self._close(now)
        if part in self._ahead:
            del self._ahead[: self._ahead.index(part) + 1]
        self.part = part

    def passes(self, part: str, *, now: float) -> None:
        """A part is there already and takes no time."""
        self._close(now)
        if part in self._ahead:
            del self._ahead[: self._ahead.index(part) + 1]

    def ends(self, *, now: float) -> None:
        """The last part is over."""
        self._close(now)
        self._ahead = []

    def _close(self, now: float) -> None:
        if self.part is not None:
            self.took[self.part] = now - self._part_began
        self.part = None
        self._part_began = now

    def estimate(self, *, now: float) -> tuple[int | None, int | None]:
        """Percent done and seconds left, whole numbers: never less done or more left than said before.

        None when the time of something that lies ahead is unknown.
        """
        left_s = self._left_s(now)
        if left_s is None:
            return self._percent, self._left
        gone_s = now - self._start
        percent = min(_MOST_PERCENT, int(100 * gone_s / (gone_s + left_s)) if gone_s + left_s > 0 else 0)
        self._percent = max(percent, self._percent or 0)
        left = max(1, math.ceil(left_s))
        self._left = left if self._left is None else min(left, self._left)
        return self._percent, self._left

    def _left_s(self, now: float) -> float | None:
        """Seconds that the parts ahead will take, and what is left of the present one."""
        known = self.known.of
        parts = [*self._ahead, *([self.part] if self.part else [])]
        if any(part not in known for part in parts):
            return None
        left_s = sum(known[part] for part in self._ahead)
        if self.part:
            left_s += max(0.0, known[self.part] - (now - self._part_began))
        return left_s


__all__ = ["SKETCH", "TRACING", "Progress", "Seconds", "read_seconds", "write_seconds"]
