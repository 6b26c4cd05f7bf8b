"""The commands of the shelf: each reads its words and calls one function of :mod:`blockwright.studio`."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from blockwright.cli_bits import bit_app, bit_lines, machine_app, machine_lines
from blockwright.cli_saying import AsJson, Studio, count
from blockwright.cli_saying import show as tell
from blockwright.model.errors import SettingsError
from blockwright.telling import tell_bit, tell_machine, tell_mixed_ink, tell_pigment

if TYPE_CHECKING:
    from blockwright.model.inks import MixedInk, Optics, Part
    from blockwright.model.shelf import ShelfPigment

PAPER = "#f6efdf"
"""The colour of a paper where none is named; the same as in a new print.toml."""

shelf = typer.Typer(
    name="shelf",
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=False,
    short_help="The pigments, mixed inks, bits and machines of the studio.",
    help="The pigments, mixed inks, router bits and machines of the studio, in its database. "
    "Each of these commands takes --json.",
)
shelf.add_typer(bit_app, name="bit", short_help="The router bits of the studio.")
shelf.add_typer(machine_app, name="machine", short_help="The routers of the studio.")

Called = Annotated[
    str, typer.Argument(metavar="NAME", help="A pigment's name, or a mixed ink's number or name.")
]
Paper = Annotated[str, typer.Option("--paper", metavar="COLOUR", help="The paper's colour, #rrggbb.")]
Density = Annotated[
    str | None,
    typer.Option("--density", metavar="G_PER_ML", help="What a millilitre weighs, g."),
]
Notes = Annotated[str | None, typer.Option("--notes", metavar="TEXT", help="Notes of your own.")]
Place = Annotated[str | None, typer.Option("--place", metavar="TEXT", help="Where a mixed ink's pot stands.")]


@shelf.command("list", short_help="List pigments, mixed inks, bits and machines.")
def list_(
    search: Annotated[
        str | None,
        typer.Argument(metavar="[WORDS]", help="Only what has these words in its name, recipe or notes."),
    ] = None,
    like: Annotated[
        str | None,
        typer.Option(
            "--like", metavar="COLOUR", help="Mixed inks by how near they come to #rrggbb or L,a,b."
        ),
    ] = None,
    paper: Paper = PAPER,
    retired: Annotated[bool, typer.Option("--retired", help="Show those that are retired, too.")] = False,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """List pigments, mixed inks, router bits and machines; with ``--like`` the mixed inks that come nearest
    to a colour.
    """
    from blockwright import bits
    from blockwright import studio as house

    opened = house.open_studio(studio)
    inks = house.list_inks(opened, search or "", retired=retired)
    if like is not None:
        near = house.nearest_on(inks, like, paper=paper)
        told = [
            {
                **tell_mixed_ink(each.ink),
                "passes": each.passes,
                "predicted_lab": list(each.lab),
                "predicted_hex": each.srgb_hex,
                "delta_e00": each.delta_e00,
            }
            for each in near
        ]
        lines = [
            f"{each.ink.number:>5}  {each.ink.name}: {each.delta_e00:.1f} away (CIEDE2000) "
            f"in {count(each.passes, 'pass', 'passes')}, {each.srgb_hex}"
            for each in near
        ]
        tell({"studio": opened.name, "inks": told}, as_json, lines or ["There is no mixed ink to compare."])
        return
    pigments = house.list_pigments(opened, search or "", retired=retired)
    own_bits = bits.list_bits(opened, search or "", retired=retired)
    machines = bits.list_machines(opened, search or "", retired=retired)
    tell(
        {
            "studio": opened.name,
            "pigments": [tell_pigment(each) for each in pigments],
            "inks": [tell_mixed_ink(each) for each in inks],
            "bits": [tell_bit(each) for each in own_bits],
            "machines": [tell_machine(each) for each in machines],
        },
        as_json,
        [*_list_lines(pigments, inks), *bit_lines(own_bits), *machine_lines(machines)]
        or ["Nothing on the shelf has these words."],
    )


@shelf.command(short_help="Show one pigment or mixed ink.")
def show(called: Called, paper: Paper = PAPER, studio: Studio = None, as_json: AsJson = False) -> None:
    """Show one pigment or mixed ink: all that is known of it, and its colour after one pass to four."""
    from blockwright import studio as house
    from blockwright.model.inks import MixedInk

    opened = house.open_studio(studio)
    found = house.find(opened, called)
    if isinstance(found, MixedInk):
        of: str | int = found.number
        told = {**tell_mixed_ink(found), **_bands(found.optics)}
        told["passes_hex"] = list(house.passes_on(found.optics, paper, transfer=found.transfer))
        told["weighings"] = [_timed(asdict(each)) for each in house.weighings(opened, found.number)]
        told["uses"] = [_timed(asdict(each)) for each in house.uses(opened, found.number)]
    else:
        pigment = found.pigment
        of = pigment.name
        told = {**tell_pigment(found), **_bands(pigment.optics)}
        told["passes_hex"] = list(house.passes_on(pigment.optics, paper, transfer=pigment.transfer))
    told["swatches"] = [asdict(each) for each in house.swatches_of(opened, of)]
    tell({"studio": opened.name, **told}, as_json, list(_show_lines(told)))


@shelf.command(short_help="Add a mixed ink from its recipe, or a pigment.")
def add(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the new ink or pigment is called.")],
    part: Annotated[
        list[str] | None,
        typer.Option(
            "--part",
            metavar="'PARTS PIGMENT'",
            help="Parts by volume of a pigment on the shelf, such as '3 rose'; once for each pigment.",
        ),
    ] = None,
    paste: Annotated[
        str, typer.Option("--paste", metavar="PARTS", help="Parts by volume of paste, glycerin and water.")
    ] = "0",
    like: Annotated[
        str | None,
        typer.Option(
            "--as", metavar="PIGMENT", help="Add a pigment of your own: begin with all that is known of this."
        ),
    ] = None,
    pot: Annotated[
        str | None, typer.Option("--pot", metavar="GRAMS", help="What the pot holds, g without the pot.")
    ] = None,
    density: Density = None,
    made_on: Annotated[
        str | None, typer.Option("--made-on", metavar="DATE", help="When it was mixed; left out, today.")
    ] = None,
    place: Place = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Add a mixed ink from its recipe, or with ``--as`` a pigment of your own.

    The colour of a mixed ink is computed from its pigments. Pigments with measured K and S come in by
    ``import``.
    """
    from dataclasses import replace

    from blockwright import studio as house

    weight = None if density is None else _number("--density", density)
    if (like is None) == (not part):
        raise SettingsError("Give --part once for each pigment of a mixed ink, or --as for a pigment.")
    opened = house.open_studio(studio)
    if like is not None:
        if pot is not None or made_on is not None or place is not None or paste != "0":
            raise SettingsError(
                "--pot, --made-on, --place and --paste are for mixed inks, not for a pigment."
            )
        known = house.show_pigment(opened, like).pigment
        source = f"taken to be as {known.name} ({known.source})"
        own = replace(known, name=name, source=source, density_g_per_ml=weight or known.density_g_per_ml)
        kept = house.add_pigment(opened, own, notes=notes or "")
        tell(tell_pigment(kept), as_json, [f"{name} stands on the shelf, with the colour of {known.name}."])
        return
    ink = house.add_recipe(
        opened,
        name,
        _parts(part or [], _number("--paste", paste)),
        pot_g=None if pot is None else _number("--pot", pot),
        density_g_per_ml=1.0 if weight is None else weight,
        made_on=made_on or house.today(),
        place=place or "",
        notes=notes or "",
    )
    tell(tell_mixed_ink(ink), as_json, [f"{name} stands on the shelf as number {ink.number}."])


@shelf.command(short_help="Change what is known of a pigment or mixed ink.")
def edit(
    called: Called,
    lightfastness: Annotated[
        str | None,
        typer.Option(
            "--lightfastness",
            metavar="CLASS",
            help="ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8; '' when not known.",
        ),
    ] = None,
    hazard: Annotated[
        str | None, typer.Option("--hazard", metavar="TEXT", help="A caution; '' when none is known.")
    ] = None,
    density: Density = None,
    on_shelf: Annotated[
        bool | None, typer.Option("--on-shelf/--off-shelf", help="Whether a pigment is at hand.")
    ] = None,
    from_recipe: Annotated[
        bool,
        typer.Option(
            "--from-recipe",
            help="Reckon the colour of a mixed ink from its recipe anew, whatever its own swatch told.",
        ),
    ] = False,
    place: Place = None,
    notes: Notes = None,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Change what is known of a pigment or mixed ink; what is left out stays."""
    from blockwright import studio as house
    from blockwright.model.inks import MixedInk

    both = {
        "density_g_per_ml": None if density is None else _number("--density", density),
        "notes": notes,
    }
    own = {"lightfastness": lightfastness, "hazard": hazard, "on_shelf": on_shelf}
    opened = house.open_studio(studio)
    found = house.find(opened, called)
    others = own if isinstance(found, MixedInk) else {"place": place, "from_recipe": from_recipe or None}
    if any(value is not None for value in others.values()):
        word = " and ".join(
            f"--{name.replace('_', '-')}" for name, value in others.items() if value is not None
        )
        raise SettingsError(f"{word} cannot be said of a {_kind(found)}, which {called} is.")
    given = both | ({"place": place} if isinstance(found, MixedInk) else own)
    fields = {name: value for name, value in given.items() if value is not None}
    if not fields and not from_recipe:
        raise SettingsError("Say what to change; blockwright shelf edit --help lists what can be.")
    if isinstance(found, MixedInk):
        if from_recipe:
            fields |= house.by_recipe(opened, found)
        told = tell_mixed_ink(house.edit_ink(opened, found.number, **fields))
    else:
        emptied = {name: fields[name] or None for name in ("lightfastness", "hazard") if name in fields}
        told = tell_pigment(house.edit_pigment(opened, found.pigment.name, **(fields | emptied)))
    tell(told, as_json, [f"{told['name']} is changed."])


@shelf.command(short_help="Note what a pot holds.")
def weigh(
    called: Annotated[str, typer.Argument(metavar="INK", help="A mixed ink's number or name.")],
    grams: Annotated[str, typer.Argument(metavar="GRAMS", help="What the pot holds, g without the pot.")],
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Note what the pot of a mixed ink holds; earlier weighings are kept."""
    from blockwright import studio as house

    weight_g = _number("GRAMS", grams)
    opened = house.open_studio(studio)
    before = house.find_ink(opened, called)
    ink = house.weigh(opened, before.number, weight_g)
    change = "" if before.pot_g is None else f", {weight_g - before.pot_g:+.1f} g since the last weighing"
    tell(tell_mixed_ink(ink), as_json, [f"The pot of {ink.name} holds {weight_g:g} g{change}."])


@shelf.command(short_help="Note which impression of a print an ink printed.")
def used(
    called: Annotated[str, typer.Argument(metavar="INK", help="A mixed ink's number or name.")],
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The print's folder.")],
    impression: Annotated[
        str,
        typer.Argument(metavar="IMPRESSION", help="The impression that was printed with it, by its name."),
    ],
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Note that a mixed ink printed an impression of a print; ``show`` tells where an ink was used."""
    from blockwright import studio as house

    opened = house.open_studio(studio)
    ink = house.find_ink(opened, called)
    title, name = _printed(folder, impression)
    noted = house.note_use(opened, ink.number, folder=str(folder.resolve()), title=title, impression=name)
    tell(tell_mixed_ink(noted), as_json, [f"{ink.name} printed {name} of {title}."])


@shelf.command(short_help="Retire a pigment or mixed ink.")
def retire(
    called: Called,
    back: Annotated[bool, typer.Option("--back", help="Take it into use again.")] = False,
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Retire a pigment or mixed ink: it is kept, with all its records, and proposed no more."""
    from blockwright import studio as house
    from blockwright.model.inks import MixedInk

    opened = house.open_studio(studio)
    found = house.find(opened, called)
    if isinstance(found, MixedInk):
        told = tell_mixed_ink(house.edit_ink(opened, found.number, retired=not back))
    else:
        told = tell_pigment(house.edit_pigment(opened, found.pigment.name, retired=not back))
    tell(told, as_json, [f"{told['name']} is {'in use again' if back else 'retired'}."])


@shelf.command("import", short_help="Take in tables from a spreadsheet.")
def import_(
    path: Annotated[
        Path, typer.Argument(metavar="FILE", help="A CSV table, or a folder of those that export writes.")
    ],
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Take in tables of what stands on the shelf, of weighings or uses: every line, or none of them."""
    from blockwright import studio as house

    taken = house.import_tables(house.open_studio(studio), path)
    lines = [
        f"{each.table}: {each.added} added, {each.changed} changed, {each.known} as they were."
        for each in taken
    ]
    tell({"tables": [asdict(each) for each in taken]}, as_json, lines)


@shelf.command(short_help="Write everything as tables for a spreadsheet.")
def export(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A new folder.")],
    studio: Studio = None,
    as_json: AsJson = False,
) -> None:
    """Write everything in the studio's database as CSV tables into a folder."""
    from blockwright import studio as house

    files = house.export_tables(house.open_studio(studio), folder)
    tell({"files": [str(file) for file in files]}, as_json, [f"{file} is written." for file in files])


_WORDS = {
    "colour_index": "Colour Index name: {}",
    "passes_hex": "one pass to four: {}",
    "pot_g": "in the pot: {} g",
    "density_g_per_ml": "density: {} g/ml",
    "lightfastness": "lightfastness: {}",
    "hazard": "caution: {}",
    "transfer": "later passes lay down, of the first: {}",
    "made_on": "mixed on: {}",
    "place": "place: {}",
    "used_in": "used in: {}",
    "known_by": "known by its {}",
    "origin": "its colour is: {}",
    "source": "source: {}",
    "notes": "notes: {}",
}
"""How what is told of a pigment or an ink is said, in this order."""


def _kind(found: "ShelfPigment | MixedInk") -> str:
    from blockwright.model.inks import MixedInk

    return "mixed ink" if isinstance(found, MixedInk) else "pigment"


def _number(word: str, text: str) -> float:
    try:
        return float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        raise SettingsError(f"{word} is {text}; it must be a number, without a unit.") from None


def _printed(folder: Path, impression: str) -> tuple[str, str]:
    """The title of a print, and the name of its impression as it is spelled."""
    from blockwright.decisions import read_decisions
    from blockwright.project import make

    title = read_decisions(folder).print.title or folder.resolve().name
    names = [each.name for each in make(folder, upto="separation").stages[-1].value.inked]
    for name in names:
        if name.casefold() == impression.strip().casefold():
            return title, name
    raise SettingsError(f"{folder} has no impression {impression}; there are {', '.join(names)}.")


def _said(value: Any) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def _parts(words: Sequence[str], paste: float) -> "tuple[Part, ...]":
    """A recipe in parts by volume, as shares of the whole."""
    from blockwright.model.inks import Part

    found = []
    for each in words:
        number, _, name = each.strip().partition(" ")
        if not name.strip():
            raise SettingsError(f"--part is {each}; write the parts and the pigment, such as '3 rose'.")
        parts = _number("--part", number)
        if not 0.0 < parts < float("inf"):
            raise SettingsError(f"--part is {each}; the parts of a pigment are a number above 0.")
        found.append((name.strip(), parts))
    if not 0.0 <= paste < float("inf"):
        raise SettingsError(f"--paste is {paste:g}; the parts of paste are 0 or more.")
    whole = paste + sum(parts for _, parts in found)
    return tuple(Part(name, parts / whole) for name, parts in found)


def _bands(optics: "Optics") -> dict[str, Any]:
    return {"k": list(optics.k), "s": list(optics.s)}


def _timed(record: dict[str, Any]) -> dict[str, Any]:
    return {**record, "at": record["at"].isoformat()}


def _recipe(ink: dict[str, Any]) -> str:
    parts = [f"{100 * part['share']:.3g} % {part['pigment']}" for part in ink["parts"]]
    paste = [f"{100 * ink['paste_share']:.3g} % paste"] if ink["paste_share"] else []
    return ", ".join([*parts, *paste]) if parts else "recipe not known"


def _list_lines(pigments: "Sequence[ShelfPigment]", inks: "Sequence[MixedInk]") -> Iterator[str]:
    for each in pigments:
        index = f" ({each.pigment.colour_index})" if each.pigment.colour_index else ""
        state = "" if each.on_shelf else ", not at hand"
        yield f"       {each.pigment.name}{index}: {each.pigment.origin}{state}{_retired(each.retired)}"
    for ink in inks:
        pot = "never weighed" if ink.pot_g is None else f"{ink.pot_g:g} g"
        swatch = ", known by its own swatch" if ink.known_by == "own swatch" else ""
        recipe = _recipe(tell_mixed_ink(ink))
        yield f"{ink.number:>5}  {ink.name}: {recipe}{swatch}; {pot}{_retired(ink.retired)}"


def _retired(is_it: bool) -> str:
    return ", retired" if is_it else ""


def _show_lines(told: dict[str, Any]) -> Iterator[str]:
    number = f" (mixed ink {told['number']})" if told["kind"] == "ink" else " (pigment)"
    yield f"{told['name']}{number}{_retired(told['retired'])}"
    if told["kind"] == "ink":
        yield f"recipe: {_recipe(told)}"
    for name, words in _WORDS.items():
        value = told.get(name)
        if name == "known_by" and value == "recipe" and not told["parts"]:
            continue
        if value not in (None, "", []):
            listed = "; ".join(map(_said, value)) if isinstance(value, list) else value
            yield words.format(f"{value:g}" if isinstance(value, float) else listed)
    if told.get("on_shelf") is False:
        yield "not at hand"
    if told["swatches"]:
        yield f"swatches: {len(told['swatches'])}"
    for each in told.get("weighings", []):
        yield f"weighed {each['at'][:16].replace('T', ' ')} UTC: {each['weight_g']:g} g"
