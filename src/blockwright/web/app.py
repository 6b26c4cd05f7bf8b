"""The app put together: pages behind the guard, and one place that turns what goes wrong into an answer."""

import mimetypes
import sys
import traceback
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Scope

from blockwright.model.errors import BlockwrightError
from blockwright.tiles import Tiles
from blockwright.web import words
from blockwright.web.drawer import Desk
from blockwright.web.guard import Guard, plain_page
from blockwright.web.jobs import Jobs
from blockwright.web.resting import give_back
from blockwright.web.showing import STATIC, show_sentence, static_version, templates

ROUTERS = (
    "drawer",
    "uploads",
    "pages",
    "stream",
    "shelf_changes",
    "shelf_pages",
    "bits_pages",
    "paints_pages",
    "station_design",
    "station_impressions",
    "station_inks",
    "station_blocks",
    "station_cutting",
    "relief",
    "station_proof",
)
"""The modules of this room that have pages, each with its ``router``."""

UNEXPECTED = (
    "Something went wrong that should not. What was decided is kept; "
    "what happened stands in the window in which blockwright was started."
)
NOT_READ = "What was sent cannot be read; go back and try it again."


def make_app(desk: Desk, *, port: int, token: str) -> FastAPI:
    """The app on a desk, for 127.0.0.1:``port``, opened by the start ``token``."""
    # Not left to the system's list, which calls scripts plain text on some, and then no browser runs them.
    mimetypes.add_type("text/javascript", ".js")
    mimetypes.add_type("font/woff2", ".woff2")
    tiles = Tiles()

    def rest() -> None:
        tiles.rest()
        give_back()

    desk.jobs, desk.tiles = Jobs(rest=rest), tiles
    app = _Guarded(port, token)
    app.state.blockwright = desk
    app.state.templates = templates()
    app.mount("/static", _Static(directory=STATIC))
    for name in ROUTERS:
        app.include_router(import_module(f"blockwright.web.{name}").router)
    app.add_exception_handler(BlockwrightError, _refused)
    app.add_exception_handler(RequestValidationError, _not_valid)
    app.add_exception_handler(HTTPException, _not_there)
    app.add_exception_handler(Exception, _unexpected)
    return app


class _Guarded(FastAPI):
    """Pages with the guard around everything, the library's own last answer to failures too."""

    def __init__(self, port: int, token: str) -> None:
        super().__init__(openapi_url=None, docs_url=None, redoc_url=None, lifespan=_lifespan)
        self._key = port, token

    def build_middleware_stack(self) -> ASGIApp:
        port, token = self._key
        return Guard(super().build_middleware_stack(), port=port, token=token)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    desk: Desk = app.state.blockwright
    desk.begin()
    yield
    await desk.close()


class _Static(StaticFiles):
    """Files that never change under an address that holds their hash, and are asked for again else."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        answer = await super().get_response(path, scope)
        asked = Request(scope).query_params.get("v")
        for_ever = asked is not None and answer.status_code == 200 and asked == static_version(path)
        answer.headers["Cache-Control"] = (
            "private, max-age=31536000, immutable" if for_ever else "private, no-cache"
        )
        return answer


def _refused(request: Request, error: Exception) -> Response:
    return show_sentence(request, str(error), status=422)


def _not_valid(request: Request, error: Exception) -> Response:
    """The first thing that is wrong with an address or a form, in words."""
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    name = str(first["loc"][-1])
    kind = first["type"]
    if kind == "missing":
        sentence = words.fmt("needs_field", what=name)
    elif kind.startswith("int"):
        sentence = words.fmt("needs_whole", what=name)
    elif kind.startswith("float"):
        sentence = words.fmt("needs_number", what=name)
    else:
        sentence = NOT_READ
    return show_sentence(request, words.opening(sentence), status=422)


def _not_there(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    # The library's own details are no sentences for a printmaker; ours are.
    own = error.detail.endswith(".") and error.status_code == 404
    other = words.no_such_page if error.status_code in {404, 405} else NOT_READ
    return show_sentence(request, error.detail if own else other, status=error.status_code)


def _unexpected(request: Request, error: Exception) -> Response:
    if not isinstance(error, ClientDisconnect):
        traceback.print_exception(error, file=sys.stderr)
    try:
        return show_sentence(request, UNEXPECTED, status=500)
    except Exception:  # It may be the templates that are broken.
        return HTMLResponse(plain_page(UNEXPECTED), status_code=500)
