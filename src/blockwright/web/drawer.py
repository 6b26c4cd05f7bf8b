"""The drawer: the prints that were opened or made, and the one door from an address to a folder."""

import asyncio
import sys
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

from fastapi import APIRouter, Depends, HTTPException, Request, Response
from fastapi.responses import RedirectResponse

from blockwright.looking import Look, look
from blockwright.model.errors import BlockwrightError, FolderError
from blockwright.web import words
from blockwright.web.demo_print import DemoPrint
from blockwright.web.guard import PICTURE_BYTES, TOO_LARGE
from blockwright.web.holding import Holding
from blockwright.web.registry import Registry, print_id
from blockwright.web.showing import show, wants_part

if TYPE_CHECKING:
    from blockwright.web.jobs import Jobs

router = APIRouter()


class Desk:
    """What one running app holds: its drawer, the prints that it may change, its jobs and its tiles.

    ``home`` is the folder of everything that the app keeps. ``jobs`` and ``tiles`` are set when the app is
    put together; ``closing`` is set when it ends, for whoever waits for long.
    """

    jobs: "Jobs"
    tiles: Any

    def __init__(self, home: Path) -> None:
        self.home = home.resolve()
        self.registry = Registry(self.home)
        self.holding = Holding()
        self.demo = DemoPrint(self.prints)
        self.closing = asyncio.Event()
        self._beginning: asyncio.Task[None] | None = None

    @property
    def prints(self) -> Path:
        """Where prints that are started here are laid."""
        return self.home / "prints"

    def lay_in(self, folder: Path) -> str:
        """Lay a print on top of the drawer, have it made if it may be, and give its id."""
        id = self.registry.add(folder)
        if self.holding.take(folder.resolve()) is None:
            self.jobs.ask(id, folder.resolve())
        return id

    def begin(self) -> None:
        """Load what the first look needs; in an empty drawer, have the demo print made ahead."""
        # Not a task: ending the app does not wait for it.
        threading.Thread(target=self._warm, daemon=True).start()
        if not self.registry.prints():
            self._beginning = asyncio.create_task(self._prepare_demo())

    def _warm(self) -> None:
        for folder in self.registry.prints().values():
            self.jobs.learn(folder)
        self.tiles.warm()

    async def _prepare_demo(self) -> None:
        try:
            folder = await self.demo.made()
        except BlockwrightError as error:
            print(error, file=sys.stderr)
            return
        if self.holding.take(folder) is None:
            self.jobs.ask(print_id(folder), folder, ahead=True)

    async def close(self) -> None:
        """End all work and every open stream, within about a second."""
        self.closing.set()
        if self._beginning is not None:
            self._beginning.cancel()
            with suppress(asyncio.CancelledError):
                await self._beginning
        await asyncio.gather(asyncio.to_thread(self.jobs.close), self.demo.close())
        self.holding.let_all_go()


@dataclass(frozen=True, slots=True)
class OpenedPrint:
    """A print of the drawer as an address names it; without ``may_write`` it may only be looked at."""

    id: str
    folder: Path
    may_write: bool


def desk_of(request: Request) -> Desk:
    """The desk of the app that is asked."""
    return cast("Desk", request.app.state.blockwright)


def opened(request: Request, id: str) -> OpenedPrint:
    """The print of an address: 404 when the drawer has none; a refusal when it may not be changed."""
    desk = desk_of(request)
    folder = desk.registry.folder(id)
    if folder is None:
        raise HTTPException(404, words.not_found)
    why_not = desk.holding.take(folder)
    if why_not is not None and request.method == "POST":
        raise FolderError(why_not)
    return OpenedPrint(id, folder, why_not is None)


Opened = Annotated[OpenedPrint, Depends(opened)]


def go_to(request: Request, address: str) -> Response:
    """Send the browser on to another page after something was done."""
    if wants_part(request):
        return Response(status_code=200, headers={"HX-Redirect": address})
    return RedirectResponse(address, status_code=303)


def address_of(id: str) -> str:
    """Where a print's pages begin."""
    return f"/print/{id}/"


@dataclass(frozen=True, slots=True)
class DrawerRow:
    """One print in the drawer.

    ``thumbnail`` has ``src``, ``width`` and ``height`` of a small picture of the design, or is None when
    nothing is made yet. ``state`` says in words what there is; ``next_step`` is a key of
    :attr:`blockwright.looking.Look.next_step` and ``next_said`` its words. ``wrong`` is the sentence that
    says why the print cannot be read, or None; ``vanished`` tells that its folder is gone, so that all one
    can do is to take it out of the drawer.
    """

    id: str
    url: str
    title: str
    where: str
    thumbnail: dict[str, Any] | None
    state: str
    next_step: str
    next_said: str
    wrong: str | None
    vanished: bool
    working: bool


@dataclass(frozen=True, slots=True)
class DrawerPage:
    """What ``drawer.html`` shows: the prints, the latest first, and whether the demo print is painted."""

    rows: tuple[DrawerRow, ...]
    demo_painted: bool


@router.get("/")
def drawer(request: Request) -> Response:
    """The drawer's page."""
    desk = desk_of(request)
    rows = tuple(_row(request, desk, id, folder) for id, folder in desk.registry.prints().items())
    page = DrawerPage(rows, desk.demo.painted)
    return show(request, "drawer.html", page=page, most_bytes=PICTURE_BYTES, too_large=TOO_LARGE)


def _row(request: Request, desk: Desk, id: str, folder: Path) -> DrawerRow:
    found = look(folder)
    return DrawerRow(
        id=id,
        url=address_of(id),
        title=_as_text(found.title or folder.name),
        where=_as_text(str(folder)),
        thumbnail=_thumbnail(request, OpenedPrint(id, folder, False), found),
        state=_state(found),
        next_step=found.next_step,
        next_said=words.TEXTS[f"next_{found.next_step}"],
        wrong=_as_text(found.wrong) if found.wrong else None,
        vanished=not folder.is_dir(),
        working=desk.jobs.state(id).running,
    )


def _as_text(name: str) -> str:
    """A name of the disk, which need not be text, as a page can show it."""
    return name.encode("utf-8", "replace").decode()


def _thumbnail(request: Request, print_: OpenedPrint, found: Look) -> dict[str, Any] | None:
    from blockwright.web.frame import thumb

    if found.wrong or found.stage("design").told is None:
        return None
    try:
        return thumb(request, print_, "picture")
    except (BlockwrightError, OSError):
        return None  # A picture that has just gone is no reason to show no drawer.


def _state(found: Look) -> str:
    told = found.stage("design").told
    if told is None:
        return words.nothing_made
    figures = told["figures"]
    size = f"{words.figure(figures['width_mm'], 0)} × {words.mm(round(figures['height_mm']))}"
    said = [
        words.count("palette_about", figures["colours"]),
        words.count("shapes", figures["shapes"]),
        size,
        words.TEXTS[f"state_{found.stage('proof').state}"],
    ]
    return ", ".join(said) + "."


@router.post("/demo")
async def demo(request: Request) -> Response:
    """Open the demo print, made when it is not there yet."""
    desk = desk_of(request)
    folder = await desk.demo.made()
    id = await asyncio.to_thread(desk.lay_in, folder)
    return go_to(request, address_of(id))


@router.post("/print/{id}/forget")
def forget(request: Request, id: str) -> Response:
    """Take a print out of the drawer; its folder stays as it is."""
    desk = desk_of(request)
    folder = desk.registry.folder(id)
    if folder is None:
        raise HTTPException(404, words.not_found)
    desk.jobs.stop(id)
    desk.registry.remove(id)
    desk.holding.let_go(folder)
    return go_to(request, "/")
