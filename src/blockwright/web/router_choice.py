"""Machine and bits chosen by name: what the shelf offers for a print or one of its faces."""

from dataclasses import dataclass

from blockwright.bits import read_routers
from blockwright.deciding import Act, SetValue
from blockwright.deciding.acts import SetFaceRouter
from blockwright.model.errors import SettingsError, StudioError
from blockwright.model.router import CLEARING_KINDS
from blockwright.model.settings import FaceMethod, Settings
from blockwright.model.shelf import RouterShelf
from blockwright.web import words

Choice = tuple[str, str]
"""A value, and what it says."""


@dataclass(frozen=True, slots=True)
class BitBox:
    """A bit to tick."""

    name: str
    on: bool


@dataclass(frozen=True, slots=True)
class RouterChoice:
    """What a face may be routed by and with, and what is taken now.

    ``machines`` are to choose for all faces and ``own_machines`` for this one, where ``own_machine`` is
    empty for the same as all. ``lies`` is "" for as all, "true" for turned and "false" for as carved.
    ``wrong`` says why what ``print.toml`` names cannot rout this face, empty where it can.
    """

    machine: str
    machines: tuple[Choice, ...]
    own_machine: str
    own_machines: tuple[Choice, ...]
    lies: str
    turned: bool
    bits: tuple[BitBox, ...]
    bits_said: str
    own_bits: bool
    wrong: str


def router_choice(settings: Settings, face: str) -> RouterChoice:
    """What there is to choose for a face, by the names on the shelf; nothing where that cannot be read."""
    try:
        shelf = read_routers()
    except StudioError:
        shelf = RouterShelf((), ())
    table, own = settings.cutting.for_face(face).router, _own(settings, face)
    names = [each.name for each in shelf.machines]
    first = words.fmt("machine_first", machine=names[0]) if names else words.TEXTS["machine_none"]
    known = {bit.name.casefold(): bit for bit in shelf.bits}
    wanted = {name.casefold() for name in table.bits}
    on = [bit for name, bit in known.items() if not wanted or name in wanted]
    said = words.listed(list(table.bits))
    if own.bits is not None:
        bits_said = words.fmt("bits_own", face=face, bits=said)
    else:
        bits_said = words.fmt("bits_these", bits=said) if table.bits else words.TEXTS["bits_all"]
    machine, own_machine = (
        _by_its_name(name, names) for name in (settings.cutting.router.machine, own.machine)
    )
    wrong = ""
    if known and (gone := [name for name in table.bits if name.casefold() not in known]):
        wrong = words.fmt("bits_gone", bits=words.listed(gone))
    elif known and all(bit.kind not in CLEARING_KINDS for bit in on):
        wrong = words.fmt("bits_none_clear", face=face)
    return RouterChoice(
        machine=machine,
        machines=(("", first), *_offered(names, machine)),
        own_machine=own_machine,
        own_machines=(("", words.TEXTS["machine_like"]), *_offered(names, own_machine)),
        lies="" if own.quarter_turn is None else str(own.quarter_turn).lower(),
        turned=table.quarter_turn,
        bits=tuple(BitBox(bit.name, bit in on) for bit in shelf.bits),
        bits_said=bits_said,
        own_bits=own.bits is not None,
        wrong=wrong,
    )


def _own(settings: Settings, face: str) -> FaceMethod:
    """What ``print.toml`` says of a face by itself: of several entries the last that says a thing."""
    own = FaceMethod(face=face)
    for entry in settings.cutting.face:
        if entry.face == face:
            own = own.model_copy(update={key: value for key, value in entry if value is not None})
    return own


def _by_its_name(name: str | None, names: list[str]) -> str:
    """A machine by the name that it has on the shelf: case does not matter in ``print.toml``."""
    return next((each for each in names if name and each.casefold() == name.casefold()), name or "")


def _offered(names: list[str], now: str) -> list[Choice]:
    """The machines of the shelf, and the one that is named though it is not there."""
    gone = [(now, words.fmt("machine_gone", machine=now))] if now and now not in names else []
    return [*((name, name) for name in names), *gone]


def require_clearing_bit(act: Act) -> None:
    """Refuse a choice of bits that are all on the shelf and none of them clears. Raises SettingsError."""
    match act:
        case SetValue("cutting.router", "bits", tuple() as names) | SetFaceRouter(
            _, "bits", tuple() as names
        ):
            kinds = {bit.name.casefold(): bit.kind for bit in read_routers().bits}
            chosen = [kinds.get(str(name).casefold()) for name in names]
            if chosen and None not in chosen and not set(chosen) & set(CLEARING_KINDS):
                raise SettingsError(words.fmt("bits_no_clearing", bits=words.listed(list(map(str, names)))))
