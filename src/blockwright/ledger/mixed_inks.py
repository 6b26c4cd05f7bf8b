"""Mixed inks in the database, with their recipes, the weighings of their pots, and their uses."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Select, func, insert, select, update
from sqlalchemy.engine import Connection, RowMapping

from blockwright.ledger.pigments import pigment_id
from blockwright.ledger.schema import mixed_ink_parts, mixed_inks, pigments, uses, weighings
from blockwright.ledger.values import (
    HIGHEST_NUMBER,
    bands_read,
    check_ink,
    check_weight,
    database_name,
    day_kept,
    day_read,
    known_by_read,
    optics_kept,
    optics_read,
    origin_read,
    usually_known_by,
)
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Part
from blockwright.model.shelf import Use, Weighing


def all_inks(connection: Connection) -> tuple[MixedInk, ...]:
    """Every mixed ink, by number; each with what its pot held at the last weighing."""
    return tuple(_inks(connection, None))


def ink_numbered(connection: Connection, number: int) -> MixedInk:
    """One mixed ink by its number. Raises InkError when there is none."""
    found = tuple(_inks(connection, number)) if 0 < number <= HIGHEST_NUMBER else ()
    if not found:
        raise InkError(f"No mixed ink has the number {number}; blockwright shelf list shows those there are.")
    return found[0]


def add_ink(connection: Connection, ink: MixedInk, *, at: datetime, keep_number: bool = False) -> MixedInk:
    """Keep a new mixed ink and give it as it is kept, with a number that was never used.

    ``keep_number`` keeps the number that it has instead. ``pot_g``, if known, is its first weighing, at the
    time ``at`` (UTC). Raises InkError when it is impossible, names a pigment that is not there, or was used
    in a print already: uses are noted one by one.
    """
    check_ink(ink)
    if ink.used_in:
        raise InkError(f"{ink.name} is new, so that it was used in no print yet.")
    highest = connection.execute(select(func.coalesce(func.max(mixed_inks.c.number), 0))).scalar_one()
    number = ink.number if keep_number else highest + 1
    if not 0 < number <= HIGHEST_NUMBER:
        raise InkError(f"The number of {ink.name} is {number}; it is 1 to {HIGHEST_NUMBER}.")
    kept = replace(ink, number=number)
    connection.execute(insert(mixed_inks).values(number=number, **_columns(kept)))
    _write_parts(connection, kept)
    if ink.pot_g is not None:
        add_weighing(connection, Weighing(number, ink.pot_g, at))
    return kept


def change_ink(connection: Connection, ink: MixedInk) -> None:
    """Write a mixed ink anew, found by its number; pot and uses have their own records. Raises InkError."""
    check_ink(ink)
    before = ink_numbered(connection, ink.number)
    connection.execute(update(mixed_inks).where(mixed_inks.c.number == ink.number).values(**_columns(ink)))
    if before.parts != ink.parts:
        connection.execute(mixed_ink_parts.delete().where(mixed_ink_parts.c.ink == ink.number))
        _write_parts(connection, ink)


def add_weighing(connection: Connection, weighing: Weighing) -> None:
    """Note what a pot holds; earlier weighings stay. Raises InkError when the ink or weight cannot be."""
    check_weight(weighing.weight_g, ink_numbered(connection, weighing.ink).name)
    connection.execute(
        insert(weighings).values(
            id=_next(connection, weighings.c.id),
            ink=weighing.ink,
            weight_g=weighing.weight_g,
            at=weighing.at,
        )
    )


def all_weighings(connection: Connection, ink: int | None = None) -> tuple[Weighing, ...]:
    """The weighings of one mixed ink, or of all, the earliest first."""
    rows = connection.execute(_of(select(weighings), weighings.c.ink, ink))
    ordered = sorted(rows, key=lambda row: (row.at, row.id))
    return tuple(Weighing(row.ink, row.weight_g, row.at) for row in ordered)


def add_use(connection: Connection, use: Use) -> None:
    """Note that an ink printed an impression. Raises InkError when the ink is not there or a name is bad."""
    ink_numbered(connection, use.ink)
    if not use.title.strip() or not use.impression.strip():
        raise InkError("Say which print and which impression of it used the ink.")
    connection.execute(
        insert(uses).values(
            id=_next(connection, uses.c.id),
            ink=use.ink,
            folder=use.folder,
            title=use.title,
            impression=use.impression,
            at=use.at,
        )
    )


def all_uses(connection: Connection, ink: int | None = None) -> tuple[Use, ...]:
    """Where one mixed ink was used, or all were, the earliest first."""
    rows = connection.execute(_of(select(uses), uses.c.ink, ink))
    ordered = sorted(rows, key=lambda row: (row.at, row.id))
    return tuple(Use(row.ink, row.folder, row.title, row.impression, row.at) for row in ordered)


def _of(question: Select[Any], column: ColumnElement[int], ink: int | None) -> Select[Any]:
    return question if ink is None else question.where(column == ink)


def _next(connection: Connection, column: ColumnElement[int]) -> int:
    return int(connection.execute(select(func.coalesce(func.max(column), 0))).scalar_one()) + 1


def _inks(connection: Connection, number: int | None) -> Iterator[MixedInk]:
    database = database_name(connection)
    parts = _parts(connection, number)
    pots = {each.ink: each.weight_g for each in all_weighings(connection, number)}
    used: dict[int, dict[str, None]] = defaultdict(dict)
    for use in all_uses(connection, number):
        used[use.ink][f"{use.title}: {use.impression}"] = None
    columns = [each for each in mixed_inks.c if each.name not in _lacking(connection)]
    question = _of(select(*columns), mixed_inks.c.number, number).order_by(mixed_inks.c.number)
    for row in connection.execute(question).mappings():
        own = row["number"]
        yield _read(row, parts[own], pots.get(own), used[own], database)


def _lacking(connection: Connection) -> tuple[str, ...]:
    """Columns that an older database, which is only looked at, does not have."""
    return ("known_by",) if connection.get_execution_options().get("revision") == "0001" else ()


def _parts(connection: Connection, number: int | None) -> dict[int, tuple[Part, ...]]:
    question = select(mixed_ink_parts, pigments.c.name).join(
        pigments, pigments.c.id == mixed_ink_parts.c.pigment_id
    )
    ordered = _of(question, mixed_ink_parts.c.ink, number).order_by(mixed_ink_parts.c.position)
    found: dict[int, tuple[Part, ...]] = defaultdict(tuple)
    for row in connection.execute(ordered):
        found[row.ink] += (Part(row.name, row.share),)
    return found


def _write_parts(connection: Connection, ink: MixedInk) -> None:
    for position, part in enumerate(ink.parts):
        connection.execute(
            insert(mixed_ink_parts).values(
                ink=ink.number,
                position=position,
                pigment_id=pigment_id(connection, part.pigment),
                share=part.share,
            )
        )


def _columns(ink: MixedInk) -> dict[str, Any]:
    return {
        "name": ink.name,
        "paste_share": ink.paste_share,
        "optics": optics_kept(ink.optics),
        "origin": ink.origin,
        "density_g_per_ml": ink.density_g_per_ml,
        "transfer": list(ink.transfer),
        "made_on": day_kept(ink.made_on),
        "place": ink.place,
        "notes": ink.notes,
        "retired": ink.retired,
        "known_by": ink.known_by,
    }


def _read(
    row: RowMapping, parts: tuple[Part, ...], pot_g: float | None, used: Iterable[str], database: str
) -> MixedInk:
    name = row["name"]
    origin = origin_read(row["origin"], name, database)
    known_by = row.get("known_by")
    return MixedInk(
        number=row["number"],
        name=name,
        parts=parts,
        paste_share=row["paste_share"],
        optics=optics_read(row["optics"], name, database),
        origin=origin,
        pot_g=pot_g,
        density_g_per_ml=row["density_g_per_ml"],
        made_on=day_read(row["made_on"]),
        place=row["place"],
        notes=row["notes"],
        used_in=tuple(used),
        retired=row["retired"],
        transfer=bands_read(row["transfer"], f"the transfer of {name}", database) or (1.0,),
        known_by=usually_known_by(parts, origin)
        if known_by is None
        else known_by_read(known_by, name, database),
    )
