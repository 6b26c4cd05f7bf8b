"""What an open page hears of its print while it is open, as server-sent events."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import aclosing, suppress
from dataclasses import asdict
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.sse import EventSourceResponse, ServerSentEvent

from blockwright import history
from blockwright.looking import Look, look
from blockwright.model.errors import BlockwrightError
from blockwright.web.drawer import Opened, OpenedPrint, desk_of
from blockwright.web.events import Changed, Event, Trouble, Work
from blockwright.web.frame import versions
from blockwright.web.jobs import Jobs

router = APIRouter()


@router.get("/print/{id}/stream", response_class=EventSourceResponse)
async def stream(request: Request, opened: Opened) -> AsyncIterator[ServerSentEvent]:
    """The events ``work``, ``changed`` and ``trouble`` of a print, how it stands first.

    A print that lies there stale, and of which no work was asked for as it is now, is worked out. A
    quiet stream carries a comment every 15 s (which FastAPI writes), so that a lost page is noticed.
    """
    desk = desk_of(request)
    await asyncio.to_thread(_begin, desk.jobs, opened)
    events = desk.jobs.subscribe(opened.id, opened.folder, closing=desk.closing, may_write=opened.may_write)
    async with aclosing(events):
        async for event in events:
            yield await _told(event, opened.folder)


def _begin(jobs: Jobs, opened: OpenedPrint) -> None:
    jobs.learn(opened.folder)
    if not opened.may_write:
        return
    # What stands now is known from here on, so that the first edit by another hand can be taken back.
    with suppress(BlockwrightError, OSError):
        history.take_in(opened.folder)
    seen = look(opened.folder)
    if seen.wrong is not None:
        return
    if _all_fresh(seen) or jobs.asked(opened.id, opened.folder):
        jobs.warm(opened.folder)
    else:
        jobs.ask(opened.id, opened.folder)


def _all_fresh(seen: Look) -> bool:
    return seen.packet_fresh and all(stage.state == "fresh" for stage in seen.stages.values())


async def _told(event: Event, folder: Path) -> ServerSentEvent:
    match event:
        case Work(state):
            return ServerSentEvent(event="work", data=asdict(state))
        case Trouble(sentence):
            # As JSON: a browser drops an event without data, and no words mean that the trouble is over.
            return ServerSentEvent(event="trouble", data=sentence)
        case Changed():
            seen = await asyncio.to_thread(look, folder)
            data = {"versions": versions(seen), "text_hash": seen.text_hash}
            return ServerSentEvent(event="changed", data=data)
