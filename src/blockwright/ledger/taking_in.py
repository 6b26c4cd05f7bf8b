"""Tables out of the database and into it again: all of a file's lines, or none."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import fsum
from typing import Any

from sqlalchemy.engine import Connection

from blockwright.ledger import sheets
from blockwright.ledger.mixed_inks import (
    add_ink,
    add_use,
    add_weighing,
    all_inks,
    all_uses,
    all_weighings,
    change_ink,
    ink_numbered,
)
from blockwright.ledger.pigments import add_pigment, all_pigments, change_pigment
from blockwright.ledger.router_sheets import bit_rows, machine_rows, take_bits, take_machines
from blockwright.ledger.sheets import Row, Sheet
from blockwright.ledger.swatches import add_swatch, all_swatches
from blockwright.ledger.values import least_sure, usually_known_by
from blockwright.model.errors import InkError
from blockwright.model.inks import KnownBy, MixedInk, Optics, Part, Pigment
from blockwright.model.shelf import ShelfPigment, Swatch, Use, Weighing

Mix = Callable[[Sequence[Pigment], Sequence[float]], tuple[Optics, tuple[float, ...]]]
"""The optics of a mixture, from those of its pigments and their shares."""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """How many lines of a table were new, changed what was there, or said what was known."""

    table: str
    added: int
    changed: int
    known: int


def written_sheets(connection: Connection) -> dict[str, str]:
    """Everything in the database as tables, by file name."""
    inks = all_inks(connection)
    rows: dict[sheets.Table, list[dict[str, Any]]] = {
        sheets.PIGMENTS: [_pigment_row(each) for each in all_pigments(connection)],
        sheets.INKS: [_ink_row(each) for each in inks],
        sheets.SWATCHES: [_swatch_row(each) for each in all_swatches(connection)],
        sheets.WEIGHINGS: [
            {"weighed_ink": each.ink, "weight_g": each.weight_g, "at": each.at}
            for each in all_weighings(connection)
        ],
        sheets.USES: [_use_row(each) for each in all_uses(connection)],
        sheets.BITS: bit_rows(connection),
        sheets.MACHINES: machine_rows(connection),
    }
    return {table.file_name: sheets.write_sheet(table, rows[table]) for table in sheets.TABLES}


def take_in(connection: Connection, given: Sequence[Sheet], *, mix: Mix, at: datetime) -> tuple[TakenIn, ...]:
    """Take tables in, in one transaction of the caller; pigments first, whatever the order they are given in.

    A line changes what bears its name or number; a column that is left out leaves what is there. Weighings,
    uses and swatches are added unless they are there already. A pot that differs from its last weighing is
    weighed at the time ``at`` (UTC). Raises InkError that names file, line and column.
    """
    taken: list[TakenIn] = []
    pots: list[tuple[int, Row]] = []
    ordered = sorted(given, key=lambda sheet: sheets.TABLES.index(sheet.table))
    for sheet in ordered:
        match sheet.table:
            case sheets.PIGMENTS:
                taken.append(_take_pigments(connection, sheet))
            case sheets.INKS:
                inks, numbered = _take_inks(connection, sheet, mix, at)
                taken.append(inks)
                pots += numbered
            case sheets.SWATCHES:
                taken.append(_take_new(connection, sheet, _swatch, add_swatch, all_swatches))
            case sheets.WEIGHINGS:
                taken.append(_take_new(connection, sheet, _weighing, add_weighing, all_weighings))
            case sheets.BITS:
                taken.append(_told(sheet, *take_bits(connection, sheet)))
            case sheets.MACHINES:
                taken.append(_told(sheet, *take_machines(connection, sheet)))
            case _:
                taken.append(_take_new(connection, sheet, _use, add_use, all_uses))
    _weigh_pots(connection, pots, at)
    return tuple(taken)


def _told(sheet: Sheet, added: int, changed: int) -> TakenIn:
    name = sheet.table.file_name.removesuffix(".csv")
    return TakenIn(name, added, changed, len(sheet.rows) - added - changed)


def _pigment_row(kept: ShelfPigment) -> dict[str, Any]:
    pigment = kept.pigment
    return {
        "pigment": pigment.name,
        "colour_index": pigment.colour_index,
        "origin": pigment.origin,
        "source": pigment.source,
        "lightfastness": pigment.lightfastness,
        "hazard": pigment.hazard,
        "density_g_per_ml": pigment.density_g_per_ml,
        "transfer": pigment.transfer,
        "on_shelf": kept.on_shelf,
        "retired": kept.retired,
        "notes": kept.notes,
        **_optics_row(pigment.optics),
    }


def _ink_row(ink: MixedInk) -> dict[str, Any]:
    return {
        "ink": ink.name,
        "number": ink.number,
        "parts": ink.parts or None,
        "paste_share": ink.paste_share,
        "known_by": ink.known_by,
        "origin": ink.origin,
        "pot_g": ink.pot_g,
        "density_g_per_ml": ink.density_g_per_ml,
        "transfer": ink.transfer,
        "made_on": ink.made_on,
        "place": ink.place,
        "retired": ink.retired,
        "notes": ink.notes,
        **_optics_row(ink.optics),
    }


def _optics_row(optics: Optics) -> dict[str, Any]:
    return {"k": optics.k, "s": optics.s, "log_spread": (optics.log_k_spread, optics.log_s_spread)}


def _swatch_row(swatch: Swatch) -> dict[str, Any]:
    return {
        "swatch_of": swatch.of,
        "passes": swatch.passes,
        "ground": swatch.ground,
        "origin": swatch.origin,
        "made_on": swatch.made_on,
        "file_name": swatch.file_name,
        "file_sha256": swatch.file_sha256,
        "notes": swatch.notes,
        "lab": swatch.lab,
        "reflectance": swatch.reflectance,
        "ground_reflectance": swatch.ground_reflectance,
    }


def _use_row(use: Use) -> dict[str, Any]:
    return {
        "used_ink": use.ink,
        "folder": use.folder,
        "title": use.title,
        "impression": use.impression,
        "at": use.at,
    }


def _optics(sheet: Sheet, row: Row, known: Optics | None) -> Optics | None:
    """The optics that a line gives, those that are known, or None. An empty spread is none."""
    k, s = row.values.get("k"), row.values.get("s")
    if (k is None) != (s is None):
        missing = "k_380" if k is None else "s_380"
        raise sheet.refusal(row, missing, "give K and S, or neither.")
    if k is not None and s is not None:
        return Optics(k, s, *(row.values.get("log_spread") or ((), ())))
    if row.values.get("log_spread"):
        raise sheet.refusal(row, "log_spread", "it goes with K and S, which are not given.")
    return known


def _changes(row: Row, names: Mapping[str, Any]) -> dict[str, Any]:
    """Fields for which a line has a column; an empty cell means what ``names`` gives for the field."""
    return {
        name: row.values[name] if row.values[name] is not None else empty
        for name, empty in names.items()
        if name in row.values
    }


def _take_pigments(connection: Connection, sheet: Sheet) -> TakenIn:
    known = {each.pigment.name: each for each in all_pigments(connection)}
    added = changed = 0
    for row in sheet.rows:
        name = row.values["pigment"]
        before = known.get(name)
        optics = _optics(sheet, row, before.pigment.optics if before else None)
        if optics is None:
            told = f"{name} is not on the shelf yet, so that its K and S in 36 bands are needed."
            raise sheet.refusal(row, "k_380", told)
        start = before or ShelfPigment(Pigment(name, None, optics, "literature", ""))
        own = {"colour_index": None, "origin": "literature", "source": "", "lightfastness": None}
        more = {"hazard": None, "density_g_per_ml": 1.0, "transfer": (1.0,)}
        kept = replace(
            start,
            pigment=replace(start.pigment, optics=optics, **_changes(row, own | more)),
            **_changes(row, {"on_shelf": True, "retired": False, "notes": ""}),
        )
        if kept == before:
            continue
        try:
            if before:
                change_pigment(connection, kept)
            else:
                add_pigment(connection, kept)
        except InkError as error:
            raise sheet.refusal(row, "pigment", str(error)) from None
        known[name] = kept
        added, changed = added + (before is None), changed + (before is not None)
    return TakenIn("pigments", added, changed, len(sheet.rows) - added - changed)


def _take_inks(
    connection: Connection, sheet: Sheet, mix: Mix, at: datetime
) -> tuple[TakenIn, list[tuple[int, Row]]]:
    """What became of the lines, and the number of the ink that each of them is of."""
    inks = all_inks(connection)
    known = {each.number: each for each in inks}
    named: dict[str, list[MixedInk]] = {}
    for each in inks:
        named.setdefault(each.name, []).append(each)
    pigments = {each.pigment.name: each.pigment for each in all_pigments(connection)}
    added = changed = 0
    numbered = []
    for row in sheet.rows:
        number = row.values.get("number")
        before = known.get(number) if number is not None else _only(sheet, row, named)
        kept = _ink(sheet, row, before, pigments, mix)
        try:
            if before is None:
                kept = add_ink(connection, kept, at=at, keep_number=number is not None)
            elif kept != before:
                change_ink(connection, kept)
        except InkError as error:
            raise sheet.refusal(row, "ink", str(error)) from None
        known[kept.number] = kept
        numbered.append((kept.number, row))
        added, changed = added + (before is None), changed + (before is not None and kept != before)
    return TakenIn("inks", added, changed, len(sheet.rows) - added - changed), numbered


def _only(sheet: Sheet, row: Row, named: Mapping[str, Sequence[MixedInk]]) -> MixedInk | None:
    """The ink that a line without a number is of: the one that bore its name before this file, if any did."""
    found = named.get(row.values["ink"], ())
    if len(found) > 1:
        told = " and ".join(str(each.number) for each in found)
        raise sheet.refusal(row, "number", f"{row.values['ink']} is the name of {told}; give the number.")
    return found[0] if found else None


def _ink(
    sheet: Sheet, row: Row, before: MixedInk | None, pigments: Mapping[str, Pigment], mix: Mix
) -> MixedInk:
    name, number = row.values["ink"], row.values.get("number") or 0
    parts = _changes(row, {"parts": ()}).get("parts", before.parts if before else ())
    _check_parts(sheet, row, parts, pigments)
    paste = row.values.get("paste_share")
    if paste is None:
        paste = before.paste_share if before and parts == before.parts else _rest(parts)
    optics = _optics(sheet, row, _held(sheet, row, before, parts, paste))
    mixed = optics is None
    transfer: tuple[float, ...] = (1.0,)
    if optics is None:
        if not parts:
            told = f"{name} needs a recipe in the column parts, or its K and S in 36 bands."
            raise sheet.refusal(row, "parts", told)
        try:
            optics, transfer = mix([pigments[each.pigment] for each in parts], [each.share for each in parts])
        except InkError as error:
            raise sheet.refusal(row, "parts", str(error)) from None
    origin = least_sure(pigments[each.pigment].origin for each in parts) if mixed else "literature"
    own = {"density_g_per_ml": 1.0, "made_on": None, "place": "", "retired": False, "notes": ""}
    given = _changes(row, {"origin": origin, "transfer": (1.0,)})
    if mixed:
        # Transfer that was measured of the ink itself stands before what follows from its pigments.
        given = {"origin": origin, "transfer": row.values.get("transfer") or transfer}
    start = before or MixedInk(number, name, parts, paste, optics, origin)
    given |= _changes(row, own)
    kept = replace(start, name=name, parts=parts, paste_share=paste, optics=optics, **given)
    return replace(kept, known_by=_known_by(row, before, kept))


def _held(
    sheet: Sheet, row: Row, before: MixedInk | None, parts: Sequence[Part], paste: float
) -> Optics | None:
    """The optics that a line without K and S leaves as they are; None where they are to be reckoned.

    What a pot's own swatch told holds whatever its recipe is written to be, until a line says that it is to
    be reckoned from it.
    """
    asked = row.values.get("known_by")
    by = before.known_by if before else "recipe"
    if asked == "own swatch" != by and row.values.get("k") is None:
        told = f"{row.values['ink']} is not known by its own swatch yet, so that its K and S are needed."
        raise sheet.refusal(row, "known_by", told)
    turned = before is not None and asked == "recipe" != by
    if turned and not parts and row.values.get("k") is None:
        told = f"{row.values['ink']} has no recipe from which it could be reckoned."
        raise sheet.refusal(row, "known_by", told)
    if before is None or turned:
        return None
    same = (parts, paste) == (before.parts, before.paste_share)
    return before.optics if same or not parts or by == "own swatch" else None


def _known_by(row: Row, before: MixedInk | None, kept: MixedInk) -> KnownBy:
    """What makes an ink known as a line says, or as it was while its optics are the same."""
    asked: KnownBy | None = row.values.get("known_by")
    if asked is not None:
        return asked
    if before is not None and kept.optics == before.optics:
        return before.known_by
    return usually_known_by(kept.parts, kept.origin)


def _check_parts(sheet: Sheet, row: Row, parts: Sequence[Part], pigments: Mapping[str, Pigment]) -> None:
    for part in parts:
        if part.pigment not in pigments:
            told = f"no pigment on the shelf is called {part.pigment}; take in or add the pigment first."
            raise sheet.refusal(row, "parts", told)


def _rest(parts: Sequence[Part]) -> float:
    """The paste that fills a film up, where it is not told; 0 when there is no recipe."""
    return max(0.0, 1.0 - fsum(part.share for part in parts)) if parts else 0.0


def _weigh_pots(connection: Connection, pots: Sequence[tuple[int, Row]], at: datetime) -> None:
    """Weigh every pot whose line says something else than its last weighing."""
    for number, row in pots:
        pot_g = row.values.get("pot_g")
        if pot_g is not None and pot_g != ink_numbered(connection, number).pot_g:
            add_weighing(connection, Weighing(number, pot_g, at))


def _needed(sheet: Sheet, row: Row, *names: str) -> list[Any]:
    for name in names:
        if row.values.get(name) is None:
            raise sheet.refusal(row, name, "it is empty or left out; every line needs it.")
    return [row.values[name] for name in names]


def _swatch(sheet: Sheet, row: Row) -> Swatch:
    of, passes, ground, origin = _needed(sheet, row, "swatch_of", "passes", "ground", "origin")
    names = ("reflectance", "lab", "ground_reflectance", "made_on", "file_name", "file_sha256")
    given: dict[str, Any] = {name: row.values.get(name) for name in names}
    return Swatch(
        of,
        passes,
        ground,
        origin,
        notes=row.values.get("notes") or "",
        **given,
    )


def _weighing(sheet: Sheet, row: Row) -> Weighing:
    return Weighing(*_needed(sheet, row, "weighed_ink", "weight_g", "at"))


def _use(sheet: Sheet, row: Row) -> Use:
    ink, title, impression, at = _needed(sheet, row, "used_ink", "title", "impression", "at")
    return Use(ink, row.values.get("folder") or "", title, impression, at)


def _take_new(
    connection: Connection,
    sheet: Sheet,
    read: Callable[[Sheet, Row], Any],
    add: Callable[[Connection, Any], object],
    every: Callable[[Connection], Sequence[Any]],
) -> TakenIn:
    """Add what is not there yet; a swatch is the same one whatever its number."""
    known = {_alike(each) for each in every(connection)}
    added = 0
    for row in sheet.rows:
        record = read(sheet, row)
        if record in known:
            continue
        try:
            add(connection, record)
        except InkError as error:
            raise sheet.refusal(row, sheet.table.mark, str(error)) from None
        known.add(record)
        added += 1
    return _told(sheet, added, 0)


def _alike(record: Any) -> Any:
    return replace(record, number=0) if isinstance(record, Swatch) else record
