"""What routs, on the studio's shelf: bits and machines, as the app and the commands list and change them.

What takes an open :class:`blockwright.ledger.Ledger` (:func:`blockwright.studio.open_studio`) is one
transaction. What is impossible or not there raises BitError, a database that refuses StudioError.
"""

from collections.abc import Callable
from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from blockwright.model.errors import BitError
from blockwright.model.home import DATABASE_NAME, home_folder
from blockwright.model.router import Bit, Machine
from blockwright.model.settings_router import RouterTable
from blockwright.model.shelf import RouterShelf, ShelfBit, ShelfMachine

if TYPE_CHECKING:
    from blockwright.ledger import Ledger
    from blockwright.studio import Where

__all__ = [
    "add_bit",
    "add_machine",
    "chosen_routers",
    "edit_bit",
    "edit_machine",
    "first_routers",
    "list_bits",
    "list_machines",
    "read_routers",
    "show_bit",
    "show_machine",
]


def list_bits(studio: "Ledger", search: str = "", *, retired: bool = False) -> tuple[ShelfBit, ...]:
    """Bits by number, those in whose name, kind or notes the words of ``search`` stand."""
    from blockwright.ledger import router_bits

    with studio.reading() as connection:
        found = router_bits.all_bits(connection)
    return tuple(
        each
        for each in found
        if (retired or not each.retired) and _matches(search, each.bit.name, each.bit.kind, each.notes)
    )


def list_machines(studio: "Ledger", search: str = "", *, retired: bool = False) -> tuple[ShelfMachine, ...]:
    """Machines by name, those in whose name or notes the words of ``search`` stand."""
    from blockwright.ledger import router_bits

    with studio.reading() as connection:
        found = router_bits.all_machines(connection)
    return tuple(
        each
        for each in found
        if (retired or not each.retired) and _matches(search, each.machine.name, each.notes)
    )


def show_bit(studio: "Ledger", name: str) -> ShelfBit:
    """One bit by its name. Raises BitError that proposes names when there is none."""
    from blockwright.ledger import router_bits

    with studio.reading() as connection:
        return router_bits.bit_named(connection, name)


def show_machine(studio: "Ledger", name: str) -> ShelfMachine:
    """One machine by its name. Raises BitError that proposes names when there is none."""
    from blockwright.ledger import router_bits

    with studio.reading() as connection:
        return router_bits.machine_named(connection, name)


def add_bit(studio: "Ledger", bit: Bit, *, notes: str = "") -> ShelfBit:
    """Keep a new bit; with the number 0 it gets the next free place in the tool table. Raises BitError."""
    from blockwright.ledger import router_bits

    with studio.writing() as connection:
        return router_bits.add_bit(connection, ShelfBit(bit, notes=notes))


def edit_bit(studio: "Ledger", name: str, **changes: Any) -> ShelfBit:
    """Change fields of a bit: those of Bit but the name, ``notes`` and ``retired``. Raises BitError."""
    from blockwright.ledger import router_bits

    kept_of, bit_of = _parted(changes)
    with studio.writing() as connection:
        before = router_bits.bit_named(connection, name)
        kept = replace(before, bit=replace(before.bit, **bit_of), **kept_of)
        router_bits.change_bit(connection, kept)
        return kept


def add_machine(studio: "Ledger", machine: Machine, *, notes: str = "") -> ShelfMachine:
    """Keep a new machine. Raises BitError when it is impossible or its name is taken."""
    from blockwright.ledger import router_bits

    kept = ShelfMachine(machine, notes=notes)
    with studio.writing() as connection:
        router_bits.add_machine(connection, kept)
    return kept


def edit_machine(studio: "Ledger", name: str, **changes: Any) -> ShelfMachine:
    """Change fields of a machine, as :func:`edit_bit`."""
    from blockwright.ledger import router_bits

    kept_of, machine_of = _parted(changes)
    with studio.writing() as connection:
        before = router_bits.machine_named(connection, name)
        kept = replace(before, machine=replace(before.machine, **machine_of), **kept_of)
        router_bits.change_machine(connection, kept)
        return kept


def first_routers() -> RouterShelf:
    """The bits and the machine that a shelf begins with."""
    from blockwright.ledger.router_first import first_bits, first_machines

    return RouterShelf(
        tuple(each.bit for each in first_bits()), tuple(each.machine for each in first_machines())
    )


def read_routers(where: "Where" = None) -> RouterShelf:
    """All that blocks can be routed with, none retired; nothing is made or changed.

    Where there is no database yet, or one that never had a bit, and likewise for machines: what a shelf
    begins with. Raises StudioError as :func:`blockwright.studio.open_studio`.
    """
    from blockwright import ledger
    from blockwright.ledger import router_bits

    first = first_routers()
    found = ledger.open_to_read(home_folder() / DATABASE_NAME if where is None else where)
    if found is None:
        return first
    with found.reading() as connection:
        bits, machines = router_bits.all_bits(connection), router_bits.all_machines(connection)
    return RouterShelf(
        tuple(each.bit for each in bits if not each.retired) if bits else first.bits,
        tuple(each.machine for each in machines if not each.retired) if machines else first.machines,
    )


def chosen_routers(
    at_hand: RouterShelf,
    settings: RouterTable,
    *,
    said_at: Callable[[str], str] = "[cutting.router] {}".format,
) -> tuple[tuple[Bit, ...], Machine]:
    """The bits, by their numbers, and the machine that a print is routed with, as its settings say.

    ``said_at`` gives for "machine" and "bits" where the print says so. Raises BitError when one that is named
    is not in use, or none is in use at all.
    """
    machines = {each.name.casefold(): each for each in at_hand.machines}
    bits = {each.name.casefold(): each for each in at_hand.bits}
    if not machines or not bits:
        what = "bit" if machines else "machine"
        raise BitError(f"No {what} on the shelf is in use; blockwright shelf {what} add puts one there.")
    for what, names, known in (("machine", (settings.machine,), machines), ("bits", settings.bits, bits)):
        for name in filter(None, names):
            if name.casefold() not in known:
                there = ", ".join(each.name for each in known.values())
                told = f"{said_at(what)} names {name}, which is not in use on the shelf"
                raise BitError(f"{told}; there are {there}.")
    machine = machines[settings.machine.casefold()] if settings.machine else at_hand.machines[0]
    wanted = {name.casefold() for name in settings.bits}
    return tuple(each for name, each in bits.items() if not wanted or name in wanted), machine


def _parted(changes: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """What the studio says of a thing, and what is the thing's own."""
    said = {each.name for each in fields(ShelfBit)} - {"bit"}
    return (
        {key: value for key, value in changes.items() if key in said},
        {key: value for key, value in changes.items() if key not in said},
    )


def _matches(search: str, *texts: str) -> bool:
    """Whether every word stands in one of the texts, whatever the case."""
    whole = "\n".join(texts).casefold()
    return all(word in whole for word in search.casefold().split())
