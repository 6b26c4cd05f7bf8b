"""Swatches in the database: added, never changed."""

from collections.abc import Mapping
from dataclasses import replace

from sqlalchemy import func, insert, select
from sqlalchemy.engine import Connection, RowMapping

from blockwright.ledger.mixed_inks import ink_numbered
from blockwright.ledger.pigments import pigment_id, pigment_ids
from blockwright.ledger.refusals import damaged
from blockwright.ledger.schema import swatches
from blockwright.ledger.values import (
    bands_read,
    check_swatch,
    database_name,
    day_kept,
    day_read,
    origin_read,
)
from blockwright.model.inks import Bands
from blockwright.model.shelf import Swatch


def add_swatch(connection: Connection, swatch: Swatch) -> Swatch:
    """Keep a swatch and give it as it is kept, with a number. Raises InkError when it is impossible."""
    check_swatch(swatch)
    pigment = ink = None
    if isinstance(swatch.of, int):
        ink = ink_numbered(connection, swatch.of).number
    else:
        pigment = pigment_id(connection, swatch.of)
    highest = connection.execute(select(func.coalesce(func.max(swatches.c.number), 0))).scalar_one()
    kept = replace(swatch, number=highest + 1)
    connection.execute(
        insert(swatches).values(
            number=kept.number,
            pigment_id=pigment,
            ink=ink,
            passes=swatch.passes,
            ground=swatch.ground,
            ground_reflectance=_listed(swatch.ground_reflectance),
            reflectance=_listed(swatch.reflectance),
            lab=_listed(swatch.lab),
            origin=swatch.origin,
            made_on=day_kept(swatch.made_on),
            file_name=swatch.file_name,
            file_sha256=swatch.file_sha256,
            notes=swatch.notes,
        )
    )
    return kept


def all_swatches(connection: Connection, of: str | int | None = None) -> tuple[Swatch, ...]:
    """The swatches of a pigment (by name) or a mixed ink (by number), or all, by number."""
    names = {number: name for name, number in pigment_ids(connection).items()}
    database = database_name(connection)
    rows = connection.execute(select(swatches).order_by(swatches.c.number)).mappings()
    found = (_read(row, names, database) for row in rows)
    return tuple(each for each in found if of is None or each.of == of)


def _listed(bands: Bands | None) -> list[float] | None:
    return None if bands is None else list(bands)


def _read(row: RowMapping, names: Mapping[int, str], database: str) -> Swatch:
    what = f"swatch {row['number']}"
    lab = bands_read(row["lab"], what, database)
    of = row["ink"] if row["ink"] is not None else names.get(row["pigment_id"])
    if of is None or (lab is not None and len(lab) != 3):
        raise damaged(database, what)
    return Swatch(
        of=of,
        passes=row["passes"],
        ground=row["ground"],
        origin=origin_read(row["origin"], what, database),
        reflectance=bands_read(row["reflectance"], what, database),
        lab=None if lab is None else (lab[0], lab[1], lab[2]),
        ground_reflectance=bands_read(row["ground_reflectance"], what, database),
        made_on=day_read(row["made_on"]),
        file_name=row["file_name"],
        file_sha256=row["file_sha256"],
        notes=row["notes"],
        number=row["number"],
    )
