"""How a page is shown: the one environment of templates, and a plain sentence as an answer."""

import hashlib
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request, Response
from fastapi.templating import Jinja2Templates
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from blockwright.web import words

HERE = Path(__file__).parent
STATIC = HERE / "static"
"""Style sheets, scripts and fonts: the only files that are served as they lie."""


@cache
def static_version(name: str) -> str:
    """The beginning of a static file's hash, by which a changed file gets another address."""
    return hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]


def static(name: str) -> str:
    """The address of a static file, ``css/house.css``; a browser may keep what it finds there for ever."""
    return f"/static/{name}?v={static_version(name)}"


@cache
def templates() -> Jinja2Templates:
    """The templates: everything put into them is escaped, and a name that is missing is an error."""
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(words=words, static=static)
    return Jinja2Templates(env=environment)


def wants_part(request: Request) -> bool:
    """Whether a script asks, which puts the answer into the page that is there."""
    return request.headers.get("HX-Request") == "true"


def show(
    request: Request, template: str, *, status: int = 200, headers: dict[str, str] | None = None, **named: Any
) -> Response:
    """A template filled in with what is named, and with ``words`` and ``static``."""
    return templates().TemplateResponse(request, template, named, status_code=status, headers=headers)


def show_sentence(
    request: Request, sentence: str, *, status: int, onward: tuple[str, str] | None = None
) -> Response:
    """One plain sentence: as a part for a script, else as a page; ``onward`` is a link, address and words."""
    if wants_part(request):
        return show(request, "part_sentence.html", status=status, sentence=sentence)
    return show(request, "sentence.html", status=status, sentence=sentence, heading=None, onward=onward)
