"""What the stations have in common: deciding, taking back, the work, tiles of the sheet, and the files."""

import json
import zipfile
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from tempfile import SpooledTemporaryFile
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import FileResponse, RedirectResponse, StreamingResponse

from blockwright import history
from blockwright.looking import Look, look
from blockwright.model.errors import BlockwrightError
from blockwright.web import words
from blockwright.web.acts import read_act
from blockwright.web.drawer import Opened, OpenedPrint
from blockwright.web.router_choice import require_clearing_bit
from blockwright.web.sheets import sheet_picture
from blockwright.web.showing import show, show_sentence

router = APIRouter()

_NEXT = {
    "shapes": "design",
    "impressions": "impressions",
    "inks": "inks",
    "blocks": "blocks",
    "cutting": "cutting",
    "proof": "proof",
    "packet": "proof",
    "done": "impressions",
}
"""The station for what is next to do."""

_ZIP_IN_MEMORY = 4_000_000
"""Bytes of the bench's archive that are kept in memory before a file on disk takes them."""

_KINDS = {"face-down", "face-up"}

_FOR_EVER = {"Cache-Control": "private, max-age=31536000, immutable"}
"""For what is addressed by its version."""


def changed(said: str) -> Response:
    """Nothing to show, but the page is told that the print has changed."""
    told = json.dumps({"print-changed": {"said": said}})
    return Response(status_code=204, headers={"HX-Trigger": told})


def refused(request: Request, sentence: str, status: int = 422) -> Response:
    """The one sentence that says why something was not done."""
    return show(request, "part_sentence.html", status=status, sentence=sentence)


def _take(request: Request, opened: OpenedPrint, step: Callable[[], str]) -> Response:
    """Do a step on the decisions, ask for the work that it makes, and say what was done."""
    if not opened.may_write:
        return refused(request, words.TEXTS["may_not_write"], 403)
    try:
        said = step()
    except BlockwrightError as error:
        return refused(request, str(error))
    request.app.state.blockwright.jobs.ask(opened.id, opened.folder)
    return changed(said)


@router.get("/print/{id}/")
def first_station(opened: Opened) -> Response:
    """Go on where the work is."""
    station = _NEXT[look(opened.folder).next_step]
    return RedirectResponse(f"/print/{opened.id}/{station}", status_code=303)


@router.post("/print/{id}/decide")
async def decide(request: Request, opened: Opened) -> Response:
    """Take one decision: 204, or 422 with the one sentence that says why not."""
    form = await request.form()
    fields = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]

    def step() -> str:
        act = read_act(fields)
        require_clearing_bit(act)
        history.decide(opened.folder, act, seen=dict(fields).get("seen") or None)
        return words.fmt("did", what=act.told())

    # Deciding waits for the disk, and may start a process.
    return await run_in_threadpool(_take, request, opened, step)


@router.post("/print/{id}/undo")
def undo(request: Request, opened: Opened) -> Response:
    """Take the last decision back."""
    return _take(request, opened, lambda: history.undo(opened.folder))


@router.post("/print/{id}/redo")
def redo(request: Request, opened: Opened) -> Response:
    """Take what was undone again."""
    return _take(request, opened, lambda: history.redo(opened.folder))


@router.post("/print/{id}/stop")
def stop(request: Request, opened: Opened) -> Response:
    """End the work under way; finished stages stay."""
    request.app.state.blockwright.jobs.stop(opened.id)
    return Response(status_code=204)


@router.post("/print/{id}/again")
def again(request: Request, opened: Opened) -> Response:
    """Go on with work that was stopped or broke off."""
    if not opened.may_write:
        return refused(request, words.TEXTS["may_not_write"], 403)
    request.app.state.blockwright.jobs.ask(opened.id, opened.folder)
    return Response(status_code=204)


def no_file(request: Request, opened: OpenedPrint, found: Look, stage: str) -> Response:
    """404 for what there is not; 409 for what there is from before the last change."""
    if found.stage(stage).state in {"fresh", "missing"}:
        return show_sentence(request, words.TEXTS["no_such_file"], status=404)
    return _not_as_decided(request, opened, "files", station="inks" if stage == "inks" else "cutting")


def _not_as_decided(request: Request, opened: OpenedPrint, what: str, *, station: str) -> Response:
    """Give nothing out from before the last change; say whether it is being made, and where it will be."""
    running = request.app.state.blockwright.jobs.state(opened.id).running
    sentence = f"{words.TEXTS[f'{what}_stale']} {words.TEXTS[f'{what}_again' if running else f'{what}_ask']}"
    onward = (f"/print/{opened.id}/{station}", words.fmt("back_to", station=words.TEXTS[f"on_{station}"]))
    return show_sentence(request, sentence, status=409, onward=onward)


@router.get("/print/{id}/tiles/{what}.json")
def about_tiles(request: Request, opened: Opened, what: str) -> Response:
    """Size, tiles and levels of a layer."""
    try:
        told = request.app.state.blockwright.tiles.describe(opened.folder, what)
    except LookupError as error:
        return show_sentence(request, str(error), status=404)
    return Response(json.dumps(asdict(told)), media_type="application/json")


@router.get("/print/{id}/tiles/{what}/{version}/{level}/{column}_{row}.jpg")
def tile(
    request: Request, opened: Opened, what: str, version: str, level: int, column: int, row: int
) -> Response:
    """One tile of a layer, kept by the browser for as long as its version is shown."""
    try:
        tiles = request.app.state.blockwright.tiles
        data = tiles.tile(opened.folder, what, level, column, row, version)
    except LookupError:
        return Response(status_code=404)
    return Response(data, media_type="image/jpeg", headers=_FOR_EVER)


def _file(found: Look, stage: str, name: str) -> Path | None:
    """A file that the stage itself lists; a name from outside is only compared, never opened."""
    told = found.stages.get(stage)
    if told is None or told.folder is None or name not in told.files:
        return None
    path = told.folder / name
    # A folder may have come from elsewhere, and its list with it.
    inside = path.resolve().is_relative_to(told.folder.resolve())
    return path if inside and path.is_file() else None


@router.get("/print/{id}/files/{stage}/{within}/{name}")
def file_within(request: Request, opened: Opened, stage: str, within: str, name: str) -> Response:
    """A file that a stage made in a folder of its own."""
    return file(request, opened, stage, f"{within}/{name}")


@router.get("/print/{id}/files/{stage}/{name}")
def file(request: Request, opened: Opened, stage: str, name: str) -> Response:
    """A file that a stage made."""
    found = look(opened.folder)
    path = _file(found, stage, name)
    if path is None:
        return no_file(request, opened, found, stage)
    # Every shop folder has a job sheet: saved side by side they are told apart.
    return FileResponse(path, filename=name.replace("/", "-"))


@router.get("/print/{id}/packet.pdf")
def packet(request: Request, opened: Opened) -> Response:
    """The packet for the bench, if it is as decided; an older one stays in the folder."""
    found = look(opened.folder)
    if found.packet is None:
        return show_sentence(request, words.TEXTS["packet_missing"], status=404)
    if not found.packet_fresh:
        return _not_as_decided(request, opened, "packet", station="proof")
    return FileResponse(found.packet, media_type="application/pdf", content_disposition_type="inline")


@router.get("/print/{id}/bench.zip")
def bench(request: Request, opened: Opened) -> Response:
    """All files of the cutting stage and the packet in one archive; the same files give the same bytes."""
    found = look(opened.folder)
    names = [name for name in sorted(found.stage("cutting").files) if not name.endswith(".json")]
    return archived(request, opened, found, names, "bench.zip", packet=True)


def archived(
    request: Request, opened: OpenedPrint, found: Look, names: list[str], called: str, *, packet: bool = False
) -> Response:
    """Files of the cutting stage in one archive, and the packet if it is as decided."""
    files = [(name, path) for name in names if (path := _file(found, "cutting", name))]
    if packet and found.packet and found.packet_fresh:
        files.append((found.packet.name, found.packet))
    if not files:
        return no_file(request, opened, found, "cutting")
    held: Any = SpooledTemporaryFile(max_size=_ZIP_IN_MEMORY)  # noqa: SIM115 (closed when it is sent)
    try:
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, path in files:
                # The fixed date of the format's beginning: no clock gets into a file.
                archive.writestr(zipfile.ZipInfo(name), path.read_bytes(), zipfile.ZIP_DEFLATED)
    except OSError:
        held.close()  # They are just being made anew.
        return _not_as_decided(request, opened, "files", station="cutting")
    held.seek(0)
    headers = {"Content-Disposition": f'attachment; filename="{called}"'}
    return StreamingResponse(_sent(held), media_type="application/zip", headers=headers)


def _sent(held: Any) -> Any:
    with held:
        while block := held.read(65536):
            yield block


@router.get("/print/{id}/sheets/{face}/{kind}/{page}.png")
def transfer_sheet(request: Request, opened: Opened, face: str, kind: str, page: int) -> Response:
    """A picture of one page of a transfer sheet, as the printer will print it."""
    found = look(opened.folder)
    path = _file(found, "cutting", f"{face}-{kind}.pdf") if kind in _KINDS else None
    if path is None:
        return no_file(request, opened, found, "cutting")
    data = sheet_picture(path, page)
    if data is None:
        return show_sentence(request, words.TEXTS["no_such_page"], status=404)
    return Response(data, media_type="image/png")
