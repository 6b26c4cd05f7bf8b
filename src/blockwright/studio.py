"""The studio: its database, opened where it lies, and what the app and the commands do with its shelf.

Every function takes an open :class:`blockwright.ledger.Ledger` (:func:`open_studio`) and is one transaction:
it is kept whole, or not at all. Inks that are impossible or not there raise InkError, a database that refuses
raises StudioError; each says so in one sentence.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from blockwright import ledger
from blockwright.colour.matched import colour_reflectance
from blockwright.colour.mixed_optics import Film, condensed, mixed_film
from blockwright.colour.nearby import NearInk, nearest_inks
from blockwright.colour.passes import passes_on_paper
from blockwright.colour.wanted import read_colour
from blockwright.ledger.sheets import TABLES, read_sheet
from blockwright.ledger.values import least_sure
from blockwright.model.errors import InkError, StudioError
from blockwright.model.home import DATABASE_NAME, home_folder
from blockwright.model.inks import MixedInk, Optics, Origin, Part, Pigment, Shelf
from blockwright.model.shelf import ShelfPigment, Swatch, Use, Weighing

if TYPE_CHECKING:
    from blockwright.ledger import Ledger, TakenIn

__all__ = [
    "NearInk",
    "add_ink",
    "add_pigment",
    "add_recipe",
    "add_swatch",
    "by_recipe",
    "edit_ink",
    "edit_pigment",
    "export_tables",
    "find",
    "find_ink",
    "import_tables",
    "list_inks",
    "list_pigments",
    "nearest_on",
    "nearest_pigments",
    "note_use",
    "now",
    "open_studio",
    "passes_on",
    "read_shelf",
    "recipe_film",
    "seed",
    "shelf_pigments",
    "show_ink",
    "show_pigment",
    "swatches_of",
    "today",
    "uses",
    "weigh",
    "weighings",
]

LARGEST_SHEET_BYTES = 64 * 2**20
"""A larger file is no list of a studio's inks: ten thousand of them take half of it."""

Where = str | Path | None
"""A file, the address of a PostgreSQL server, or None for ``studio.db`` in the home folder."""


def seed(pigments: Sequence[Pigment], *, at_hand: Collection[str] | None = None) -> tuple[ShelfPigment, ...]:
    """The pigments that a new database begins with; ``at_hand`` names those on the shelf, or all are."""
    return tuple(
        ShelfPigment(
            replace(each, optics=condensed(each.optics)), on_shelf=at_hand is None or each.name in at_hand
        )
        for each in pigments
    )


def open_studio(where: Where = None, *, pigments: Callable[[], Sequence[Pigment]] | None = None) -> "Ledger":
    """Open the studio's database. A new one begins with ``pigments``, the program's own if not given.

    The home folder is made when it is not there; a folder that was named is not. Raises StudioError when the
    database cannot be opened, is damaged, newer than this program, or in use.
    """
    place = where
    if place is None:
        home = home_folder()
        try:
            home.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise StudioError(f"The folder {home} cannot be made ({error.strerror}).") from error
        place = home / DATABASE_NAME
    return ledger.open_ledger(
        place, first_pigments=lambda: _shipped() if pigments is None else seed(pigments())
    )


def shelf_pigments(where: Where = None) -> tuple[Pigment, ...]:
    """The pigments that are at hand and not retired, by name, exactly as kept; nothing is made or changed.

    Where there is no database yet: those it would begin with. Raises StudioError as :func:`open_studio`.
    """
    found = ledger.open_to_read(home_folder() / DATABASE_NAME if where is None else where)
    if found is None:
        kept = sorted(_shipped(), key=lambda each: each.pigment.name)
    else:
        with found.reading() as connection:
            kept = list(ledger.all_pigments(connection))
    return tuple(each.pigment for each in kept if each.on_shelf and not each.retired)


def read_shelf(where: Where = None) -> Shelf:
    """All that prints can be mixed and printed with: pigments by name, mixed inks by number; none retired.

    Nothing is made or changed; where there is no database yet: what it would begin with. Raises StudioError
    as :func:`open_studio`.
    """
    found = ledger.open_to_read(home_folder() / DATABASE_NAME if where is None else where)
    if found is None:
        return Shelf(shelf_pigments(where))
    with found.reading() as connection:
        pigments, inks = ledger.all_pigments(connection), ledger.all_inks(connection)
    return Shelf(
        tuple(each.pigment for each in pigments if each.on_shelf and not each.retired),
        tuple(each for each in inks if not each.retired),
    )


def list_pigments(studio: "Ledger", search: str = "", *, retired: bool = False) -> tuple[ShelfPigment, ...]:
    """Pigments by name, those in whose name, Colour Index name or notes the words of ``search`` stand."""
    with studio.reading() as connection:
        found = ledger.all_pigments(connection)
    return tuple(
        each
        for each in sorted(found, key=lambda kept: kept.pigment.name.casefold())
        if (retired or not each.retired)
        and _matches(search, each.pigment.name, each.pigment.colour_index or "", each.notes)
    )


def list_inks(studio: "Ledger", search: str = "", *, retired: bool = False) -> tuple[MixedInk, ...]:
    """Mixed inks by number, those in whose name, parts, place or notes the words of ``search`` stand."""
    with studio.reading() as connection:
        found = ledger.all_inks(connection)
    return tuple(
        each
        for each in found
        if (retired or not each.retired)
        and _matches(search, each.name, *(part.pigment for part in each.parts), each.place, each.notes)
    )


def nearest_pigments(
    pigments: Sequence[ShelfPigment], colour: str, *, paper: str
) -> tuple[tuple[ShelfPigment, NearInk], ...]:
    """Pigments by how near they come to a colour undiluted, the nearest first; as :func:`nearest_on`."""
    alone = [
        MixedInk(place, each.pigment.name, (), 0.0, each.pigment.optics, each.pigment.origin)
        for place, each in enumerate(pigments)
    ]
    return tuple((pigments[near.ink.number], near) for near in nearest_on(alone, colour, paper=paper))


def nearest_on(inks: Sequence[MixedInk], colour: str, *, paper: str) -> tuple[NearInk, ...]:
    """Mixed inks by how near they come to a colour on a paper, both as they are typed; the nearest first.

    Raises SettingsError when one is no colour.
    """
    wanted = read_colour(colour, name="The colour to compare with")
    return nearest_inks(inks, wanted, colour_reflectance(paper))


def passes_on(optics: Optics, paper_hex: str, *, transfer: Sequence[float] = (1.0,)) -> tuple[str, ...]:
    """What one pass to four passes look like on a paper, as ``#rrggbb``. Raises SettingsError."""
    return passes_on_paper(optics.k, optics.s, paper_hex, transfer=transfer)


def find(studio: "Ledger", called: str) -> ShelfPigment | MixedInk:
    """What stands on the shelf under a name or, for a mixed ink, under its number; retired or not.

    A name is first that of a pigment. Raises InkError when there is none, or several mixed inks bear it.
    """
    if called.isdecimal():
        return show_ink(studio, int(called))
    with studio.reading() as connection:
        pigments, inks = ledger.all_pigments(connection), ledger.all_inks(connection)
        for pigment in pigments:
            if pigment.pigment.name.casefold() == called.casefold():
                return pigment
        named = [ink for ink in inks if ink.name.casefold() == called.casefold()]
        named = [ink for ink in named if not ink.retired] or named
        if not named:
            return ledger.pigment_named(connection, called)  # which proposes names
    if len(named) > 1:
        numbers = " and ".join(str(ink.number) for ink in named)
        raise InkError(f"Several mixed inks are called {called}: give the number, {numbers}.")
    return named[0]


def find_ink(studio: "Ledger", called: str) -> MixedInk:
    """A mixed ink by its number or name. Raises InkError as :func:`find`, and for a pigment."""
    found = find(studio, called)
    if isinstance(found, ShelfPigment):
        raise InkError(f"{called} is a pigment, not a mixed ink; blockwright shelf list shows the numbers.")
    return found


def show_pigment(studio: "Ledger", name: str) -> ShelfPigment:
    """One pigment by its name. Raises InkError that proposes names when there is none."""
    with studio.reading() as connection:
        return ledger.pigment_named(connection, name)


def show_ink(studio: "Ledger", number: int) -> MixedInk:
    """One mixed ink by its number. Raises InkError when there is none."""
    with studio.reading() as connection:
        return ledger.ink_numbered(connection, number)


def add_pigment(
    studio: "Ledger", pigment: Pigment, *, on_shelf: bool = True, notes: str = ""
) -> ShelfPigment:
    """Keep a new pigment. Raises InkError when it is impossible or its name is taken."""
    kept = ShelfPigment(replace(pigment, optics=condensed(pigment.optics)), on_shelf=on_shelf, notes=notes)
    with studio.writing() as connection:
        ledger.add_pigment(connection, kept)
        return ledger.pigment_named(connection, pigment.name)


def edit_pigment(studio: "Ledger", name: str, **fields: Any) -> ShelfPigment:
    """Change fields of a pigment: those of Pigment but the name, ``on_shelf``, ``notes`` and ``retired``.

    Raises InkError when it is not there or a value is impossible.
    """
    own = {key: fields.pop(key) for key in ("on_shelf", "notes", "retired") if key in fields}
    with studio.writing() as connection:
        before = ledger.pigment_named(connection, name)
        pigment = replace(before.pigment, **fields)
        kept = replace(before, pigment=replace(pigment, optics=condensed(pigment.optics)), **own)
        ledger.change_pigment(connection, kept)
        return ledger.pigment_named(connection, name)


def recipe_film(studio: "Ledger", parts: Sequence[Part]) -> tuple[Film, Origin]:
    """Optics and transfer of a mixture of pigments on the shelf; the origin of the one least surely known.

    What the shares leave of the whole is paste. Raises InkError when a pigment or a share cannot be.
    """
    with studio.reading() as connection:
        pigments = [ledger.pigment_named(connection, part.pigment).pigment for part in parts]
    film = mixed_film(pigments, [part.share for part in parts])
    return film, least_sure(each.origin for each in pigments)


def add_recipe(
    studio: "Ledger",
    name: str,
    parts: Sequence[Part],
    *,
    pot_g: float | None = None,
    density_g_per_ml: float = 1.0,
    made_on: str | None = None,
    place: str = "",
    notes: str = "",
) -> MixedInk:
    """Keep a new ink that was mixed from pigments of the shelf; its optics are computed from theirs.

    What the shares leave of the whole is paste. Raises InkError when the recipe is impossible.
    """
    paste = 1.0 - sum(part.share for part in parts)
    (optics, transfer), origin = recipe_film(studio, parts)
    ink = MixedInk(
        number=0,
        name=name,
        parts=tuple(parts),
        paste_share=0.0 if abs(paste) < 1e-9 else paste,
        optics=optics,
        origin=origin,
        pot_g=pot_g,
        density_g_per_ml=density_g_per_ml,
        made_on=made_on,
        place=place,
        notes=notes,
        transfer=transfer,
    )
    return add_ink(studio, ink)


def add_ink(studio: "Ledger", ink: MixedInk, *, at: datetime | None = None) -> MixedInk:
    """Keep a mixed ink whose optics are known; it is given a new number. Raises InkError when impossible."""
    with studio.writing() as connection:
        condensed_ink = replace(ink, optics=condensed(ink.optics))
        return ledger.add_ink(connection, condensed_ink, at=at or now())


def edit_ink(studio: "Ledger", number: int, **fields: Any) -> MixedInk:
    """Change fields of a mixed ink, all but number, ``pot_g`` and ``used_in``. Raises InkError.

    Another recipe does not change what the ink looks like: give what is reckoned from it too
    (:func:`by_recipe`). What its own swatch told stays until then, whatever recipe is written.
    """
    with studio.writing() as connection:
        changed = replace(ledger.ink_numbered(connection, number), **fields)
        ledger.change_ink(connection, replace(changed, optics=condensed(changed.optics)))
        return ledger.ink_numbered(connection, number)


def by_recipe(studio: "Ledger", ink: MixedInk) -> dict[str, Any]:
    """The fields of a mixed ink that are other when its colour is reckoned from its recipe, for
    :func:`edit_ink`, as its pigments are known now. Raises InkError when there is no recipe.
    """
    if not ink.parts:
        raise InkError(f"{ink.name} has no recipe from which its colour could be reckoned.")
    (optics, transfer), origin = recipe_film(studio, ink.parts)
    return {"optics": optics, "transfer": transfer, "origin": origin, "known_by": "recipe"}


def weigh(studio: "Ledger", number: int, weight_g: float, *, at: datetime | None = None) -> MixedInk:
    """Note what the pot of a mixed ink holds, in grams without the pot. Raises InkError."""
    with studio.writing() as connection:
        ledger.add_weighing(connection, Weighing(number, weight_g, at or now()))
        return ledger.ink_numbered(connection, number)


def weighings(studio: "Ledger", number: int) -> tuple[Weighing, ...]:
    """All weighings of a mixed ink, the earliest first."""
    with studio.reading() as connection:
        return ledger.all_weighings(connection, number)


def note_use(
    studio: "Ledger", number: int, *, folder: str, title: str, impression: str, at: datetime | None = None
) -> MixedInk:
    """Note that a mixed ink printed an impression of a print. Raises InkError."""
    with studio.writing() as connection:
        ledger.add_use(connection, Use(number, folder, title, impression, at or now()))
        return ledger.ink_numbered(connection, number)


def uses(studio: "Ledger", number: int) -> tuple[Use, ...]:
    """Where a mixed ink was used, the earliest first."""
    with studio.reading() as connection:
        return ledger.all_uses(connection, number)


def add_swatch(studio: "Ledger", swatch: Swatch) -> Swatch:
    """Keep a swatch; it is given a number. Raises InkError when it is impossible, or of nothing there."""
    with studio.writing() as connection:
        return ledger.add_swatch(connection, swatch)


def swatches_of(studio: "Ledger", of: str | int | None = None) -> tuple[Swatch, ...]:
    """The swatches of a pigment (by name) or of a mixed ink (by number), or all."""
    with studio.reading() as connection:
        return ledger.all_swatches(connection, of)


def export_tables(studio: "Ledger", folder: Path) -> tuple[Path, ...]:
    """Write everything in the database as tables for a spreadsheet into a folder; none there is overwritten.

    Raises StudioError when a table is there already or the folder cannot be written.
    """
    with studio.reading() as connection:
        written = ledger.written_sheets(connection)
    files = {folder / name: text for name, text in written.items()}
    there = [file for file in files if file.exists()]
    if there:
        raise StudioError(f"{there[0]} is there already and is not overwritten; name a new folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for file, text in files.items():
            beside = file.with_name(file.name + ".part")
            # The mark at its head is how spreadsheets know UTF-8.
            beside.write_text(text, encoding="utf-8-sig", newline="")
            beside.replace(file)
    except OSError as error:
        raise StudioError(f"{folder} cannot be written ({error.strerror}).") from error
    return tuple(files)


def import_tables(studio: "Ledger", path: Path, *, at: datetime | None = None) -> "tuple[TakenIn, ...]":
    """Take in a table, or all that lie in a folder: every line of them, or none.

    A line changes what bears its name or number; columns that are left out leave what is there. A mixed ink
    with a recipe and no K and S gets those of its recipe. Raises InkError that names file, line and column.
    """
    files = [path]
    if path.is_dir():
        files = [path / table.file_name for table in TABLES if (path / table.file_name).is_file()]
        if not files:
            names = ", ".join(table.file_name for table in TABLES)
            raise StudioError(f"{path} has none of the tables {names}.")
    sheets = [read_sheet(file.name, _content(file)) for file in files]
    with studio.writing() as connection:
        return ledger.take_in(connection, sheets, mix=mixed_film, at=at or now())


def now() -> datetime:
    """The time, in UTC."""
    return datetime.now(UTC)


def today() -> str:
    """The date here, YYYY-MM-DD."""
    return date.today().isoformat()


def _content(file: Path) -> bytes:
    try:
        # Not by its size on the disk, which a pipe or a device does not have.
        with file.open("rb") as opened:
            content = opened.read(LARGEST_SHEET_BYTES + 1)
    except OSError as error:
        raise StudioError(f"{file} cannot be read ({error.strerror}).") from error
    if len(content) > LARGEST_SHEET_BYTES:
        raise StudioError(f"{file} is too large for a table of inks; {LARGEST_SHEET_BYTES >> 20} MB is most.")
    return content


def _matches(search: str, *texts: str) -> bool:
    """Whether every word stands in one of the texts, whatever the case."""
    whole = "\n".join(texts).casefold()
    return all(word in whole for word in search.casefold().split())


def _shipped() -> tuple[ShelfPigment, ...]:
    """The program's own pigments; those of the starter set are taken to be at hand."""
    from blockwright.colour.pigments import shipped_pigments, starter_pigments

    return seed(shipped_pigments(), at_hand={each.name for each in starter_pigments()})
