"""Bits and machines as lines of a table: out of the database and into it again."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.engine import Connection

from blockwright.ledger.router_bits import (
    add_bit,
    add_machine,
    all_bits,
    all_machines,
    change_bit,
    change_machine,
    check_bit_number,
)
from blockwright.ledger.router_first import first_machines
from blockwright.ledger.sheets import Row, Sheet
from blockwright.model.errors import BlockwrightError
from blockwright.model.router import Bit
from blockwright.model.shelf import ShelfBit, ShelfMachine

_KEPT: Mapping[str, Any] = {"retired": False, "notes": ""}
"""What the studio says of a bit or a machine, and what an empty cell means."""

_BIT_EMPTY: Mapping[str, Any] = {"angle_deg": 0.0, "tip_mm": 0.0, "shank_mm": 6.0}
_BIT_NEEDED = ("kind", "diameter_mm", "flutes", "cutting_mm")

_MACHINE_NEEDED = (
    "reach_mm",
    "feed_mm_min",
    "plunge_mm_min",
    "rapid_mm_min",
    "acceleration_mm_s2",
    "rpm",
    "arcs",
    "tool_change",
    "safe_mm",
)
_MACHINE_EMPTY: Mapping[str, Any] = {"junction_mm": 0.02, "change_s": 60.0}


def bit_rows(connection: Connection) -> list[dict[str, Any]]:
    """The bits of the shelf by the columns of their table."""
    names = (*_BIT_NEEDED, *_BIT_EMPTY)
    return [
        {
            "bit": each.bit.name,
            "bit_number": each.bit.number,
            **{name: getattr(each.bit, name) for name in names},
            "retired": each.retired,
            "notes": each.notes,
        }
        for each in all_bits(connection)
    ]


def machine_rows(connection: Connection) -> list[dict[str, Any]]:
    """The machines of the shelf by the columns of their table."""
    names = (*_MACHINE_NEEDED, *_MACHINE_EMPTY)
    return [
        {
            "machine": each.machine.name,
            **{name: getattr(each.machine, name) for name in names},
            "begin": "\n".join(each.machine.begin),
            "end": "\n".join(each.machine.end),
            "retired": each.retired,
            "notes": each.notes,
        }
        for each in all_machines(connection)
    ]


def take_bits(connection: Connection, sheet: Sheet) -> tuple[int, int]:
    """Take in the lines of a table of bits; how many were new and how many changed what was there.

    Raises InkError that names file, line and column.
    """
    known = {each.bit.name.casefold(): each for each in all_bits(connection)}
    added = changed = 0
    for row in sheet.rows:
        before = known.get(row.values["bit"].casefold())
        kept = _bit(sheet, row, before)
        if kept == before:
            continue
        try:
            if before is None:
                kept = add_bit(connection, kept, check_number=False)
            else:
                change_bit(connection, kept, check_number=False)
        except BlockwrightError as error:
            raise sheet.refusal(row, "bit", str(error)) from None
        known[kept.bit.name.casefold()] = kept
        added, changed = added + (before is None), changed + (before is not None)
    for row in sheet.rows:
        try:
            # Not before all are written: two bits may have changed places.
            check_bit_number(connection, known[row.values["bit"].casefold()])
        except BlockwrightError as error:
            raise sheet.refusal(row, "bit_number", str(error)) from None
    return added, changed


def take_machines(connection: Connection, sheet: Sheet) -> tuple[int, int]:
    """Take in the lines of a table of machines, as :func:`take_bits`."""
    known = {each.machine.name.casefold(): each for each in all_machines(connection)}
    added = changed = 0
    for row in sheet.rows:
        before = known.get(row.values["machine"].casefold())
        kept = _machine(sheet, row, before)
        if kept == before:
            continue
        try:
            if before is None:
                add_machine(connection, kept)
            else:
                change_machine(connection, kept)
        except BlockwrightError as error:
            raise sheet.refusal(row, "machine", str(error)) from None
        known[kept.machine.name.casefold()] = kept
        added, changed = added + (before is None), changed + (before is not None)
    return added, changed


def _bit(sheet: Sheet, row: Row, before: ShelfBit | None) -> ShelfBit:
    fields = _given(row, _BIT_EMPTY) | _filled(row, _BIT_NEEDED)
    if row.values.get("bit_number") is not None:
        fields["number"] = row.values["bit_number"]
    if before is not None:
        return replace(before, bit=replace(before.bit, **fields), **_given(row, _KEPT))
    _check_needed(sheet, row, _BIT_NEEDED)
    return ShelfBit(Bit(**({"number": 0, "name": row.values["bit"]} | fields)), **_given(row, _KEPT))


def _machine(sheet: Sheet, row: Row, before: ShelfMachine | None) -> ShelfMachine:
    fields = _given(row, _MACHINE_EMPTY) | _filled(row, _MACHINE_NEEDED)
    for name in ("begin", "end"):
        if name in row.values:
            fields[name] = tuple((row.values[name] or "").splitlines())
    if before is None:
        _check_needed(sheet, row, _MACHINE_NEEDED)
        before = ShelfMachine(replace(first_machines()[0].machine, name=row.values["machine"]))
    return replace(before, machine=replace(before.machine, **fields), **_given(row, _KEPT))


def _given(row: Row, empty: Mapping[str, Any]) -> dict[str, Any]:
    """Fields for which a line has a column, and what an empty cell means for them."""
    return {
        name: value if row.values[name] is None else row.values[name]
        for name, value in empty.items()
        if name in row.values
    }


def _filled(row: Row, names: tuple[str, ...]) -> dict[str, Any]:
    """Fields that cannot be empty: an empty cell leaves what is there."""
    return {name: row.values[name] for name in names if row.values.get(name) is not None}


def _check_needed(sheet: Sheet, row: Row, names: tuple[str, ...]) -> None:
    for name in names:
        if row.values.get(name) is None:
            column = sheet.table.families.get(name, (name,))[0]
            told = f"{row.values[sheet.table.mark]} is not on the shelf yet, so that this is needed."
            raise sheet.refusal(row, column, told)
