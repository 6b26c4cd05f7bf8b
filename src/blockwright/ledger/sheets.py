"""Tables of the shelf as text for a spreadsheet (RFC 4180), written exactly and read patiently.

Seven tables, told apart by their first column. A reader takes commas, semicolons or tabs between the cells, a
byte order mark, columns in any order, and a decimal comma where cells are not parted by commas.
"""

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from blockwright.ledger import cells
from blockwright.ledger.cells import CellError, Kind
from blockwright.model.errors import InkError

_BANDS_NM = range(380, 731, 10)


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A table's file name, its columns in order, and the columns that together are one value.

    The first column is its mark: no other table has it, and no row may leave it empty.
    """

    file_name: str
    columns: Mapping[str, Kind]
    families: Mapping[str, tuple[str, ...]]

    @property
    def mark(self) -> str:
        """The first column."""
        return next(iter(self.columns))


@dataclass(frozen=True, slots=True)
class Row:
    """The values of a line by column, or by family: None for an empty cell, and nothing for no column."""

    line: int
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file that was read: its name, which table it is, and its rows."""

    file_name: str
    table: Table
    rows: tuple[Row, ...]

    def refusal(self, row: Row, column: str, told: str) -> InkError:
        """The sentence for a row that cannot be taken."""
        return InkError(f"{self.file_name}, line {row.line}, column {column}: {told}")


def _bands(letter: str, kind: Kind) -> dict[str, Kind]:
    return {f"{letter}_{nm}": kind for nm in _BANDS_NM}


def _table(file_name: str, columns: dict[str, Kind], **families: str) -> Table:
    """``families`` tells for a value what its columns' names begin with."""
    members = {
        value: tuple(name for name in columns if name.startswith(start)) for value, start in families.items()
    }
    return Table(file_name, columns, members)


_OPTICS = {
    **_bands("k", cells.NOT_NEGATIVE),
    **_bands("s", cells.NOT_NEGATIVE),
    "log_spread": cells.SPREAD,
}

PIGMENTS = _table(
    "pigments.csv",
    {
        "pigment": cells.NAME,
        "colour_index": cells.TEXT,
        "origin": cells.ORIGIN,
        "source": cells.TEXT,
        "lightfastness": cells.FASTNESS,
        "hazard": cells.TEXT,
        "density_g_per_ml": cells.POSITIVE,
        "transfer": cells.FACTORS,
        "on_shelf": cells.YES,
        "retired": cells.YES,
        "notes": cells.TEXT,
        **_OPTICS,
    },
    k="k_",
    s="s_",
)

INKS = _table(
    "inks.csv",
    {
        "ink": cells.NAME,
        "number": cells.WHOLE,
        "parts": cells.PARTS,
        "paste_share": cells.PASTE,
        "known_by": cells.KNOWN,
        "origin": cells.ORIGIN,
        "pot_g": cells.GRAMS,
        "density_g_per_ml": cells.POSITIVE,
        "transfer": cells.FACTORS,
        "made_on": cells.DAY,
        "place": cells.TEXT,
        "retired": cells.YES,
        "notes": cells.TEXT,
        **_OPTICS,
    },
    k="k_",
    s="s_",
)

SWATCHES = _table(
    "swatches.csv",
    {
        "swatch_of": cells.OF,
        "passes": cells.WHOLE,
        "ground": cells.NAME,
        "origin": cells.ORIGIN,
        "made_on": cells.DAY,
        "file_name": cells.TEXT,
        "file_sha256": cells.NAME,
        "notes": cells.TEXT,
        "lab_l": cells.ANY_NUMBER,
        "lab_a": cells.ANY_NUMBER,
        "lab_b": cells.ANY_NUMBER,
        **_bands("r", cells.REFLECTANCE),
        **_bands("ground", cells.REFLECTANCE),
    },
    lab="lab_",
    reflectance="r_",
    ground_reflectance="ground_",
)

WEIGHINGS = _table("weighings.csv", {"weighed_ink": cells.WHOLE, "weight_g": cells.GRAMS, "at": cells.TIME})

USES = _table(
    "uses.csv",
    {
        "used_ink": cells.WHOLE,
        "folder": cells.TEXT,
        "title": cells.TEXT,
        "impression": cells.NAME,
        "at": cells.TIME,
    },
)

BITS = _table(
    "bits.csv",
    {
        "bit": cells.NAME,
        "bit_number": cells.WHOLE,
        "kind": cells.BIT_KIND,
        "diameter_mm": cells.POSITIVE,
        "flutes": cells.WHOLE,
        "cutting_mm": cells.POSITIVE,
        "angle_deg": cells.NOT_NEGATIVE,
        "tip_mm": cells.NOT_NEGATIVE,
        "shank_mm": cells.POSITIVE,
        "retired": cells.YES,
        "notes": cells.TEXT,
    },
)

MACHINES = _table(
    "machines.csv",
    {
        "machine": cells.NAME,
        **{f"travel_{axis}_mm": cells.POSITIVE for axis in "xyz"},
        "feed_mm_min": cells.POSITIVE,
        "plunge_mm_min": cells.POSITIVE,
        "rapid_mm_min": cells.POSITIVE,
        "acceleration_mm_s2": cells.POSITIVE,
        "rpm_least": cells.POSITIVE,
        "rpm_most": cells.POSITIVE,
        "arcs": cells.YES,
        "tool_change": cells.YES,
        "safe_mm": cells.POSITIVE,
        "junction_mm": cells.POSITIVE,
        "change_s": cells.NOT_NEGATIVE,
        "begin": cells.TEXT,
        "end": cells.TEXT,
        "retired": cells.YES,
        "notes": cells.TEXT,
    },
    reach_mm="travel_",
    rpm="rpm_",
)

TABLES = (PIGMENTS, INKS, SWATCHES, WEIGHINGS, USES, BITS, MACHINES)
"""In the order in which they can be taken in: what is named stands before what names it."""


def write_sheet(table: Table, rows: Sequence[Mapping[str, Any]]) -> str:
    """A table as text; each row has its values by column, or by family. What is None is an empty cell.

    >>> write_sheet(WEIGHINGS, [{"weighed_ink": 3, "weight_g": 41.5, "at": None}])
    'weighed_ink,weight_g,at\\r\\n3,41.5,\\r\\n'
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.columns)
    for row in rows:
        flat = dict(row)
        for value, members in table.families.items():
            numbers = flat.pop(value)
            flat |= dict(zip(members, numbers or [None] * len(members), strict=True))
        writer.writerow(
            "" if flat[name] is None else kind.write(flat[name]) for name, kind in table.columns.items()
        )
    return out.getvalue()


def read_sheet(file_name: str, content: bytes) -> Sheet:
    """Read a file that a spreadsheet wrote. Raises InkError that names line and column."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InkError(f"{file_name} is no text in UTF-8; save it as CSV in UTF-8.") from None
    first = text.lstrip("\r\n").partition("\n")[0]
    parted = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parted, strict=True)
    lines = _lines(file_name, reader)
    _, head = next(lines, (1, []))
    names = [name.strip().casefold() for name in head]
    table = _table_of(file_name, names)
    rows = tuple(
        Row(line, _values(file_name, line, table, names, texts, comma=parted != ",")) for line, texts in lines
    )
    return Sheet(file_name, table, rows)


def _lines(file_name: str, reader: Any) -> Iterator[tuple[int, list[str]]]:
    """The lines that are not empty, each with the number at which it begins."""
    begins = 1
    while True:
        try:
            texts = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            message = f"{file_name}, line {begins}: the cells cannot be told apart ({error}); save it as CSV."
            raise InkError(message) from None
        if any(text.strip() for text in texts):
            yield begins, texts
        begins = reader.line_num + 1


def _table_of(file_name: str, names: Sequence[str]) -> Table:
    found = [table for table in TABLES if table.mark in names]
    if len(found) != 1:
        marks = ", ".join(table.mark for table in TABLES)
        raise InkError(
            f"{file_name}, line 1: exactly one of these columns says what the table is of: {marks}."
        )
    table = found[0]
    for place, name in enumerate(names):
        if name and name not in table.columns:
            short = [each for each in table.columns if not each[-3:].isdigit()]
            wanted = (
                f"it has {', '.join(short)}, and bands such as k_380"
                if len(short) < len(table.columns)
                else (f"it has {', '.join(short)}")
            )
            raise InkError(
                f"{file_name}, line 1, column {name}: {table.file_name} has no such column; {wanted}."
            )
        if name and name in names[:place]:
            raise InkError(f"{file_name}, line 1, column {name}: it stands there twice; leave one out.")
    return table


def _values(
    file_name: str, line: int, table: Table, names: Sequence[str], texts: Sequence[str], *, comma: bool
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for place, text in enumerate(texts):
        name = names[place] if place < len(names) else ""
        if not name:
            if text.strip():
                raise InkError(f"{file_name}, line {line}: cell {place + 1} ({text.strip()}) has no column.")
            continue
        values[name] = _value(
            f"{file_name}, line {line}, column {name}", table.columns[name], text, comma=comma
        )
    for name in names[len(texts) :]:
        if name:
            values[name] = None
    if values[table.mark] is None:
        raise InkError(f"{file_name}, line {line}, column {table.mark}: it is empty; every line needs it.")
    for value, members in table.families.items():
        given = {name: values.pop(name) for name in members if name in values}
        if given:
            missing = [name for name in members if given.get(name) is None]
            if missing and len(missing) < len(members):
                where = f"{file_name}, line {line}, column {missing[0]}"
                raise InkError(f"{where}: it is empty; give all of {members[0]} to {members[-1]}, or none.")
            values[value] = None if missing else tuple(given[name] for name in members)
    return values


def _value(where: str, kind: Kind, text: str, *, comma: bool) -> Any:
    if kind is cells.TEXT:
        return text or None
    plain = text.strip()
    if not plain:
        return None
    try:
        return kind.read(plain.replace(",", ".") if kind.numeric and comma else plain)
    except CellError as error:
        shown = plain if len(plain) <= 40 else plain[:37] + "..."
        raise InkError(f"{where}: {shown} cannot be; it is {error}.") from None
