"""One's own paints: a calibration sheet is drawn, its scan dropped, and what it tells kept on the shelf."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse
from starlette.datastructures import UploadFile

from blockwright import paints, studio
from blockwright.charts import Chart, read_columns_and_rows, read_corners
from blockwright.keeping import KeepAs, kept_said, meant_by
from blockwright.model.errors import BlockwrightError, InkError, PictureError, SettingsError
from blockwright.model.inks import MixedInk
from blockwright.model.shelf import ShelfPigment
from blockwright.paints import KeptSheet
from blockwright.sheet_facts import SheetFacts, drop_chart, facts_of, take_chart, tell_paper
from blockwright.web import words
from blockwright.web.acts import Form
from blockwright.web.drawer import desk_of, go_to
from blockwright.web.guard import PICTURE_BYTES, TOO_LARGE
from blockwright.web.ink_cards import delta
from blockwright.web.pages import changed, refused
from blockwright.web.shelf_pages import names_at_hand
from blockwright.web.showing import show, show_sentence, wants_part
from blockwright.web.uploads import NO_PICTURE, Uploads, shown_name

if TYPE_CHECKING:
    from blockwright.ledger import Ledger
    from blockwright.swatches import ReadSwatches

router = APIRouter()

PAPERS = ("A4", "A3", "Letter")
PASSES = (3, 2, 1)

_NOTHING_READ: dict[str, Any] = {
    "found": [],
    "notes": [],
    "scanner": None,
    "pages_read": [],
    "unread": None,
}


def _address(sheet: KeptSheet) -> str:
    return f"/shelf/paints?sheet={sheet.number}"


def _found(sheet: KeptSheet, read: "ReadSwatches", shelf: "Ledger") -> list[dict[str, Any]]:
    """The paints that were found, each with what can be done with it."""
    pigments, inks = studio.list_pigments(shelf, retired=True), studio.list_inks(shelf, retired=True)
    known = {each.pigment.name.casefold(): each for each in pigments}
    pots = paints.pots_kept(shelf, sheet, read)
    rows = []
    for ink in read.found.inks:
        there = known.get(ink.name.casefold())
        is_kept = there is not None and there.pigment.source == paints.source_of(sheet)
        rows.append(
            {
                "name": ink.name,
                "hexes": [each.hex for each in ink.swatches],
                "said": words.fmt(
                    "own_found",
                    off=delta(ink.uncertainty_delta_e00),
                    patches=ink.patches,
                    residual=delta(ink.residual_delta_e00),
                ),
                "over_black": ink.over_black,
                "kept": is_kept or ink.name in pots,
                "pot": pots.get(ink.name),
                **_ways(ink.name, pigments, inks, there is not None),
            }
        )
    return rows


def _ways(
    name: str, pigments: Sequence[ShelfPigment], inks: Sequence[MixedInk], known: bool
) -> dict[str, Any]:
    """As what a paint can be kept, and what its name says already."""
    says, asks = "pigment", None
    try:
        meant = meant_by(name, pigments, inks)
        says = str(meant.number) if isinstance(meant, MixedInk) else "pigment"
    except InkError as error:
        says, asks = "", str(error)
    return {
        "as": says,
        "asks": asks,
        "pigment": words.TEXTS["own_as_known" if known else "own_as_pigment"],
        "pots": [{"number": str(each.number), "name": each.name} for each in inks if not each.retired],
    }


def _read_told(sheet: KeptSheet) -> dict[str, Any]:
    """What the scans of a sheet tell, or the sentence that says why they tell nothing."""
    told: dict[str, Any] = _NOTHING_READ | {"paper": "#ffffff"}
    try:
        read = paints.read_kept(sheet)
        if read is None:
            return told
        shelf = studio.open_studio()
        found = _found(sheet, read, shelf)
    except BlockwrightError as error:
        return told | {"unread": str(error)}
    pages = [
        words.fmt("own_page_of", page=each.reading.page.page, patches=len(each.reading.patches))
        for each in read.pages
    ]
    return told | {
        "found": found,
        "scanner": _scanner_said(read),
        "notes": _notes(read),
        "pages_read": pages,
    }


def _scanner_said(read: "ReadSwatches") -> str:
    """How true the scanner's colours are, as far as it is known."""
    if (scanner := read.scanner) is None:
        return words.TEXTS["own_no_chart"]
    return words.fmt(
        "own_residual",
        patches=scanner.patches,
        middle=delta(scanner.median_delta_e00),
        p95=delta(scanner.p95_delta_e00),
        most=delta(scanner.max_delta_e00),
        before=delta(scanner.before_delta_e00),
    )


def _notes(read: "ReadSwatches") -> list[str]:
    """The notes of a reading, each once, and what this page has a field for in its own words."""
    from blockwright.swatches import PAPER_AS_SCANNED, UNKNOWN_WITHOUT_CHART

    own = {PAPER_AS_SCANNED: words.TEXTS["own_paper_as_scanned"]}
    kept = (each for each in read.notes if each != UNKNOWN_WITHOUT_CHART[0])
    return list(dict.fromkeys(own.get(each, each) for each in kept))


def _facts_told(sheet: KeptSheet) -> dict[str, Any]:
    """What is known of the paper and the scanner, for the fields of the page."""
    try:
        facts = facts_of(sheet.folder)
    except InkError:
        facts = SheetFacts()  # that it cannot be read is said where the scan is read
    chart = facts.chart
    return {
        "known_paper": facts.paper or "",
        "chart_said": words.fmt(
            "own_chart_kept",
            measured=facts.called[0],
            scan=facts.called[1],
            columns=chart.columns,
            rows=chart.rows,
        )
        if chart
        else None,
    }


def _context(number: int | None) -> dict[str, Any]:
    kept = paints.kept_sheets()
    chosen = next((each for each in kept if each.number == number), kept[0] if kept else None)
    at_hand: list[str] = []
    wrong = None
    try:
        at_hand = names_at_hand(studio.open_studio())
    except BlockwrightError as error:
        wrong = str(error)
    return {
        "shelf_wrong": wrong,
        "at_hand": [{"name": each, "on": False} for each in at_hand],
        "papers": PAPERS,
        "passes": PASSES,
        "sheets": [
            {
                "href": _address(each),
                "number": each.number,
                "name": words.fmt("own_sheet", number=each.number, inks=words.listed(list(each.inks))),
                "here": each is chosen,
            }
            for each in kept
        ],
        "chosen": chosen,
        "pages": len(chosen.pages) if chosen else 0,
        **(_read_told(chosen) | _facts_told(chosen) if chosen else _NOTHING_READ),
        "most_bytes": PICTURE_BYTES,
        "too_large": TOO_LARGE,
    }


@router.get("/shelf/paints")
def own_paints(request: Request, sheet: str = "") -> Response:
    """The page; ``sheet`` is the number of a sheet that was drawn, else the latest is shown."""
    number = int(sheet) if sheet.isdecimal() and len(sheet) < 10 else None
    template = "part_paints.html" if wants_part(request) else "paints.html"
    return show(request, template, may_write=True, **_context(number))


@router.get("/shelf/paints/{number}/sheet.pdf")
def sheet_pdf(request: Request, number: int) -> Response:
    """A calibration sheet to print."""
    try:
        sheet = paints.kept_sheet(number)
    except InkError:
        return show_sentence(request, words.TEXTS["own_gone"], status=404)
    return FileResponse(sheet.pdf, filename=f"calibration-sheet-{number}.pdf")


async def _take(request: Request, step: Callable[[Form], Response]) -> Response:
    form = await request.form()
    fields = Form([(name, value) for name, value in form.multi_items() if isinstance(value, str)])

    def done() -> Response:
        try:
            return step(fields)
        except BlockwrightError as error:
            return refused(request, str(error))

    return await run_in_threadpool(done)


@router.post("/shelf/paints/sheet")
async def draw(request: Request) -> Response:
    """Draw a calibration sheet of the paints that are named and ticked."""

    def step(form: Form) -> Response:
        passes = form.whole("passes")
        inks, mixes = paints.names_on_sheet(
            [*form.every("pigment"), *_lines(form, "inks")], _lines(form, "mixes")
        )
        sheet = paints.draw_kept(
            list(dict.fromkeys(inks)),
            mixes,
            paper=form.text("paper"),
            passes=passes,
            over_black=form.yes("black"),
        )
        return go_to(request, _address(sheet))

    return await _take(request, step)


def _lines(form: Form, name: str) -> list[str]:
    lines = (" ".join(line.split()) for line in (form.maybe(name) or "").splitlines())
    return [line for line in lines if line]


@router.post("/shelf/paints/scan")
async def scan(request: Request) -> Response:
    """Take in a scan or photo of a page of a sheet."""
    uploads = Uploads(desk_of(request).home)
    async with request.form(max_files=1, max_fields=8) as form:
        sent, number = form.get("scan"), form.get("sheet")
        if not isinstance(sent, UploadFile) or not sent.filename:
            raise PictureError(NO_PICTURE)
        if not isinstance(number, str) or not number.isdecimal() or len(number) > 9:
            raise SettingsError(words.TEXTS["own_gone"])
        name, sheet = shown_name(sent.filename), int(number)
        kept = await run_in_threadpool(uploads.keep, sent.file)
    taken = await run_in_threadpool(_take_scan, sheet, kept, name)
    return go_to(request, _address(taken))


def _take_scan(number: int, kept: Path, name: str) -> KeptSheet:
    try:
        return paints.take_scan(number, kept, called=name)
    finally:
        kept.unlink(missing_ok=True)


@router.post("/shelf/paints/paper")
async def paper(request: Request) -> Response:
    """Note the paper's measured colour, or that it is not known."""

    def step(form: Form) -> Response:
        sheet = paints.kept_sheet(form.whole("sheet"))
        told = tell_paper(sheet.folder, form.maybe("colour"))
        return changed(words.TEXTS["own_did_paper" if told.paper else "own_did_no_paper"])

    return await _take(request, step)


@router.post("/shelf/paints/chart")
async def chart(request: Request) -> Response:
    """Take in a reference chart: its measured values and its scan."""
    uploads = Uploads(desk_of(request).home)
    kept: list[Path] = []
    try:
        async with request.form(max_files=2, max_fields=8) as form:
            fields = Form([(name, value) for name, value in form.multi_items() if isinstance(value, str)])
            called = []
            for name in ("measured", "picture"):
                sent = form.get(name)
                if not isinstance(sent, UploadFile) or not sent.filename:
                    return refused(request, words.TEXTS[f"own_chart_no_{name}"])
                called.append(shown_name(sent.filename))
                kept.append(await run_in_threadpool(uploads.keep, sent.file))
        taken = await run_in_threadpool(_take_chart, fields, (kept[0], kept[1]), (called[0], called[1]))
    except BlockwrightError as error:
        return refused(request, str(error))
    finally:
        for each in kept:
            each.unlink(missing_ok=True)
    return go_to(request, _address(taken))


def _take_chart(form: Form, files: tuple[Path, Path], called: tuple[str, str]) -> KeptSheet:
    """Keep a chart with the sheet that the form names. Raises BlockwrightError, one plain sentence."""
    sheet = paints.kept_sheet(form.whole("sheet"))
    columns, rows = read_columns_and_rows(form.text("grid"), name=words.TEXTS["own_chart_grid_name"])
    corners = form.maybe("corners")
    places = read_corners(corners, name=words.TEXTS["own_chart_corners_name"]) if corners else ()
    given = Chart(files[0], picture=files[1], corners_px=places, columns=columns, rows=rows)
    take_chart(sheet.folder, given, called=called)
    return sheet


@router.post("/shelf/paints/no-chart")
async def no_chart(request: Request) -> Response:
    """Read a sheet without its chart again."""

    def step(form: Form) -> Response:
        drop_chart(paints.kept_sheet(form.whole("sheet")).folder)
        return changed(words.TEXTS["own_did_no_chart"])

    return await _take(request, step)


@router.post("/shelf/paints/keep")
async def keep(request: Request) -> Response:
    """Keep a paint on the shelf as it was found: ``as`` says as what, or else its name does."""

    def step(form: Form) -> Response:
        sheet = paints.kept_sheet(form.whole("sheet"))
        way = form.maybe("as") or None
        keep_as: KeepAs | None = "pigment" if way == "pigment" else "new ink" if way == "new ink" else None
        if way is not None and keep_as is None:
            keep_as = form.whole("as")
        kept = paints.keep_paint(studio.open_studio(), sheet, form.text("name"), keep_as=keep_as)
        return changed(kept_said(kept))

    return await _take(request, step)
