"""The recipes of a print as tables: JSON for programs, CSV for a spreadsheet."""

import csv
import json
from collections.abc import Iterator, Mapping, Sequence
from io import StringIO
from pathlib import Path
from typing import Any

from blockwright.model.errors import FolderError
from blockwright.model.inks import PrintInk, PrintInks

HEAD = (
    "impression",
    "ink",
    "component",
    "mass_g",
    "volume_ml",
    "thinned_1_in",
    "batch_g",
    "known_from",
    "known_by",
    "shelf_number",
    "delta_e00",
    "uncertainty_delta_e00",
)
"""Columns of the CSV: one line for each component of each ink."""


def write_recipe_json(path: Path, inks: Sequence[Mapping[str, Any]]) -> None:
    """Write what is told of the inks as one JSON object. Raises FolderError when it cannot be written."""
    _write(path, json.dumps({"inks": list(inks)}, indent=1, ensure_ascii=False) + "\n")


def write_recipe_csv(path: Path, inks: PrintInks) -> None:
    """Write a line for each component of each ink (RFC 4180, UTF-8). Raises FolderError."""
    text = StringIO(newline="")
    table = csv.writer(text)
    table.writerow(HEAD)
    for ink in inks.inks:
        table.writerows(_lines(ink))
    _write(path, text.getvalue())


def _lines(ink: PrintInk) -> Iterator[Sequence[object]]:
    batch = ink.batch
    total = "" if batch is None else _figure(batch.needed_g)
    shelf = "" if ink.shelf_number is None else ink.shelf_number
    surely = (_figure(ink.delta_e00), _figure(ink.uncertainty_delta_e00))
    known = (total, ink.origin, ink.known_by or "", shelf, *surely)
    measures = () if batch is None else batch.measures
    for each in measures:
        own = (each.name, _figure(each.mass_g), _figure(each.volume_ml), each.thinned)
        yield (ink.impression, ink.name, *own, *known)
    if not measures:
        yield (ink.impression, ink.name, "", "", "", "", *known)


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem
