"""How an ink becomes known: the calibration sheet drawn, its scans read, tables read; one call each."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from blockwright.charts import Chart, chart_correction
from blockwright.colour.srgb import (
    lab_to_hex,
    lab_to_linear,
    linear_to_srgb,
    srgb_to_hex,
)
from blockwright.colour.wanted import read_colour, wanted_colour
from blockwright.design import read_picture
from blockwright.documents.paper import SHEETS_MM
from blockwright.documents.swatch_sheet import write_swatch_sheet
from blockwright.inks import laydown_g_per_m2
from blockwright.inks.reading import SheetReading, read_sheet, trusted_patches
from blockwright.inks.scanner import ScannerCorrection
from blockwright.inks.sheet import MOST_PASSES, lay_out_sheet, plan_sheet
from blockwright.inks.sheet_file import compose_sheet, parse_sheet
from blockwright.inks.spectral_tables import Sample, SampleTable, read_table
from blockwright.inks.swatch_fit import FoundInk, FoundInks, find_inks, spectrum_of_colour
from blockwright.model.errors import FolderError, InkError, SettingsError
from blockwright.model.inks import Origin
from blockwright.model.swatches import PatchPlace, SwatchPage, SwatchPlan
from blockwright.model.units import Lab

_BEHIND = "#ffffff"
"""What lies behind the transparent parts of a scan."""

_SHARE = re.compile(r"(?P<name>.*\S)\s+(?P<percent>\d+(?:[.,]\d+)?)\s*%?")
_SIZE = re.compile(r"(?P<width>\d+(?:\.\d+)?)\s*[x×]\s*(?P<height>\d+(?:\.\d+)?)")

UNKNOWN_WITHOUT_CHART = (
    "Without a reference chart the scan's colours are taken as sRGB; how far the scanner is off is unknown.",
    "A scan cannot see how colours shift under another light: only a spectrophotometer can.",
)
PAPER_AS_SCANNED = "The paper's own colour is taken as scanned; what it truly is was not told."


@dataclass(frozen=True, slots=True)
class DrawnSheet:
    """A calibration sheet as drawn: its PDF, the file that describes it, and its pages."""

    pdf: Path
    description: Path
    pages: tuple[SwatchPage, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ReadPage:
    """A scan and what was read from it."""

    scan: Path
    reading: SheetReading


@dataclass(frozen=True, slots=True, eq=False)
class ReadSwatches:
    """The scans of a calibration sheet as read, and the inks that they tell of."""

    pages: tuple[ReadPage, ...]
    scanner: ScannerCorrection | None
    found: FoundInks
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ImportedTable:
    """A measured table, and the inks that it tells of when its samples are patches of a calibration sheet.

    ``plan`` is that sheet's, ``patches`` the samples with the patches that they are.
    """

    table: SampleTable
    found: FoundInks | None
    notes: tuple[str, ...]
    plan: SwatchPlan | None = None
    patches: tuple[tuple[PatchPlace, Sample], ...] = ()


def draw_sheet(
    pdf: Path,
    *,
    inks: Sequence[str],
    mixes: Sequence[str] = (),
    paper: str = "A4",
    passes: int = MOST_PASSES,
    over_black: bool = True,
    print_black: bool = False,
) -> DrawnSheet:
    """Draw a calibration sheet as a PDF, and describe it in a JSON file of the same name beside it.

    A mix is written "rose+blue", or "rose 30 + blue 70" with shares in percent; ``paper`` is A4, A3, Letter
    or width x height in mm. Raises SettingsError for what cannot be laid out, FolderError when a file cannot
    be written or the description of another sheet would be lost.
    """
    plan = plan_sheet(
        inks,
        [parse_mix(mix, inks) for mix in mixes],
        size_mm=parse_paper(paper),
        passes=passes,
        over_black=over_black,
        black_drawn=print_black,
    )
    pages = lay_out_sheet(plan)
    description = pdf.with_suffix(".json")
    if description == pdf:
        raise SettingsError(f"The sheet is a PDF; {pdf.name} would be overwritten by its description.")
    told = compose_sheet(pages).encode()
    if description.is_file() and description.read_bytes() != told:
        raise FolderError(
            f"{description.name} is there already and describes something else, perhaps a sheet that is "
            "printed and could then no longer be read. Choose another name."
        )
    try:
        # In a folder beside, first: a full disk or an interruption leaves the sheet of before as it was.
        with TemporaryDirectory(dir=pdf.parent, prefix=".blockwright-") as beside:
            drawn, written = Path(beside) / pdf.name, Path(beside) / description.name
            write_swatch_sheet(drawn, pages)
            written.write_bytes(told)
            written.replace(description)
            drawn.replace(pdf)
    except OSError as problem:
        if isinstance(problem, FolderError):
            raise
        raise FolderError(f"{pdf.name} cannot be written: {problem.strerror}.") from problem
    return DrawnSheet(pdf, description, pages)


def weighed_laydown(before_g: float, after_g: float, *, pulls: int, area_mm2: float) -> float:
    """Grams of wet ink that one pass takes to the square metre, to a hundredth, by weighing the bowl.

    Raises InkError when the bowl has not become lighter or a number is not above 0.

    >>> weighed_laydown(183.4, 178.6, pulls=10, area_mm2=40_000)
    12.0
    """
    return round(laydown_g_per_m2(before_g, after_g, pulls=pulls, area_mm2=area_mm2), 2)


def read_scans(
    scans: Sequence[Path], description: Path, *, paper_is: str | None = None, chart: Chart | None = None
) -> ReadSwatches:
    """Read scans or photos of the pages of a calibration sheet and find its inks.

    ``paper_is`` is the paper's measured colour, where it is known, as :func:`parse_paper_colour` reads it.
    Raises PictureError for a picture that cannot be read, InkError when it is none of the sheet, or shows a
    page again, SettingsError for a wrong colour.
    """
    pages = read_description(description)
    correction = None if chart is None else chart_correction(chart)
    paper = None if paper_is is None else lab_to_linear(parse_paper_colour(paper_is)).tolist()
    read: list[ReadPage] = []
    for scan in scans:
        picture = read_picture(scan, paper_hex=_BEHIND)
        reading = read_sheet(
            picture.pixels,
            pages,
            paper_linear=None if paper is None else (paper[0], paper[1], paper[2]),
            correct=correction,
            name=scan.name,
        )
        twin = next((each for each in read if each.reading.page.number == reading.page.number), None)
        if twin is not None:
            raise InkError(f"{scan.name} and {twin.scan.name} show the same page; give each page once.")
        read.append(ReadPage(scan, reading))
    trusted = [patch for each in read for patch in trusted_patches(each.reading.patches)]
    spectra = {patch.patch.code: spectrum_of_colour(patch.linear) for patch in trusted}
    notes = [f"{each.scan.name}: {note}" for each in read for note in each.reading.notes]
    notes += UNKNOWN_WITHOUT_CHART if correction is None else UNKNOWN_WITHOUT_CHART[1:]
    if paper is None:
        notes.append(PAPER_AS_SCANNED)
    cut_off = {patch.patch.code for patch in trusted if patch.cut_off}
    found = find_inks(pages, spectra, origin="scanned", cut_off=cut_off)
    return ReadSwatches(tuple(read), correction, found, (*notes, *found.notes))


def import_table(path: Path, description: Path | None = None) -> ImportedTable:
    """Read a measured table; with a sheet's description, find the inks whose patches it holds.

    A sample belongs to the patch whose code is its id or its name (1w2 is row 1, on paper, two passes; w1 is
    bare paper, k1 bare black). Raises InkError when the table cannot be read or no sample is a patch of the
    sheet.
    """
    table = read_table(path)
    if description is None:
        return ImportedTable(table, None, table.notes)
    pages = read_description(description)
    codes = {patch.code: patch for page in pages for patch in page.patches}
    spectra, measured = {}, True
    patches: list[tuple[PatchPlace, Sample]] = []
    for sample in table.samples:
        code = next((word for word in (sample.id.casefold(), sample.name.casefold()) if word in codes), None)
        if code is None:
            continue
        if code in spectra:
            raise InkError(f"{path.name} has two samples for the patch {code}.")
        patches.append((codes[code], sample))
        if sample.reflectance is None:
            measured = False
            spectra[code] = spectrum_of_colour(lab_to_linear(sample.lab).tolist())
        else:
            spectra[code] = sample.reflectance
    if not spectra:
        raise InkError(
            f"No sample of {path.name} is a patch of {description.name}; name samples by the patches' codes, "
            "such as 1w2 for row 1, on paper, two passes."
        )
    notes = list(table.notes)
    if left := len(table.samples) - len(spectra):
        notes.append(f"{left} of {len(table.samples)} samples are no patches of the sheet and were left out.")
    origin: Origin = "measured" if measured else "scanned"
    found = find_inks(pages, spectra, origin=origin)
    return ImportedTable(table, found, (*notes, *found.notes), pages[0].plan, tuple(patches))


def read_description(path: Path) -> tuple[SwatchPage, ...]:
    """The pages of the calibration sheet that a file describes. Raises InkError when it cannot be read."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        why = problem.strerror if isinstance(problem, OSError) else "it is no text"
        raise InkError(f"{path.name} cannot be read: {why}.") from problem
    return parse_sheet(text, file=path.name)


def parse_paper_colour(text: str) -> Lab:
    """The paper's measured colour, CIELAB under D65, as it is written: ``#rrggbb`` or ``lab(L, a, b)``.

    Raises SettingsError when it is written otherwise, InkError when no paper can have it.

    >>> parse_paper_colour("lab(93, 1, 9)")
    (93.0, 1.0, 9.0)
    """
    return wanted_colour(read_colour(text, name="The paper's colour"), name="The paper's colour").lab


def parse_mix(text: str, inks: Sequence[str]) -> list[tuple[str, float]]:
    """A mixture in words: "rose+blue" is half and half, "rose 30 + blue 70" gives shares in percent.

    >>> parse_mix("rose 30 + blue", ["rose", "blue"])
    [('rose', 0.3), ('blue', 0.7)]
    """
    known = {" ".join(ink.split()).casefold() for ink in inks}
    names: list[str] = []
    shares: list[float | None] = []
    for part in text.split("+"):
        word = " ".join(part.split())
        match = None if word.casefold() in known else _SHARE.fullmatch(word)
        names.append(match["name"] if match else word)
        shares.append(float(match["percent"].replace(",", ".")) / 100.0 if match else None)
    told = sum(share for share in shares if share is not None)
    silent = sum(share is None for share in shares)
    rest = (1.0 - told) / silent if silent else 0.0
    return [
        (name, round(rest if share is None else share, 6)) for name, share in zip(names, shares, strict=True)
    ]


def parse_paper(text: str) -> tuple[float, float]:
    """A paper's width and height in mm from its name or from "width x height".

    >>> parse_paper("a4"), parse_paper("250 x 353")
    ((210.0, 297.0), (250.0, 353.0))
    """
    for name, size in SHEETS_MM.items():
        if text.strip().casefold() == name.casefold():
            return size
    match = _SIZE.fullmatch(text.strip())
    if not match:
        raise SettingsError(
            f"The paper is {', '.join(SHEETS_MM)} or a size such as 250x353 in mm, not {text!r}."
        )
    return float(match["width"]), float(match["height"])


def tell_drawn(drawn: DrawnSheet) -> dict[str, Any]:
    """A drawn sheet as plain values for programs."""
    plan = drawn.pages[0].plan
    return {
        "pdf": str(drawn.pdf),
        "sheet": str(drawn.description),
        "pages": [
            {
                "number": page.number,
                "rows": [plan.rows[row].name for row in page.rows],
                "patches": [patch.code for patch in page.patches],
            }
            for page in drawn.pages
        ],
    }


def tell_inks(found: FoundInks) -> dict[str, Any]:
    """Inks and mixtures that were found, as plain values for programs."""
    return {
        "inks": [_tell_ink(ink) for ink in found.inks],
        "mixtures": [
            {
                "parts": [{"name": name, "share": share} for name, share in mixture.parts],
                "patches": mixture.patches,
                "residual_delta_e00": mixture.residual_delta_e00,
            }
            for mixture in found.mixtures
        ],
    }


def tell_read(read: ReadSwatches) -> dict[str, Any]:
    """Scans as read, as plain values for programs."""
    scanner = read.scanner
    return {
        "pages": [_tell_page(each) for each in read.pages],
        "scanner": None
        if scanner is None
        else {
            "terms": scanner.terms,
            "patches": scanner.patches,
            "median_delta_e00": scanner.median_delta_e00,
            "p95_delta_e00": scanner.p95_delta_e00,
            "max_delta_e00": scanner.max_delta_e00,
            "before_delta_e00": scanner.before_delta_e00,
        },
        **tell_inks(read.found),
        "notes": list(read.notes),
    }


def tell_imported(imported: ImportedTable) -> dict[str, Any]:
    """A measured table as plain values for programs."""
    samples = [
        {
            "id": sample.id,
            "name": sample.name,
            "lab": list(sample.lab),
            "hex": lab_to_hex(sample.lab),
            "spectrum": None if sample.reflectance is None else np.round(sample.reflectance, 6).tolist(),
        }
        for sample in imported.table.samples
    ]
    found = {"inks": [], "mixtures": []} if imported.found is None else tell_inks(imported.found)
    return {"table": imported.table.file, "samples": samples, **found, "notes": list(imported.notes)}


def _tell_ink(ink: FoundInk) -> dict[str, Any]:
    return {
        "name": ink.name,
        "origin": ink.origin,
        "passes": [
            {"passes": swatch.passes, "lab": list(swatch.lab), "hex": swatch.hex} for swatch in ink.swatches
        ],
        "transfer": list(ink.transfer),
        "patches": ink.patches,
        "over_black": ink.over_black,
        "residual_delta_e00": ink.residual_delta_e00,
        "uncertainty_delta_e00": ink.uncertainty_delta_e00,
        "k": list(ink.optics.k),
        "s": list(ink.optics.s),
    }


def _tell_page(each: ReadPage) -> dict[str, Any]:
    reading = each.reading
    return {
        "scan": str(each.scan),
        "number": reading.page.number,
        "page": reading.page.page,
        "pixels_per_mm": reading.pixels_per_mm,
        "mark_error_mm": reading.mark_error_mm,
        "light_fall_percent": reading.light_fall_percent,
        "marks_missing": list(reading.marks_missing),
        "paper_hex": srgb_to_hex(linear_to_srgb(reading.paper_linear)),
        "patches": [
            {
                "code": patch.patch.code,
                "kind": patch.patch.kind,
                "row": None if patch.patch.row is None else reading.page.plan.rows[patch.patch.row].name,
                "ground": patch.patch.ground,
                "passes": patch.patch.passes,
                "lab": list(patch.lab),
                "hex": srgb_to_hex(linear_to_srgb(patch.linear)),
                "spread_delta_e00": patch.spread_delta_e00,
                "cut_off": patch.cut_off,
            }
            for patch in reading.patches
        ],
    }
