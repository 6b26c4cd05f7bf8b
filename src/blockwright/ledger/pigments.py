"""Pigments in the database. They are never taken out: recipes name them."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any

from sqlalchemy import func, insert, select, update
from sqlalchemy.engine import Connection, RowMapping

from blockwright.ledger.schema import pigments
from blockwright.ledger.values import (
    bands_read,
    check_pigment,
    database_name,
    optics_kept,
    optics_read,
    origin_read,
)
from blockwright.model.errors import InkError
from blockwright.model.inks import Pigment
from blockwright.model.shelf import ShelfPigment


def all_pigments(connection: Connection) -> tuple[ShelfPigment, ...]:
    """Every pigment, in the order of their names' characters, whatever the database sorts by."""
    database = database_name(connection)
    rows = connection.execute(select(pigments)).mappings()
    return tuple(sorted((_read(row, database) for row in rows), key=lambda each: each.pigment.name))


def pigment_named(connection: Connection, name: str) -> ShelfPigment:
    """One pigment by its name. Raises InkError that proposes names that are like it."""
    row = connection.execute(select(pigments).where(pigments.c.name == name)).mappings().first()
    if row is None:
        raise _unknown(connection, name)
    return _read(row, database_name(connection))


def pigment_ids(connection: Connection) -> Mapping[str, int]:
    """The database's own number of every pigment by name."""
    return {row.name: row.id for row in connection.execute(select(pigments.c.name, pigments.c.id))}


def pigment_id(connection: Connection, name: str) -> int:
    """The database's own number of a pigment. Raises InkError as :func:`pigment_named`."""
    found = connection.execute(select(pigments.c.id).where(pigments.c.name == name)).scalar()
    if found is None:
        raise _unknown(connection, name)
    return int(found)


def add_pigment(connection: Connection, kept: ShelfPigment) -> None:
    """Keep a new pigment. Raises InkError when it is impossible or its name is taken, in whatever case."""
    check_pigment(kept)
    name = kept.pigment.name
    for other in connection.execute(select(pigments.c.name)).scalars():
        if other.casefold() == name.casefold():
            raise InkError(f"A pigment {other} stands on the shelf already; give this one another name.")
    number = connection.execute(select(func.coalesce(func.max(pigments.c.id), 0))).scalar_one() + 1
    connection.execute(insert(pigments).values(id=number, name=name, **_columns(kept)))


def change_pigment(connection: Connection, kept: ShelfPigment) -> None:
    """Write all but the name of a pigment anew. Raises InkError when it is impossible or not there."""
    check_pigment(kept)
    number = pigment_id(connection, kept.pigment.name)
    connection.execute(update(pigments).where(pigments.c.id == number).values(**_columns(kept)))


def _unknown(connection: Connection, name: str) -> InkError:
    names = sorted(pigment_ids(connection))
    by_case = {each.casefold(): each for each in names}
    like = [by_case[each] for each in get_close_matches(name.casefold(), by_case, n=3, cutoff=0.5)]
    hint = f"perhaps {' or '.join(like)}" if like else "blockwright shelf list shows those there are"
    return InkError(f"No pigment on the shelf is called {name}; {hint}.")


def _columns(kept: ShelfPigment) -> dict[str, Any]:
    pigment = kept.pigment
    return {
        "colour_index": pigment.colour_index,
        "optics": optics_kept(pigment.optics),
        "origin": pigment.origin,
        "source": pigment.source,
        "lightfastness": pigment.lightfastness,
        "hazard": pigment.hazard,
        "density_g_per_ml": pigment.density_g_per_ml,
        "transfer": list(pigment.transfer),
        "on_shelf": kept.on_shelf,
        "notes": kept.notes,
        "retired": kept.retired,
    }


def _read(row: RowMapping, database: str) -> ShelfPigment:
    name = row["name"]
    pigment = Pigment(
        name=name,
        colour_index=row["colour_index"],
        optics=optics_read(row["optics"], name, database),
        origin=origin_read(row["origin"], name, database),
        source=row["source"],
        lightfastness=row["lightfastness"],
        hazard=row["hazard"],
        density_g_per_ml=row["density_g_per_ml"],
        transfer=bands_read(row["transfer"], f"the transfer of {name}", database) or (1.0,),
    )
    return ShelfPigment(pigment, on_shelf=row["on_shelf"], notes=row["notes"], retired=row["retired"])
