"""The cells of a table as text: how each kind of value is written, read, and refused."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from blockwright.ledger.router_values import BIT_KINDS
from blockwright.ledger.values import (
    BAND_COUNT,
    HEAVIEST_POT_G,
    HIGHEST_NUMBER,
    KNOWN_BY,
    LIGHTFASTNESS,
    ORIGINS,
)
from blockwright.model.inks import Part

Write = Callable[[Any], str]
Read = Callable[[str], Any]


class CellError(ValueError):
    """What is allowed in a cell, as the end of a sentence."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of cell. ``read`` raises CellError; ``numeric`` cells may have a decimal comma."""

    write: Write
    read: Read
    numeric: bool = False


def _number_in(least: float, most: float, wanted: str, *, open_below: bool = False) -> Read:
    def read(text: str) -> float:
        try:
            number = float(text)
        except ValueError:
            raise CellError(wanted) from None
        above = number > least if open_below else number >= least
        if not (math.isfinite(number) and above and number <= most):
            raise CellError(wanted)
        return number

    return read


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text[:12]) <= HIGHEST_NUMBER):
        raise CellError("a whole number from 1")
    return int(text)


def _one_of(allowed: tuple[str, ...], wanted: str) -> Read:
    def read(text: str) -> str:
        if text not in allowed:
            raise CellError(wanted)
        return text

    return read


def _yes(text: str) -> bool:
    known = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
    try:
        return known[text.casefold()]
    except KeyError:
        raise CellError("yes or no") from None


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise CellError("a date such as 2026-11-27") from None


def _time(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            raise CellError("a time with its zone, such as 2026-11-27T14:05:00+00:00")
        return at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise CellError("a time with its zone, such as 2026-11-27T14:05:00+00:00") from None


def _numbers(text: str) -> tuple[float, ...]:
    read = _number_in(-math.inf, math.inf, "numbers with a space between them")
    return tuple(read(each) for each in text.split())


def _factors(text: str) -> tuple[float, ...]:
    found = _numbers(text)
    if not all(factor > 0.0 for factor in found):
        raise CellError("numbers above 0 with a space between them")
    return found


def _spread(text: str) -> tuple[tuple[tuple[float, ...], ...], tuple[tuple[float, ...], ...]]:
    """Directions with a bar between them; each is the 36 numbers for log K, then the 36 for log S."""
    rows = [_numbers(each) for each in text.split("|")] if text else []
    if any(len(row) != 2 * BAND_COUNT for row in rows):
        raise CellError(f"rows of {2 * BAND_COUNT} numbers with a bar between them")
    return tuple(row[:BAND_COUNT] for row in rows), tuple(row[BAND_COUNT:] for row in rows)


def _write_spread(spread: tuple[tuple[tuple[float, ...], ...], tuple[tuple[float, ...], ...]]) -> str:
    return " | ".join(_write_numbers((*k, *s)) for k, s in zip(*spread, strict=True))


def _write_numbers(numbers: tuple[float, ...]) -> str:
    return " ".join(repr(float(each)) for each in numbers)


def _parts(text: str) -> tuple[Part, ...]:
    wanted = "shares with their pigments, such as 0.25 rose; 0.15 blue"
    share = _number_in(0.0, 1.0, f"{wanted}, each share above 0 and at most 1", open_below=True)
    found = []
    for part in text.split(";"):
        number, _, name = part.strip().partition(" ")
        if not name.strip():
            raise CellError(wanted)
        found.append(Part(name.strip(), share(number.replace(",", "."))))
    return tuple(found)


def _write_parts(parts: tuple[Part, ...]) -> str:
    return "; ".join(f"{part.share!r} {part.pigment}" for part in parts)


def _of(text: str) -> str | int:
    return _whole(text) if text.isdigit() else text


def _write_time(at: datetime) -> str:
    return at.astimezone(UTC).isoformat()


def _number(number: float) -> str:
    return repr(float(number))


TEXT = Kind(str, str)
NAME = Kind(str, lambda text: text)
OF = Kind(str, _of)
WHOLE = Kind(str, _whole)
ORIGIN = Kind(str, _one_of(ORIGINS, "one of " + ", ".join(ORIGINS)))
KNOWN = Kind(str, _one_of(KNOWN_BY, " or ".join(KNOWN_BY)))
FASTNESS = Kind(str, _one_of(LIGHTFASTNESS, "ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8"))
BIT_KIND = Kind(str, _one_of(BIT_KINDS, "one of " + ", ".join(BIT_KINDS)))
POSITIVE = Kind(_number, _number_in(0.0, math.inf, "a number above 0", open_below=True), numeric=True)
NOT_NEGATIVE = Kind(_number, _number_in(0.0, math.inf, "a number, 0 or more"), numeric=True)
ANY_NUMBER = Kind(_number, _number_in(-math.inf, math.inf, "a number"), numeric=True)
GRAMS = Kind(_number, _number_in(0.0, HEAVIEST_POT_G, f"grams, 0 to {HEAVIEST_POT_G:.0f}"), numeric=True)
PASTE = Kind(_number, _number_in(0.0, 1.0, "a share of the ink, 0 to below 1"), numeric=True)
REFLECTANCE = Kind(_number, _number_in(0.0, 1.0, "a reflectance, 0 to 1"), numeric=True)
FACTORS = Kind(_write_numbers, _factors, numeric=True)
SPREAD = Kind(_write_spread, _spread, numeric=True)
YES = Kind(lambda each: "yes" if each else "no", _yes)
DAY = Kind(str, _day)
TIME = Kind(_write_time, _time)
PARTS = Kind(_write_parts, _parts)
