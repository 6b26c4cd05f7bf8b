"""One's own paints: calibration sheets that are kept while they are printed, and what their scans made known.

Every sheet lies in a folder of its own in the home folder, under its number: the PDF, the file that describes
it, and the last scan of each of its pages.
"""

import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING

from blockwright import studio
from blockwright.hashing import file_hash
from blockwright.keeping import KeepAs, Kept, NewAs, keep_swatches, numbered, pot_numbered
from blockwright.model.errors import BlockwrightError, FolderError, InkError, SettingsError
from blockwright.model.home import home_folder
from blockwright.model.inks import Pigment
from blockwright.model.shelf import Swatch
from blockwright.model.swatches import PatchPlace, SwatchPage, SwatchPlan
from blockwright.sheet_facts import SheetFacts, facts_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from blockwright.inks.swatch_fit import FoundInk
    from blockwright.ledger import Ledger
    from blockwright.swatches import ImportedTable, ReadPage, ReadSwatches

FOLDER_NAME = "sheets"
PDF_NAME, _DESCRIPTION = "sheet.pdf", "sheet.json"

Stamp = tuple[str, int, int]


@dataclass(frozen=True, slots=True)
class KeptSheet:
    """A calibration sheet that was drawn. ``inks`` are its paints; ``scans`` the last scan of each page."""

    number: int
    folder: Path
    pages: tuple[SwatchPage, ...]
    scans: tuple[Path, ...]

    @property
    def inks(self) -> tuple[str, ...]:
        """The names of its paints, in the order of their rows."""
        return tuple(row.parts[0][0] for row in self.pages[0].plan.rows if len(row.parts) == 1)

    @property
    def pdf(self) -> Path:
        """What is printed."""
        return self.folder / PDF_NAME


def draw_kept(
    inks: Sequence[str],
    mixes: Sequence[str] = (),
    *,
    paper: str = "A4",
    passes: int = 3,
    over_black: bool = True,
) -> KeptSheet:
    """Draw a calibration sheet and keep it; the same sheet again has the same number and keeps its scans.

    Raises SettingsError for what cannot be laid out, FolderError when it cannot be kept.
    """
    from blockwright.swatches import draw_sheet

    if not inks:
        raise SettingsError("Name one paint or more; each has a row of the sheet.")
    making = home_folder() / FOLDER_NAME / ".making"
    try:
        making.mkdir(parents=True, exist_ok=True)
        drawn = draw_sheet(
            making / PDF_NAME, inks=inks, mixes=mixes, paper=paper, passes=passes, over_black=over_black
        )
        folder = making.with_name(str(drawn.pages[0].number))
        folder.mkdir(exist_ok=True)
        for file in (drawn.pdf, drawn.description):
            file.replace(folder / file.name)
    except OSError as error:
        if isinstance(error, BlockwrightError):
            raise
        raise FolderError(f"The sheet could not be kept ({error.strerror}).") from error
    return kept_sheet(drawn.pages[0].number)


def kept_sheet(number: int) -> KeptSheet:
    """A sheet by its number. Raises InkError when there is none, or its description cannot be read."""
    from blockwright.swatches import read_description

    folder = home_folder() / FOLDER_NAME / str(number)
    if not (folder / _DESCRIPTION).is_file():
        raise InkError(f"Sheet {number} is not kept here any more; draw it anew.")
    return KeptSheet(
        number, folder, read_description(folder / _DESCRIPTION), tuple(sorted(folder.glob("page-*.*")))
    )


def kept_sheets() -> tuple[KeptSheet, ...]:
    """All sheets that are kept, the latest first; one whose description cannot be read is left out."""
    found = []
    for description in (home_folder() / FOLDER_NAME).glob(f"*/{_DESCRIPTION}"):
        if description.parent.name.isdecimal():
            try:
                found.append((description.stat().st_mtime_ns, kept_sheet(int(description.parent.name))))
            except (BlockwrightError, OSError):
                continue
    return tuple(sheet for _, sheet in sorted(found, key=lambda each: (-each[0], each[1].number)))


def take_scan(number: int, scan: Path, *, called: str) -> KeptSheet:
    """Take in a scan of a page of a sheet in the place of the last one of that page.

    It is ``called`` so in what is said of it. Raises InkError and PictureError when it cannot be read.
    """
    sheet = kept_sheet(number)
    coming = sheet.folder / f".coming{scan.suffix}"
    try:
        shutil.copyfile(scan, coming)
        page = _read_one(coming, sheet, called).reading.page.page
        for older in sheet.folder.glob(f"page-{page}.*"):
            older.unlink()
        coming.replace(sheet.folder / f"page-{page}{scan.suffix}")
    except OSError as error:
        if isinstance(error, BlockwrightError):
            raise
        raise FolderError(f"The scan could not be kept ({error.strerror}).") from error
    finally:
        coming.unlink(missing_ok=True)
    return kept_sheet(number)


def _read_one(scan: Path, sheet: KeptSheet, called: str) -> "ReadPage":
    from blockwright.swatches import read_scans

    try:
        return read_scans([scan], sheet.folder / _DESCRIPTION).pages[0]
    except BlockwrightError as error:
        raise type(error)(str(error).replace(scan.name, called)) from error


def read_kept(sheet: KeptSheet) -> "ReadSwatches | None":
    """What the scans of a sheet tell of its paints; None before there is one. Raises BlockwrightError."""
    if not sheet.scans:
        return None
    return _read(sheet.folder, tuple(_stamp(scan) for scan in sheet.scans), facts_of(sheet.folder))


@lru_cache(maxsize=4)
def _read(folder: Path, stamps: tuple[Stamp, ...], facts: SheetFacts) -> "ReadSwatches":
    """Reading takes seconds; what was read is kept while the scans and the facts stay as they are."""
    from blockwright.swatches import read_scans

    scans = [folder / name for name, _, _ in stamps]
    return read_scans(scans, folder / _DESCRIPTION, paper_is=facts.paper, chart=facts.chart)


def _stamp(path: Path) -> Stamp:
    try:
        seen = path.stat()
    except OSError as error:
        raise InkError(f"{path.name} is not kept here any more; drop the scan anew.") from error
    return path.name, seen.st_mtime_ns, seen.st_size


def source_of(sheet: KeptSheet) -> str:
    """What a pigment that a sheet made known says of where it is known from.

    With another paper or chart told it is read anew, and can be kept anew. Raises InkError.
    """
    facts = facts_of(sheet.folder)
    paper = f", paper measured as {facts.paper}" if facts.paper else ""
    chart = f", scanner corrected by {facts.called[0]}" if facts.chart else ""
    return f"calibration sheet {sheet.number}, scanned{paper}{chart}"


def keep_paint(shelf: "Ledger", sheet: KeptSheet, name: str, *, keep_as: KeepAs | None = None) -> Kept:
    """Keep a paint as the scans of a sheet tell it, with its swatches: as what its name means on the shelf.

    ``keep_as`` says otherwise; what is new is a pigment if it does not. Raises InkError when the scans tell
    nothing of it, or as :func:`blockwright.keeping.keep_swatches`.
    """
    read = read_kept(sheet)
    if read is None or name not in {each.name for each in read.found.inks}:
        raise InkError(f"The scans of sheet {sheet.number} tell nothing of {name}.")
    ways = {} if keep_as is None else {name: keep_as}
    (kept,) = keep_read(shelf, read, names={name}, source=source_of(sheet), keep_as=ways)
    return kept


def pots_kept(shelf: "Ledger", sheet: KeptSheet, read: "ReadSwatches") -> dict[str, int]:
    """For the paints of a sheet that its scans made known as mixed inks: the number of each.

    Only those that are known as the scans are read now: after the paper or a chart was told, a reading is
    another, and the pot can be kept anew.
    """
    own = {file_hash(scan) for scan in sheet.scans}
    found = {each.name: each.optics for each in read.found.inks}
    pots = {each.number: each.optics for each in studio.list_inks(shelf) if each.known_by == "own swatch"}
    return {
        each.notes: each.of
        for each in studio.swatches_of(shelf)
        if isinstance(each.of, int)
        and each.of in pots
        and each.file_sha256 in own
        and (now := found.get(each.notes)) is not None
        and (pots[each.of].k, pots[each.of].s) == (now.k, now.s)
    }


def keep_read(
    shelf: "Ledger",
    read: "ReadSwatches",
    *,
    names: set[str] | None = None,
    source: str | None = None,
    keep_as: Mapping[str, KeepAs] | None = None,
    new_as: NewAs = "pigment",
) -> tuple[Kept, ...]:
    """Keep inks that scans of a calibration sheet tell of, with a swatch for each patch of one ink alone.

    All that were found, or those of ``names``; ``source`` is what a pigment says of where it is known from;
    ``keep_as`` and ``new_as`` as for :func:`blockwright.keeping.keep_swatches`. All of it is kept, or
    nothing. Raises InkError or StudioError, one plain sentence.
    """
    told = source or "calibration sheet, " + ", ".join(each.scan.name for each in read.pages)
    found = [_pigment(ink, told) for ink in read.found.inks if names is None or ink.name in names]
    swatches = list(_scanned_swatches(read, {each.name for each in found}))
    return keep_swatches(shelf, found, read.found.paper, swatches, keep_as=keep_as, new_as=new_as)


def keep_imported(
    shelf: "Ledger",
    imported: "ImportedTable",
    table: Path,
    *,
    keep_as: Mapping[str, KeepAs] | None = None,
    new_as: NewAs = "pigment",
) -> tuple[Kept, ...]:
    """Keep the inks that a measured table tells of, with a swatch for each patch of one ink alone.

    ``keep_as`` and ``new_as`` as for :func:`blockwright.keeping.keep_swatches`. Raises InkError when the
    table tells of none, or StudioError.
    """
    if imported.found is None:
        raise InkError(
            f"{table.name} tells of samples, not of inks; with --sheet they are taken for the patches of a "
            "calibration sheet, and the inks can be kept."
        )
    found = [_pigment(ink, table.name) for ink in imported.found.inks]
    swatches = list(_measured_swatches(imported, {each.name: each for each in found}, table))
    return keep_swatches(shelf, found, imported.found.paper, swatches, keep_as=keep_as, new_as=new_as)


def names_on_sheet(
    inks: Sequence[str], mixes: Sequence[str], studio_place: str | None = None
) -> tuple[list[str], list[str]]:
    """What is written on a sheet for its inks and mixtures: after the number of a pot, its name.

    ``#12`` becomes ``#12 evening sea``, so that who prints it takes the right pot; the shelf is opened only
    where a number is named. Raises InkError when there is no such pot or it is retired, StudioError when the
    shelf cannot be opened.
    """
    given = [" ".join(each.split()) for each in inks]
    asked = [each for each in dict.fromkeys(given) if each == f"#{numbered(each)}"]
    if not asked:
        return given, list(mixes)
    from blockwright.inks.sheet import MOST_NAME

    pots = {each.number: each for each in studio.list_inks(studio.open_studio(studio_place), retired=True)}
    full: dict[str, str] = {}
    for each in asked:
        pot = pot_numbered(int(each[1:]), pots.values())
        # A plus parts the inks of a mixture, and the row has room for so many letters.
        name = " ".join(pot.name.replace("+", " and ").split())
        full[each] = f"{each} {name}"[:MOST_NAME].rstrip()
    return [full.get(each, each) for each in given], [_with_names(mix, full) for mix in mixes]


def _with_names(mix: str, full: Mapping[str, str]) -> str:
    """A mixture in words, "#12 30 + rose", with the names of its pots."""
    parts = []
    for part in mix.split("+"):
        number, _, share = " ".join(part.split()).partition(" ")
        plain = not share or share.rstrip("% ").replace(",", ".").replace(".", "", 1).isdecimal()
        parts.append(f"{full[number]} {share}".strip() if plain and number in full else part.strip())
    return " + ".join(parts)


def _pigment(ink: "FoundInk", source: str) -> Pigment:
    return Pigment(
        name=ink.name,
        colour_index=None,
        optics=ink.optics,
        origin=ink.origin,
        source=source,
        transfer=ink.transfer,
    )


def _scanned_swatches(read: "ReadSwatches", names: set[str]) -> Iterator[Swatch]:
    """A swatch for each patch that shows one of these inks by itself."""
    today = studio.today()
    for page in read.pages:
        sha256 = file_hash(page.scan)
        for patch in page.reading.patches:
            name = _alone(page.reading.page.plan, patch.patch)
            if name in names and not patch.cut_off:
                yield Swatch(
                    of=name,
                    passes=patch.patch.passes,
                    ground="black" if patch.patch.ground == "black" else "white",
                    origin="scanned",
                    lab=patch.lab,
                    made_on=today,
                    file_name=page.scan.name,
                    file_sha256=sha256,
                    notes=name,
                )


def _measured_swatches(
    imported: "ImportedTable", inks: Mapping[str, Pigment], table: Path
) -> Iterator[Swatch]:
    """A swatch for each sample that shows one of these inks by itself, on the ground that was measured."""
    today, sha256 = studio.today(), file_hash(table)
    for place, sample in imported.patches:
        name = "" if imported.plan is None else _alone(imported.plan, place)
        if name in inks:
            known = sample.reflectance is not None
            yield Swatch(
                of=name,
                passes=place.passes,
                ground="black" if place.ground == "black" else "white",
                origin=inks[name].origin,
                reflectance=_bands(sample.reflectance),
                lab=None if known else sample.lab,
                ground_reflectance=_bare(imported, place.ground) if known else None,
                made_on=today,
                file_name=table.name,
                file_sha256=sha256,
                notes=name,
            )


def _bare(imported: "ImportedTable", ground: str) -> tuple[float, ...] | None:
    """The mean reflectance of the bare ground, where it was measured."""
    bare = [
        each.reflectance.tolist()
        for place, each in imported.patches
        if place.kind != "ink" and place.ground == ground and each.reflectance is not None
    ]
    return tuple(fmean(band) for band in zip(*bare, strict=True)) if bare else None


def _bands(reflectance: "NDArray[np.float64] | None") -> tuple[float, ...] | None:
    return None if reflectance is None else tuple(reflectance.tolist())


def _alone(plan: SwatchPlan, place: PatchPlace) -> str:
    """The ink of a patch that is printed with one ink only; otherwise nothing."""
    if place.kind != "ink" or place.row is None:
        return ""
    parts = plan.rows[place.row].parts
    return parts[0][0] if len(parts) == 1 else ""
