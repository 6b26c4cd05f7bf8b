"""The commands of the shelf's bits and machines: each reads its words and calls one function of
:mod:`blockwright.bits`.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from blockwright.cli_saying import AsJson, Studio, count, show
from blockwright.model.errors import SettingsError
from blockwright.telling import tell_bit, tell_machine

if TYPE_CHECKING:
    from blockwright.model.shelf import ShelfBit, ShelfMachine

bit_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
    help="The router bits of the studio. Each of these commands takes --json.",
)
machine_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
    help="The routers of the studio. Each of these commands takes --json.",
)

Search = Annotated[
    str | None, typer.Argument(metavar="[WORDS]", help="Only what has these words in its name or notes.")
]
Retired = Annotated[bool, typer.Option("--retired", help="Show those that are retired, too.")]
Back = Annotated[bool, typer.Option("--back", help="Take it into use again.")]
Notes = Annotated[str | None, typer.Option("--notes", metavar="TEXT", help="Notes of your own.")]
BitName = Annotated[str, typer.Argument(metavar="NAME", help="The bit's name.")]
MachineName = Annotated[str, typer.Argument(metavar="NAME", help="The machine's name.")]

Number = Annotated[
    str | None,
    typer.Option("--number", metavar="N", help="Its place in the machine's tool table; the next free one."),
]
Kind = Annotated[
    str | None, typer.Option("--kind", metavar="KIND", help="flat, ball, V or tapered; left out, flat.")
]
Diameter = Annotated[
    str | None, typer.Option("--diameter", metavar="MM", help="Its largest diameter, mm, without the shank.")
]
Flutes = Annotated[str | None, typer.Option("--flutes", metavar="N", help="How many cutting edges it has.")]
Cutting = Annotated[
    str | None, typer.Option("--cutting-length", metavar="MM", help="How long its edges are, mm.")
]
Angle = Annotated[
    str | None,
    typer.Option("--angle", metavar="DEGREES", help="The whole angle at the tip of a V or tapered bit."),
]
Tip = Annotated[
    str | None,
    typer.Option("--tip", metavar="MM", help="How wide a V's flat tip or a tapered bit's round one is."),
]
Shank = Annotated[str | None, typer.Option("--shank", metavar="MM", help="The diameter of its shank, mm.")]

Travel = Annotated[
    str | None,
    typer.Option("--travel", metavar="'X Y Z'", help="How far it travels, mm, such as '600 400 80'."),
]
Feed = Annotated[str | None, typer.Option("--feed", metavar="MM_MIN", help="Its fastest feed, mm a minute.")]
Plunge = Annotated[
    str | None,
    typer.Option("--plunge", metavar="MM_MIN", help="Its fastest feed straight down."),
]
Rapid = Annotated[
    str | None, typer.Option("--rapid", metavar="MM_MIN", help="How fast it travels above the work.")
]
Acceleration = Annotated[
    str | None, typer.Option("--acceleration", metavar="MM_S2", help="How fast it gets faster, mm/s2.")
]
Spindle = Annotated[
    str | None,
    typer.Option("--spindle", metavar="'LEAST MOST'", help="Turns a minute, such as '8000 24000'."),
]
Arcs = Annotated[bool | None, typer.Option("--arcs/--no-arcs", help="Whether it takes arcs.")]
Change = Annotated[
    bool | None,
    typer.Option(
        "--tool-change/--program-for-each-bit",
        help="Whether a program may change bits, or each has one program of its own.",
    ),
]
ChangeS = Annotated[
    str | None, typer.Option("--change-time", metavar="S", help="How long a change of bits takes, s.")
]
Safe = Annotated[
    str | None, typer.Option("--safe-height", metavar="MM", help="How high above the work it travels, mm.")
]
Corner = Annotated[
    str | None, typer.Option("--corner", metavar="MM", help="How far it may cut a corner at speed, mm.")
]
Begin = Annotated[
    list[str] | None,
    typer.Option(
        "--begin", metavar="LINE", help="A line of your own that begins every program; '' for none."
    ),
]
End = Annotated[
    list[str] | None,
    typer.Option("--end", metavar="LINE", help="A line of your own that ends every program; '' for none."),
]


@bit_app.command("list", short_help="List router bits.")
def list_bits(
    search: Search = None, retired: Retired = False, studio: Studio = None, as_json: AsJson = False
) -> None:
    """List the router bits of the shelf by their numbers in the machine's tool table."""
    from blockwright import bits
    from blockwright import studio as house

    opened = house.open_studio(studio)
    found = bits.list_bits(opened, search or "", retired=retired)
    lines = [*bit_lines(found)] or ["No bit on the shelf has these words."]
    show({"studio": opened.name, "bits": [tell_bit(each) for each in found]}, as_json, lines)


@bit_app.command("show", short_help="Show one router bit.")
def show_bit(name: BitName, studio: Studio = None, as_json: AsJson = False) -> None:
    """Show one router bit: all that is known of it."""
    from blockwright import bits
    from blockwright import studio as house

    told = tell_bit(bits.show_bit(house.open_studio(studio), name))
    show(told, as_json, [*_shown(told)])


@bit_app.command("add", short_help="Add a router bit.")
def add_bit(
    name: BitName,
    kind: Kind = None,
    diameter: Diameter = None,
    flutes: Flutes = None,
    cutting_length: Cutting = None,
    angle: Angle = None,
    tip: Tip = None,
    shank: Shank = None,
    number: Number = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Add a router bit, as its maker's sheet tells it; diameter, flutes and cutting length must be given."""
    from blockwright import bits
    from blockwright import studio as house
    from blockwright.model.router import Bit

    given = _bit_fields(kind, diameter, flutes, cutting_length, angle, tip, shank, number)
    for field, word in (
        ("diameter_mm", "--diameter"),
        ("flutes", "--flutes"),
        ("cutting_mm", "--cutting-length"),
    ):
        if field not in given:
            raise SettingsError(f"{word} is missing; a bit needs --diameter, --flutes and --cutting-length.")
    fields: dict[str, Any] = {"number": 0, "name": name, "kind": "flat"}
    bit = Bit(**(fields | given))
    kept = bits.add_bit(house.open_studio(studio), bit, notes=notes or "")
    line = f"{kept.bit.name} stands on the shelf as number {kept.bit.number} of the tool table."
    show(tell_bit(kept), as_json, [line])


@bit_app.command("edit", short_help="Change what is known of a router bit.")
def edit_bit(
    name: BitName,
    kind: Kind = None,
    diameter: Diameter = None,
    flutes: Flutes = None,
    cutting_length: Cutting = None,
    angle: Angle = None,
    tip: Tip = None,
    shank: Shank = None,
    number: Number = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Change what is known of a router bit; what is left out stays."""
    from blockwright import bits
    from blockwright import studio as house

    fields = _bit_fields(kind, diameter, flutes, cutting_length, angle, tip, shank, number)
    _edited("bit", fields, notes)
    kept = bits.edit_bit(house.open_studio(studio), name, **fields)
    show(tell_bit(kept), as_json, [f"{kept.bit.name} is changed."])


@bit_app.command("retire", short_help="Retire a router bit.")
def retire_bit(name: BitName, back: Back = False, studio: Studio = None, as_json: AsJson = False) -> None:
    """Retire a router bit that is worn or broken: it is kept, and proposed no more."""
    from blockwright import bits
    from blockwright import studio as house

    kept = bits.edit_bit(house.open_studio(studio), name, retired=not back)
    show(tell_bit(kept), as_json, [f"{kept.bit.name} is {'in use again' if back else 'retired'}."])


@machine_app.command("list", short_help="List routers.")
def list_machines(
    search: Search = None, retired: Retired = False, studio: Studio = None, as_json: AsJson = False
) -> None:
    """List the routers of the shelf by name."""
    from blockwright import bits
    from blockwright import studio as house

    opened = house.open_studio(studio)
    found = bits.list_machines(opened, search or "", retired=retired)
    lines = [*machine_lines(found)] or ["No machine on the shelf has these words."]
    show({"studio": opened.name, "machines": [tell_machine(each) for each in found]}, as_json, lines)


@machine_app.command("show", short_help="Show one router.")
def show_machine(name: MachineName, studio: Studio = None, as_json: AsJson = False) -> None:
    """Show one router: all that is known of it."""
    from blockwright import bits
    from blockwright import studio as house

    told = tell_machine(bits.show_machine(house.open_studio(studio), name))
    show(told, as_json, [*_shown(told)])


@machine_app.command("add", short_help="Add a router.")
def add_machine(
    name: MachineName,
    like: Annotated[
        str | None,
        typer.Option("--as", metavar="MACHINE", help="Begin with all that is known of this one."),
    ] = None,
    travel: Travel = None,
    feed: Feed = None,
    plunge: Plunge = None,
    rapid: Rapid = None,
    acceleration: Acceleration = None,
    spindle: Spindle = None,
    arcs: Arcs = None,
    tool_change: Change = None,
    change_time: ChangeS = None,
    safe_height: Safe = None,
    corner: Corner = None,
    begin: Begin = None,
    end: End = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Add a router; what is not said is taken from ``--as``, or else from the plain one that comes along."""
    from blockwright import bits
    from blockwright import studio as house

    speeds = {"feed": feed, "plunge": plunge, "rapid": rapid, "acceleration": acceleration}
    fields = _machine_fields(travel, speeds, spindle, arcs, tool_change, change_time, safe_height, corner)
    fields |= _own_lines(begin, end)
    opened = house.open_studio(studio)
    first = bits.first_routers().machines[0] if like is None else bits.show_machine(opened, like).machine
    kept = bits.add_machine(opened, replace(first, name=name, **fields), notes=notes or "")
    show(tell_machine(kept), as_json, [f"{kept.machine.name} stands on the shelf."])


@machine_app.command("edit", short_help="Change what is known of a router.")
def edit_machine(
    name: MachineName,
    travel: Travel = None,
    feed: Feed = None,
    plunge: Plunge = None,
    rapid: Rapid = None,
    acceleration: Acceleration = None,
    spindle: Spindle = None,
    arcs: Arcs = None,
    tool_change: Change = None,
    change_time: ChangeS = None,
    safe_height: Safe = None,
    corner: Corner = None,
    begin: Begin = None,
    end: End = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Change what is known of a router; what is left out stays."""
    from blockwright import bits
    from blockwright import studio as house

    speeds = {"feed": feed, "plunge": plunge, "rapid": rapid, "acceleration": acceleration}
    fields = _machine_fields(travel, speeds, spindle, arcs, tool_change, change_time, safe_height, corner)
    fields |= _own_lines(begin, end)
    _edited("machine", fields, notes)
    kept = bits.edit_machine(house.open_studio(studio), name, **fields)
    show(tell_machine(kept), as_json, [f"{kept.machine.name} is changed."])


@machine_app.command("retire", short_help="Retire a router.")
def retire_machine(
    name: MachineName, back: Back = False, studio: Studio = None, as_json: AsJson = False
) -> None:
    """Retire a router: it is kept, and proposed no more."""
    from blockwright import bits
    from blockwright import studio as house

    kept = bits.edit_machine(house.open_studio(studio), name, retired=not back)
    show(tell_machine(kept), as_json, [f"{kept.machine.name} is {'in use again' if back else 'retired'}."])


def bit_lines(found: "Sequence[ShelfBit]") -> Iterator[str]:
    """A line for each bit."""
    for each in found:
        bit = each.bit
        tip = f", {bit.angle_deg:g} degrees, tip {bit.tip_mm:g} mm" if bit.kind in ("V", "tapered") else ""
        sizes = f"{bit.kind}, {bit.diameter_mm:g} mm{tip}, {count(bit.flutes, 'flute')}"
        sizes += f", cuts {bit.cutting_mm:g} mm"
        yield f"{bit.number:>5}  {bit.name}: {sizes}{', retired' if each.retired else ''}"


def machine_lines(found: "Sequence[ShelfMachine]") -> Iterator[str]:
    """A line for each machine."""
    for each in found:
        machine = each.machine
        travel = " x ".join(f"{along:g}" for along in machine.reach_mm)
        spindle = f"{machine.rpm[0]:g} to {machine.rpm[1]:g} turns"
        line = f"{machine.name}: {travel} mm, {machine.feed_mm_min:g} mm a minute, {spindle}"
        yield f"       {line}{', retired' if each.retired else ''}"


def _bit_fields(
    kind: str | None,
    diameter: str | None,
    flutes: str | None,
    cutting_length: str | None,
    angle: str | None,
    tip: str | None,
    shank: str | None,
    number: str | None,
) -> dict[str, Any]:
    fields: dict[str, Any] = {} if kind is None else {"kind": "V" if kind in ("v", "V") else kind.lower()}
    for field, word, text in (
        ("diameter_mm", "--diameter", diameter),
        ("cutting_mm", "--cutting-length", cutting_length),
        ("angle_deg", "--angle", angle),
        ("tip_mm", "--tip", tip),
        ("shank_mm", "--shank", shank),
    ):
        if text is not None:
            (fields[field],) = _numbers(word, text, 1)
    for field, word, text in (("flutes", "--flutes", flutes), ("number", "--number", number)):
        if text is not None:
            (value,) = _numbers(word, text, 1)
            if not value.is_integer():
                raise SettingsError(f"{word} is {text}; it must be a whole number.")
            fields[field] = int(value)
    return fields


def _machine_fields(
    travel: str | None,
    speeds: dict[str, str | None],
    spindle: str | None,
    arcs: bool | None,
    tool_change: bool | None,
    change_time: str | None,
    safe_height: str | None,
    corner: str | None,
) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if travel is not None:
        fields["reach_mm"] = _numbers("--travel", travel, 3)
    if spindle is not None:
        fields["rpm"] = _numbers("--spindle", spindle, 2)
    units = {"acceleration": "acceleration_mm_s2"}
    single = {units.get(word, f"{word}_mm_min"): (f"--{word}", text) for word, text in speeds.items()}
    single |= {"change_s": ("--change-time", change_time), "safe_mm": ("--safe-height", safe_height)}
    single |= {"junction_mm": ("--corner", corner)}
    for field, (word, text) in single.items():
        if text is not None:
            (fields[field],) = _numbers(word, text, 1)
    fields |= {} if arcs is None else {"arcs": arcs}
    return fields | ({} if tool_change is None else {"tool_change": tool_change})


def _own_lines(begin: list[str] | None, end: list[str] | None) -> dict[str, Any]:
    given = {"begin": begin, "end": end}
    return {name: () if lines == [""] else tuple(lines) for name, lines in given.items() if lines is not None}


def _edited(what: str, fields: dict[str, Any], notes: str | None) -> None:
    """Put the notes to what is changed. Raises SettingsError when nothing is."""
    if notes is not None:
        fields["notes"] = notes
    if not fields:
        raise SettingsError(f"Say what to change; blockwright shelf {what} edit --help lists what can be.")


def _numbers(word: str, text: str, many: int) -> tuple[float, ...]:
    """So many numbers with spaces, an x or a "to" between them, with a decimal point or comma."""
    parts = re.sub(r"\s(?:x|to)\s|[x×]", " ", text.strip()).split()
    try:
        numbers = tuple(float(part.replace(",", ".")) for part in parts)
    except ValueError:
        numbers = ()
    if len(numbers) != many:
        wanted = "a number" if many == 1 else f"{many} numbers with spaces between them"
        raise SettingsError(f"{word} is {text}; it must be {wanted}, without a unit.")
    return numbers


_WORDS = {
    "kind": "kind: {}",
    "number": "number in the tool table: {}",
    "diameter_mm": "diameter: {} mm",
    "angle_deg": "whole angle at the tip: {} degrees",
    "tip_mm": "tip: {} mm",
    "flutes": "flutes: {}",
    "cutting_mm": "cutting length: {} mm",
    "shank_mm": "shank: {} mm",
    "travel_mm": "travel: {} mm",
    "feed_mm_min": "feed: {} mm a minute",
    "plunge_mm_min": "feed straight down: {} mm a minute",
    "rapid_mm_min": "above the work: {} mm a minute",
    "acceleration_mm_s2": "acceleration: {} mm/s2",
    "rpm": "spindle: {} turns a minute",
    "safe_mm": "safe height: {} mm",
    "junction_mm": "may cut a corner by: {} mm",
    "change_s": "a change of bits takes: {} s",
    "begin": "begins with: {}",
    "end": "ends with: {}",
    "notes": "notes: {}",
}
"""How what is told of a bit or a machine is said, in this order."""

_BETWEEN = {"travel_mm": " x ", "rpm": " to ", "begin": " | ", "end": " | "}


def _shown(told: dict[str, Any]) -> Iterator[str]:
    yield f"{told['name']}{', retired' if told['retired'] else ''}"
    slender = told.get("kind") in ("V", "tapered")
    for name, words in _WORDS.items():
        value = told.get(name)
        if value in (None, "", []) or (name in ("angle_deg", "tip_mm") and not slender):
            continue
        if isinstance(value, list):
            yield words.format(_BETWEEN[name].join(_said(each) for each in value))
        else:
            yield words.format(_said(value))
    if "arcs" in told:
        yield "takes arcs" if told["arcs"] else "takes no arcs"
        yield "a program may change bits" if told["tool_change"] else "each bit has a program of its own"


def _said(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
