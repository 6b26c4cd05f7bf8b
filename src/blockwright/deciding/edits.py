"""What an act changes: values that are put, and entries that are added, changed or taken out."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import tomlkit

from blockwright.deciding.acts import (
    Act,
    AddAccept,
    AddDrop,
    AddMerge,
    AddName,
    AddRecolour,
    SetFaceMethod,
    SetOrder,
    SetPalette,
    SetPasses,
    SetTrapOf,
    SetValue,
    TakeBack,
    told_short,
)
from blockwright.decisions import FILE_NAME, parse
from blockwright.model.errors import SettingsError
from blockwright.model.settings import Settings

Plain = dict[str, Any]


@dataclass(frozen=True)
class Edit:
    """One change: ``index`` None with ``name`` None puts a plain value, None takes it out."""

    kind: Literal["put", "append", "remove", "change"]
    table: str
    key: str
    value: Any = None
    index: int = 0
    name: str = ""

    def on(self, plain: Any) -> None:
        """Make the change in plain tables, or in a document of tomlkit."""
        if self.table not in plain:
            plain[self.table] = {}
        table = plain[self.table]
        match self.kind:
            case "put" if self.value is None:
                table.pop(self.key, None)
            case "put":
                table[self.key] = self.value
            case "append":
                if self.key not in table:
                    table[self.key] = []
                table[self.key].append(self.value)
            case "remove":
                del table[self.key][self.index]
            case "change":
                table[self.key][self.index][self.name] = self.value


def _repeated(plain: Plain, entry: tuple[str, str], same: Plain, new: Plain) -> Iterator[Edit]:
    """Set an entry anew: later entries hold, so the new one goes to the end and earlier ones like it go.

    The last entry is changed where it stands; ``new`` empty only takes away.
    """
    entries = list(plain.get(entry[0], {}).get(entry[1], []))
    flags = {"here": False, "everywhere": False}
    alike = [k for k, e in enumerate(entries) if all(e.get(n, flags.get(n)) == v for n, v in same.items())]
    stays = bool(new and alike and alike[-1] == len(entries) - 1)
    yield from (Edit("remove", *entry, index=k) for k in reversed(alike[:-1] if stays else alike))
    if stays:
        last = len(entries) - len(alike)
        for name, value in new.items():
            if entries[-1].get(name) != value:
                yield Edit("change", *entry, value, last, name)
    elif new:
        yield Edit("append", *entry, {n: v for n, v in same.items() if v is not False} | new)


def edits_of(act: Act, plain: Plain) -> Iterator[Edit]:
    """What an act changes in these decisions. Raises SettingsError for a table or an entry there is not."""
    match act:
        case SetValue(table, key, value):
            _require_plain(table, key)
            yield Edit("put", table, key, list(value) if isinstance(value, tuple) else value)
        case AddRecolour(at, to, here):
            yield from _repeated(plain, ("design", "recolour"), {"at": list(at), "here": here}, {"to": to})
        case AddMerge(at, into, everywhere):
            same = {"at": list(at), "everywhere": everywhere}
            yield from _repeated(plain, ("design", "merge"), same, {"into": list(into)})
        case AddDrop(at):
            if list(at) not in [list(e["at"]) for e in plain.get("design", {}).get("drop", [])]:
                yield Edit("append", "design", "drop", {"at": list(at)})
        case AddName(at, name):
            yield from _repeated(plain, ("design", "name"), {"at": list(at)}, {"name": name})
        case AddAccept(finding, at):
            entry = {"finding": finding} | ({} if at is None else {"at": list(at)})
            if entry not in plain.get("print", {}).get("accept", []):
                yield Edit("append", "print", "accept", entry)
        case TakeBack(table, key, index):
            entries = plain.get(table, {}).get(key)
            if not (isinstance(entries, list) and 0 <= index < len(entries) and isinstance(entries[0], dict)):
                raise SettingsError(
                    f"{FILE_NAME} has no [[{told_short(table)}.{told_short(key)}]] number {index + 1}."
                )
            yield Edit("remove", table, key, index=index)
        case SetOrder(names):
            yield Edit("put", "separation", "order", list(names))
        case SetPasses(colour, times):
            yield from _repeated(plain, ("separation", "passes"), {"colour": colour}, {"times": times})
        case SetTrapOf(colour, mm):
            new = {} if mm is None else {"mm": mm}
            yield from _repeated(plain, ("separation", "trap"), {"colour": colour}, new)
        case SetFaceMethod(face, method):
            way: Plain = {} if method is None else {"method": method}
            yield from _repeated(plain, ("cutting", "face"), {"face": face}, way)
        case SetPalette(hexes):
            yield Edit("put", "design", "palette", None if hexes is None else list(hexes))


def _require_plain(table: str, key: str) -> None:
    """Refuse what is not one plain value; names that are not known are refused by the settings' own rule."""
    fields = Settings.model_fields
    model: Any = fields[table].annotation if table in fields else None
    if model is None:
        names = ", ".join(fields)
        raise SettingsError(f"{FILE_NAME} has no table named [{told_short(table)}]; allowed are {names}.")
    if key in model.model_fields and model.model_fields[key].description is None:
        raise SettingsError(
            f"{FILE_NAME}: [{table}] {key} is no single value; write it under [[{table}.{key}]]."
        )
    if key not in model.model_fields:
        parse(tomlkit.dumps({"print": {"width_mm": 100}, table: {str(key): 0}}))
