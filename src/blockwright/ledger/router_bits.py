"""Router bits and machines in the database. They are never taken out: prints name them."""

from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import Any, cast

from sqlalchemy import Table, func, insert, select, update
from sqlalchemy.engine import Connection, RowMapping

from blockwright.ledger.refusals import damaged
from blockwright.ledger.router_values import BIT_KINDS, HIGHEST_BIT_NUMBER, check_bit, check_machine
from blockwright.ledger.schema import machines, router_bits
from blockwright.ledger.values import database_name
from blockwright.model.errors import BitError
from blockwright.model.router import Bit, BitKind, Machine
from blockwright.model.shelf import ShelfBit, ShelfMachine

_BEFORE = ("0001", "0002")
"""Revisions that know nothing of routers."""


def knows_routers(connection: Connection) -> bool:
    """Whether the database has the tables: an older one that is only looked at has not."""
    return connection.get_execution_options().get("revision") not in _BEFORE


def all_bits(connection: Connection) -> tuple[ShelfBit, ...]:
    """Every bit, by its number in the tool table, then by name."""
    if not knows_routers(connection):
        return ()
    database = database_name(connection)
    found = [_bit(row, database) for row in connection.execute(select(router_bits)).mappings()]
    return tuple(sorted(found, key=lambda each: (each.bit.number, each.bit.name)))


def all_machines(connection: Connection) -> tuple[ShelfMachine, ...]:
    """Every machine, in the order of their names' characters."""
    if not knows_routers(connection):
        return ()
    found = [_machine(row) for row in connection.execute(select(machines)).mappings()]
    return tuple(sorted(found, key=lambda each: each.machine.name))


def bit_named(connection: Connection, name: str) -> ShelfBit:
    """One bit by its name, whatever its capitals. Raises BitError that proposes names that are like it."""
    kept = all_bits(connection)
    names = [each.bit.name for each in kept]
    return kept[_place(name, names, "bit")]


def machine_named(connection: Connection, name: str) -> ShelfMachine:
    """One machine by its name, whatever its capitals. Raises BitError as :func:`bit_named`."""
    kept = all_machines(connection)
    names = [each.machine.name for each in kept]
    return kept[_place(name, names, "machine")]


def add_bit(connection: Connection, kept: ShelfBit, *, check_number: bool = True) -> ShelfBit:
    """Keep a new bit and give it as it is kept; with the number 0 it gets the next free one.

    Raises BitError when it is impossible, or its name or its number is taken; whoever writes several at once
    leaves numbers unchecked until the last is written.
    """
    others = all_bits(connection)
    _check_new(kept.bit.name, [each.bit.name for each in others], "bit")
    if kept.bit.number == 0:
        kept = replace(kept, bit=replace(kept.bit, number=_next_number(others)))
    check_bit(kept)
    if check_number:
        _check_number(kept, others)
    _add(connection, router_bits, kept.bit.name, _bit_columns(kept))
    return kept


def change_bit(connection: Connection, kept: ShelfBit, *, check_number: bool = True) -> None:
    """Write all but the name of a bit anew. Raises BitError as :func:`add_bit`, and when it is not there."""
    check_bit(kept)
    name = bit_named(connection, kept.bit.name).bit.name
    if check_number:
        check_bit_number(connection, kept)
    connection.execute(update(router_bits).where(router_bits.c.name == name).values(**_bit_columns(kept)))


def check_bit_number(connection: Connection, kept: ShelfBit) -> None:
    """See that no other bit in use has a bit's number. Raises BitError."""
    _check_number(kept, [each for each in all_bits(connection) if each.bit.name != kept.bit.name])


def add_machine(connection: Connection, kept: ShelfMachine) -> None:
    """Keep a new machine. Raises BitError when it is impossible or its name is taken."""
    _check_new(kept.machine.name, [each.machine.name for each in all_machines(connection)], "machine")
    check_machine(kept)
    _add(connection, machines, kept.machine.name, _machine_columns(kept))


def change_machine(connection: Connection, kept: ShelfMachine) -> None:
    """Write all but the name of a machine anew. Raises BitError when it is impossible or not there."""
    check_machine(kept)
    name = machine_named(connection, kept.machine.name).machine.name
    connection.execute(update(machines).where(machines.c.name == name).values(**_machine_columns(kept)))


def _add(connection: Connection, table: Table, name: str, columns: dict[str, Any]) -> None:
    number = connection.execute(select(func.coalesce(func.max(table.c.id), 0))).scalar_one() + 1
    connection.execute(insert(table).values(id=number, name=name, **columns))


def _place(name: str, names: Sequence[str], what: str) -> int:
    by_case = {each.casefold(): place for place, each in enumerate(names)}
    if name.casefold() in by_case:
        return by_case[name.casefold()]
    like = get_close_matches(name.casefold(), by_case, n=3, cutoff=0.5)
    named = " or ".join(names[by_case[each]] for each in like)
    hint = f"perhaps {named}" if like else f"blockwright shelf {what} list shows those there are"
    raise BitError(f"No {what} on the shelf is called {name}; {hint}.")


def _check_new(name: str, others: Sequence[str], what: str) -> None:
    for other in others:
        if other.casefold() == name.casefold():
            raise BitError(f"A {what} {other} stands on the shelf already; give this one another name.")


def _check_number(kept: ShelfBit, others: Sequence[ShelfBit]) -> None:
    """Two bits in use may not have one place in the tool table: the machine would take the wrong one."""
    for other in others:
        if not kept.retired and not other.retired and other.bit.number == kept.bit.number:
            raise BitError(
                f"{kept.bit.name} has the number {kept.bit.number} in the tool table, which is that of "
                f"{other.bit.name}; give one of them another."
            )


def _next_number(others: Sequence[ShelfBit]) -> int:
    taken = {each.bit.number for each in others if not each.retired}
    return next(number for number in range(1, HIGHEST_BIT_NUMBER + 2) if number not in taken)


def _bit_columns(kept: ShelfBit) -> dict[str, Any]:
    bit = kept.bit
    return {
        "number": bit.number,
        "kind": bit.kind,
        "diameter_mm": bit.diameter_mm,
        "flutes": bit.flutes,
        "cutting_mm": bit.cutting_mm,
        "angle_deg": bit.angle_deg,
        "tip_mm": bit.tip_mm,
        "shank_mm": bit.shank_mm,
        "notes": kept.notes,
        "retired": kept.retired,
    }


def _bit(row: RowMapping, database: str) -> ShelfBit:
    own = {name: row[name] for name in Bit.__dataclass_fields__}
    if own["kind"] not in BIT_KINDS:
        raise damaged(database, f"the kind of {row['name']}")
    own["kind"] = cast("BitKind", own["kind"])
    return ShelfBit(Bit(**own), notes=row["notes"], retired=row["retired"])


def _machine_columns(kept: ShelfMachine) -> dict[str, Any]:
    machine = kept.machine
    x_mm, y_mm, z_mm = machine.reach_mm
    least_rpm, most_rpm = machine.rpm
    return {
        "x_mm": x_mm,
        "y_mm": y_mm,
        "z_mm": z_mm,
        "feed_mm_min": machine.feed_mm_min,
        "plunge_mm_min": machine.plunge_mm_min,
        "rapid_mm_min": machine.rapid_mm_min,
        "acceleration_mm_s2": machine.acceleration_mm_s2,
        "least_rpm": least_rpm,
        "most_rpm": most_rpm,
        "arcs": machine.arcs,
        "tool_change": machine.tool_change,
        "safe_mm": machine.safe_mm,
        "junction_mm": machine.junction_mm,
        "change_s": machine.change_s,
        "begin": "\n".join(machine.begin),
        "end": "\n".join(machine.end),
        "notes": kept.notes,
        "retired": kept.retired,
    }


def _machine(row: RowMapping) -> ShelfMachine:
    machine = Machine(
        name=row["name"],
        reach_mm=(row["x_mm"], row["y_mm"], row["z_mm"]),
        feed_mm_min=row["feed_mm_min"],
        plunge_mm_min=row["plunge_mm_min"],
        rapid_mm_min=row["rapid_mm_min"],
        acceleration_mm_s2=row["acceleration_mm_s2"],
        rpm=(row["least_rpm"], row["most_rpm"]),
        arcs=row["arcs"],
        tool_change=row["tool_change"],
        safe_mm=row["safe_mm"],
        junction_mm=row["junction_mm"],
        change_s=row["change_s"],
        begin=tuple(row["begin"].splitlines()),
        end=tuple(row["end"].splitlines()),
    )
    return ShelfMachine(machine, notes=row["notes"], retired=row["retired"])
