"""What an act changes: values that are put, and entries that are added, changed or taken out."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

import tomlkit

from blockwright.deciding.acts import (
    Act,
    AddAccept,
    AddDrop,
    AddGradation,
    AddMerge,
    AddName,
    AddOverprint,
    AddRecolour,
    AddSplit,
    DropBoard,
    PutBoard,
    SetEdgeTrap,
    SetFaceMethod,
    SetFaceRouter,
    SetFinish,
    SetGradationWay,
    SetKey,
    SetMixFrom,
    SetOrder,
    SetPalette,
    SetPasses,
    SetPigments,
    SetSharing,
    SetTake,
    SetTrapOf,
    SetValue,
    TakeBack,
    told_short,
)
from blockwright.decisions import FILE_NAME, parse, table_called
from blockwright.model.errors import SettingsError
from blockwright.model.settings import USUAL_STOCK, Place, Settings, Stock

Plain = dict[str, Any]

_OVERPRINT = ("separation", "overprint")


@dataclass(frozen=True)
class Edit:
    """One change: a plain value or one in an entry is put, and with None taken out; entries come and go."""

    kind: Literal["put", "append", "remove", "change"]
    table: str
    key: str
    value: Any = None
    index: int = 0
    name: str = ""

    def on(self, plain: Any) -> None:
        """Make the change in plain tables, or in a document of tomlkit."""
        table = plain
        for step in self.table.split("."):
            if step not in table:
                table[step] = {}
            table = table[step]
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
            case "change" if self.value is None:
                table[self.key][self.index].pop(self.name, None)
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
        case AddRecolour() | AddMerge() | AddDrop() | AddName():
            yield from _of_shapes(plain, act)
        case AddOverprint(at, over, lies):
            yield from _repeated(plain, _OVERPRINT, {"at": list(at), "over": list(over)}, {"lies": lies})
        case AddSplit(at, name):
            yield from _split(plain, at, name)
        case AddGradation(at, start, end):
            yield from _gradation(plain, at, start, end)
        case SetGradationWay(at, printed):
            yield from _gradation_way(plain, at, printed or "as fits")
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
        case SetKey() | SetEdgeTrap():
            yield from _key_and_edges(plain, act)
        case SetFinish():
            yield from _finish(plain, act)
        case SetTake() | SetMixFrom() | SetPigments():
            yield from _of_inks(plain, act)
        case SetFaceMethod(face, method):
            yield from _of_face(plain, face, "method", method)
        case SetFaceRouter(face, key, value):
            yield from _of_face(plain, face, key, list(value) if isinstance(value, tuple) else value)
        case SetSharing(colours, how):
            yield from _sharing(plain, colours, how)
        case PutBoard() | DropBoard():
            yield from _boards(plain, act)
        case SetPalette(hexes):
            yield Edit("put", "design", "palette", None if hexes is None else list(hexes))


def _of_shapes(plain: Plain, act: AddRecolour | AddMerge | AddDrop | AddName) -> Iterator[Edit]:
    """What changes a shape of the design, or the colour of a shape."""
    match act:
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


def _of_inks(plain: Plain, act: SetTake | SetMixFrom | SetPigments) -> Iterator[Edit]:
    """What a colour is printed with, or all are mixed from."""
    match act:
        case SetTake(colour, shelf, times):
            ink = {} if shelf is None else {"shelf": shelf}
            yield from _repeated(plain, ("inks", "take"), {"colour": colour}, ink)
            if times is not None:
                yield from edits_of(SetPasses(colour, times), plain)
        case SetMixFrom(colour, pigments):
            own = {"pigments": list(pigments)} if pigments else {}
            yield from _repeated(plain, ("inks", "mix_from"), {"colour": colour}, own)
        case SetPigments(names):
            yield Edit("put", "inks", "pigments", list(names))


def _key_and_edges(plain: Plain, act: SetKey | SetEdgeTrap) -> Iterator[Edit]:
    """Name the key, which a place of it would overrule; or set the trap of an edge."""
    if isinstance(act, SetEdgeTrap):
        edge = {"at": list(act.at), "everywhere": act.everywhere}
        new = {} if act.mm is None else {"mm": act.mm}
        yield from _repeated(plain, ("separation", "edge_trap"), edge, new)
        return
    yield Edit("put", "separation", "key", act.colour)
    if "key_at" in plain.get("separation", {}):
        yield Edit("put", "separation", "key_at", None)


def _of_face(plain: Plain, face: str, key: str, value: Any) -> Iterator[Edit]:
    """Say one thing of a face, or with None no longer; its entries become the last of them, or none."""
    entries = list(plain.get("cutting", {}).get("face", []))
    alike = [k for k, each in enumerate(entries) if each["face"] == face]
    before = {name: each for k in alike for name, each in entries[k].items() if name not in ("face", key)}
    said: Plain = before if value is None else {**before, key: value}
    yield from (Edit("remove", "cutting", "face", index=k) for k in reversed(alike[:-1] if said else alike))
    if said and not alike:
        yield Edit("append", "cutting", "face", {"face": face, **said})
    elif said:
        last, own = alike[-1] - len(alike) + 1, entries[alike[-1]]
        for name in {**own, **said}:
            if name != "face" and own.get(name) != said.get(name):
                yield Edit("change", "cutting", "face", said.get(name), last, name)


def _sharing(plain: Plain, colours: tuple[str, ...], how: str) -> Iterator[Edit]:
    """Keep colours together or apart, which takes back what was said of just these; or set mask or block."""
    blocks = plain.get("blocks", {})
    named = {name.strip().casefold() for name in colours}
    if how in {"masked", "unmasked"}:
        others = [name for name in blocks.get("masked", []) if name.strip().casefold() not in named]
        yield Edit("put", "blocks", "masked", others + (list(colours) if how == "masked" else []))
        return
    if how in {"on-part", "on-full", "on-either"}:
        for key, wanted in (("on_part_block", "on-part"), ("on_full_block", "on-full")):
            before = list(blocks.get(key, []))
            others = [name for name in before if name.strip().casefold() not in named]
            now = others + (list(colours) if how == wanted else [])
            if now != before:
                yield Edit("put", "blocks", key, now)
        return
    for key in ("together", "apart"):
        entries = list(blocks.get(key, []))
        said = [{name.strip().casefold() for name in entry["inks"]} == named for entry in entries]
        stays = how == key and any(said)
        for k in reversed([k for k, same in enumerate(said) if same][1 if stays else 0 :]):
            yield Edit("remove", "blocks", key, index=k)
        if how == key and not stays:
            yield Edit("append", "blocks", key, {"inks": list(colours)})


def _gradation(plain: Plain, at: Place, start: Place | None, end: Place | None) -> Iterator[Edit]:
    """Set a gradation anew: its ramp and colours stay unless it becomes flat, which leaves nothing else."""
    entries = list(plain.get("design", {}).get("gradation", []))
    alike = [k for k, each in enumerate(entries) if list(each["at"]) == list(at)]
    new: Plain = {"at": list(at), "flat": True}
    if start is not None and end is not None:
        kept = entries[alike[-1]] if alike else {}
        new = {**kept, "at": list(at), "start": list(start), "end": list(end)}
        new.pop("flat", None)
    if alike == [len(entries) - 1] and entries[-1] == new:
        return
    yield from (Edit("remove", "design", "gradation", index=k) for k in reversed(alike))
    yield Edit("append", "design", "gradation", new)


def _gradation_way(plain: Plain, at: Place, way: str) -> Iterator[Edit]:
    """Say how a gradation is printed, in its entry at the same place; the last entry holds."""
    entries = list(plain.get("design", {}).get("gradation", []))
    alike = [k for k, each in enumerate(entries) if list(each["at"]) == list(at)]
    kept = {name: value for name, value in (entries[alike[-1]] if alike else {}).items() if name != "printed"}
    # An entry with another place in the same colour may ask for a way of its own, which this one takes back.
    others = any("printed" in each for k, each in enumerate(entries) if k not in alike)
    said = {} if way == "as fits" and not others else {"printed": way}
    new: Plain = {**kept, "at": list(at), **said}
    if alike == [len(entries) - 1] and entries[-1] == new:
        return
    yield from (Edit("remove", "design", "gradation", index=k) for k in reversed(alike))
    if len(new) > 1:
        yield Edit("append", "design", "gradation", new)


def _finish(plain: Plain, act: SetFinish) -> Iterator[Edit]:
    """Karazuri, leaf or neither, for one colour or place: never both. Raises SettingsError for no place."""
    if act.at is None and act.colour is None:
        raise SettingsError("Karazuri and leaf need a colour or a place.")
    same: Plain = {"colour": act.colour} if act.at is None else {"at": list(act.at)}
    own: Plain = {} if act.printed is None else {"printed": act.printed}
    pressed = {"side": act.side, **own} if act.side is not None and act.metal is None else {}
    yield from _repeated(plain, ("separation", "karazuri"), same, pressed)
    leaf = {"metal": act.metal, **own} if act.metal is not None else {}
    yield from _repeated(plain, ("separation", "leaf"), same, leaf)


def _split(plain: Plain, at: Place, name: str | None) -> Iterator[Edit]:
    """Split a shape off anew; without a name the entry is its place alone."""
    entries = list(plain.get("separation", {}).get("split", []))
    alike = [k for k, each in enumerate(entries) if list(each["at"]) == list(at)]
    new: Plain = {"at": list(at)} | ({} if name is None else {"name": name})
    if alike == [len(entries) - 1] and {**entries[-1], "at": list(at)} == new:
        return
    yield from (Edit("remove", "separation", "split", index=k) for k in reversed(alike))
    yield Edit("append", "separation", "split", new)


def _boards(plain: Plain, act: PutBoard | DropBoard) -> Iterator[Edit]:
    """Add, change or take out a kind of board. Raises SettingsError for a name there is not, or twice."""
    entries = plain.get("blocks", {}).get("stock")
    named = [Stock(**e).model_dump() for e in entries] if entries is not None else _USUAL
    names = [each["name"] for each in named]
    wanted = act.name if isinstance(act, DropBoard) else act.was
    board = {} if isinstance(act, DropBoard) else {key: getattr(act, key) for key in Stock.model_fields}
    if board in named and wanted not in names:
        return  # Decided already, by a second press of the same key.
    if wanted is not None and wanted not in names:
        raise SettingsError(f"{FILE_NAME} has no board called {told_short(wanted)}.")
    if board and act.name in names and act.name != wanted:
        raise SettingsError(f"{FILE_NAME} has a board called {told_short(act.name)} already.")
    if not board and len(named) == 1:
        raise SettingsError(f"{FILE_NAME}: the only board there is cannot be taken out; change it instead.")
    if entries is None:
        # From now on the boards are named one by one.
        yield from (Edit("append", "blocks", "stock", _told(each)) for each in named)
    if wanted is None:
        yield Edit("append", "blocks", "stock", _told(board))
    elif not board:
        yield Edit("remove", "blocks", "stock", index=names.index(wanted))
    else:
        at = names.index(wanted)
        changed = {key: value for key, value in board.items() if value != named[at][key]}
        yield from (Edit("change", "blocks", "stock", value, at, key) for key, value in changed.items())


_USUAL: list[Plain] = [each.model_dump() for each in USUAL_STOCK]


def _told(board: Plain) -> Plain:
    """A board as it is written: what is as many as one needs has no count."""
    return {name: value for name, value in board.items() if value is not None}


def _require_plain(table: str, key: str) -> None:
    """Refuse what is not one plain value; names that are not known are refused by the settings' own rule."""
    model = table_called(table)
    if model is None:
        names = ", ".join(Settings.model_fields)
        raise SettingsError(f"{FILE_NAME} has no table named [{told_short(table)}]; allowed are {names}.")
    if key in model.model_fields and model.model_fields[key].description is None:
        header = f"[{table}.{key}]" if table_called(f"{table}.{key}") else f"[[{table}.{key}]]"
        raise SettingsError(f"{FILE_NAME}: [{table}] {key} is no single value; write it under {header}.")
    if key not in model.model_fields:
        plain: Plain = {"print": {"width_mm": 100}}
        Edit("put", table, str(key), 0).on(plain)
        parse(tomlkit.dumps(plain))
