"""What a calibration sheet told of one's own paints, kept on the studio's shelf."""

from collections.abc import Container, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from blockwright import studio
from blockwright.hashing import file_hash
from blockwright.inks.swatch_fit import FoundInk
from blockwright.model.errors import InkError
from blockwright.model.inks import Pigment
from blockwright.model.shelf import ShelfPigment, Swatch
from blockwright.model.swatches import PatchPlace, SwatchPlan
from blockwright.swatches import ImportedTable, ReadSwatches

if TYPE_CHECKING:
    from blockwright.ledger import Ledger


def keep_read(
    shelf: "Ledger", read: ReadSwatches, *, names: Container[str] | None = None, source: str | None = None
) -> tuple[ShelfPigment, ...]:
    """Keep inks that scans of a calibration sheet tell of, with a swatch for each patch of one ink alone.

    All that were found, or those of ``names``; ``source`` is what the shelf says of where they are known
    from. All of it is kept, or nothing. Raises InkError or StudioError, one plain sentence.
    """
    told = source or "calibration sheet, " + ", ".join(each.scan.name for each in read.pages)
    found = [_pigment(ink, told) for ink in read.found.inks if names is None or ink.name in names]
    return studio.keep_measured(shelf, found, list(_scanned_swatches(read, {each.name for each in found})))


def keep_imported(shelf: "Ledger", imported: ImportedTable, table: Path) -> tuple[ShelfPigment, ...]:
    """Keep the inks that a measured table tells of. Raises InkError when it tells of none, or StudioError."""
    if imported.found is None:
        raise InkError(
            f"{table.name} tells of samples, not of inks; with --sheet they are taken for the patches of a "
            "calibration sheet, and the inks can be kept."
        )
    return studio.keep_measured(shelf, [_pigment(ink, table.name) for ink in imported.found.inks])


def _pigment(ink: FoundInk, source: str) -> Pigment:
    return Pigment(
        name=ink.name,
        colour_index=None,
        optics=ink.optics,
        origin=ink.origin,
        source=source,
        transfer=ink.transfer,
    )


def _scanned_swatches(read: ReadSwatches, names: set[str]) -> Iterator[Swatch]:
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
                )


def _alone(plan: SwatchPlan, place: PatchPlace) -> str:
    """The ink of a patch that is printed with one ink only; otherwise nothing."""
    if place.kind != "ink" or place.row is None:
        return ""
    parts = plan.rows[place.row].parts
    return parts[0][0] if len(parts) == 1 else ""
