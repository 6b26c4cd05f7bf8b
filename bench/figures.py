"""Measured figures as rows with a target and something to compare with, and as Markdown tables."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True, slots=True)
class Row:
    """One figure. ``met`` is None where there is no target; ``beside`` is the rival or the bound."""

    what: str
    measured: str = ""
    target: str = ""
    met: bool | None = None
    beside: str = ""
    ratio: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A titled table with sentences before it; ``tables`` are further tables below it."""

    name: str
    title: str
    lead: tuple[str, ...]
    rows: tuple[Row, ...]
    tables: tuple[str, ...] = ()


def at_most(what: str, value: float, *, most: float, unit: str, digits: int = 2, **more: str) -> Row:
    """A row whose value must not exceed a target; the ratio is the part of the target that was used."""
    return Row(
        what,
        f"{value:.{digits}f} {unit}",
        f"{most:g} {unit} or less",
        value <= most,
        more.get("beside", "the target"),
        more.get("ratio", f"{100.0 * value / most:.0f} % of it"),
    )


def spread(times_s: Sequence[float]) -> str:
    """The least and the greatest of repeated times."""
    return f"{min(times_s):.2f} to {max(times_s):.2f} s in {len(times_s)} runs, middle {median(times_s):.2f}"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table whose columns line up in plain text, too.

    >>> print(table(["step", "s"], [["trace", "1.20"]]))
    | step  | s    |
    | ----- | ---- |
    | trace | 1.20 |
    """
    cells = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    lines = ["| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |" for row in cells]
    lines.insert(1, "| " + " | ".join("-" * w for w in widths) + " |")
    return "\n".join(lines)


def rows_table(rows: Iterable[Row]) -> str:
    """The rows of a section; a missed target says so."""
    words = {True: "met", False: "MISSED", None: ""}
    return table(
        ["what", "measured", "target", "", "beside", "ratio"],
        [[r.what, r.measured, r.target, words[r.met], r.beside, r.ratio] for r in rows],
    )


def verdict(sections: Iterable[Section]) -> str:
    """Whether every target was met; those that were missed, a line each."""
    rows = [row for section in sections for row in section.rows if row.met is not None]
    missed = [row for row in rows if not row.met]
    if not missed:
        return f"All {len(rows)} targets are met." if rows else "Nothing here has a target."
    told = [f"- {row.what}: {row.measured}, wanted {row.target}" for row in missed]
    return "\n".join([f"{len(missed)} of {len(rows)} targets are MISSED:", "", *told])
