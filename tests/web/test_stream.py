"""The stream of a print's events, read over a socket from a server that runs."""

import asyncio
import json
import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from blockwright.looking import STAGES
from blockwright.web import jobs as jobs_module
from blockwright.web.drawer import Desk
from blockwright.web.jobs import CRASHED, Jobs
from blockwright.web.stream import router
from tiny_print import set_value

LONG_S = 20.0


@dataclass(frozen=True)
class Served:
    desk: Desk
    address: str
    server: uvicorn.Server
    thread: threading.Thread
    loop: asyncio.AbstractEventLoop


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.1)
    desk = Desk(tmp_path / "home")
    desk.jobs = Jobs()
    app = FastAPI()
    app.state.blockwright = desk
    app.include_router(router)
    loops: list[asyncio.AbstractEventLoop] = []
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
    listening = socket.create_server(("127.0.0.1", 0))

    async def serve() -> None:
        loops.append(asyncio.get_running_loop())
        await server.serve([listening])

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield Served(desk, f"http://127.0.0.1:{listening.getsockname()[1]}", server, thread, loops[0])
    desk.jobs.close()
    server.should_exit = True
    thread.join(LONG_S)
    listening.close()
    desk.holding.let_all_go()


Told = tuple[str, Any]


@contextmanager
def opened_stream(served: Served, id: str) -> Iterator[Iterator[Told]]:
    """The events of a print as a page gets them: name and data."""
    with httpx.stream("GET", f"{served.address}/print/{id}/stream", timeout=LONG_S) as answer:
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("text/event-stream")
        yield _events(answer)


def _events(answer: httpx.Response) -> Iterator[Told]:
    name = ""
    for line in answer.iter_lines():
        if line.startswith("event: "):
            name = line.removeprefix("event: ")
        elif line.startswith("data: "):
            data = line.removeprefix("data: ")
            yield name, json.loads(data)


def until(events: Iterator[Told], name: str, **wanted: Any) -> list[Told]:
    """Everything up to the first event of this name with these values."""
    heard: list[Told] = []
    for event in events:
        heard.append(event)
        if event[0] == name and all(event[1][key] == value for key, value in wanted.items()):
            return heard
    raise AssertionError(f"no such event before the stream ended: {heard}")


def test_a_page_hears_how_it_stands_then_the_work_then_the_result(served: Served, new_print: Path) -> None:
    id = served.desk.registry.add(new_print)
    with opened_stream(served, id) as events:
        first = [next(events), next(events)]
        assert [name for name, _ in first] == ["work", "changed"]
        # It lay there with nothing made: the page need not ask.
        assert first[0][1]["running"] is True
        before = first[1][1]
        heard = until(events, "work", outcome="done")
        assert heard[-1][1]["done_percent"] == 100
        assert heard[-1][1]["seconds_left"] is None
        after = [data for name, data in heard if name == "changed"]
        assert len(after) > 1
        now = next(data for name, data in events if name == "changed")
        assert set(now["versions"]) == set(STAGES)
        assert all(now["versions"][stage] != before["versions"][stage] for stage in now["versions"])
        assert now["text_hash"] == before["text_hash"]


def test_a_finished_print_is_left_in_peace_and_an_outside_edit_is_worked_out(
    served: Served, made_print: Path
) -> None:
    id = served.desk.registry.add(made_print)
    with opened_stream(served, id) as events:
        (_, work), (_, before) = next(events), next(events)
        assert work["running"] is False
        time.sleep(0.3)
        assert not served.desk.jobs.asked(id, made_print)
        set_value(made_print, "dpi", "100")
        heard = until(events, "work", outcome="done")
        texts = {data["text_hash"] for name, data in heard if name == "changed"}
        assert texts - {before["text_hash"]}


def test_two_tabs_agree_and_a_page_that_comes_back_is_right_at_once(served: Served, new_print: Path) -> None:
    id = served.desk.registry.add(new_print)
    with opened_stream(served, id) as one, opened_stream(served, id) as two:
        ends = [until(events, "work", outcome="done")[-1] for events in (one, two)]
    assert ends[0] == ends[1]
    with opened_stream(served, id) as again:
        assert next(again) == ends[0]


def test_trouble_is_one_sentence_and_is_told_again_to_a_page_that_comes_back(
    served: Served, new_print: Path
) -> None:
    id = served.desk.registry.add(new_print)
    with opened_stream(served, id) as events:
        until(events, "work", outcome="working")
        running = served.desk.jobs._running
        assert running is not None
        assert running.worker is not None
        os.kill(running.worker.pid, 9)
        assert next(data for name, data in events if name == "trouble") == CRASHED
    with opened_stream(served, id) as events:
        first = [next(events) for _ in range(3)]
    assert [name for name, _ in first] == ["work", "changed", "trouble"]
    assert first[0][1]["outcome"] == "trouble"


def test_a_page_that_goes_is_forgotten(served: Served, made_print: Path) -> None:
    id = served.desk.registry.add(made_print)
    with opened_stream(served, id) as events:
        next(events)
        assert len(served.desk.jobs._boxes[id]) == 1
    end = time.monotonic() + LONG_S
    while id in served.desk.jobs._boxes:
        assert time.monotonic() < end
        time.sleep(0.01)
    assert id not in served.desk.jobs._watched


def test_open_streams_end_when_the_app_ends(served: Served, made_print: Path) -> None:
    id = served.desk.registry.add(made_print)
    with opened_stream(served, id) as one, opened_stream(served, id) as two:
        for events in (one, two):
            assert [next(events)[0] for _ in range(3)] == ["work", "changed", "trouble"]
        began = time.monotonic()
        served.loop.call_soon_threadsafe(served.desk.closing.set)
        assert [list(one), list(two)] == [[], []]
        assert time.monotonic() - began < 1.0
    served.server.should_exit = True
    served.thread.join(2.0)
    assert not served.thread.is_alive()


def test_a_print_that_is_not_in_the_drawer_has_no_stream(served: Served) -> None:
    assert httpx.get(f"{served.address}/print/nothing/stream").status_code == 404
