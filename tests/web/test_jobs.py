"""Jobs in real processes on a real small print."""

import asyncio
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from asked_app import run_apart

from blockwright import project
from blockwright.web import jobs as jobs_module
from blockwright.web.events import Changed, Event, Trouble, Work
from blockwright.web.hired import Hired
from blockwright.web.jobs import CRASHED, NO_PROCESS, STOPPED, Jobs, _Job
from blockwright.web.worker import rehearse
from tiny_print import IN_BLUE, WIDTH_MM, create_tiny, decide, set_value, tree_hashes

LONG_S = 60.0
"""No job on a tiny print takes so long, even on a busy machine."""


@pytest.fixture(scope="module")
def jobs() -> Iterator[Jobs]:
    """The same for all tests, so that not each waits for processes that load everything."""
    jobs = Jobs()
    yield jobs
    jobs.close()


@pytest.fixture
def a(request: pytest.FixtureRequest, jobs: Jobs) -> Iterator[str]:
    """The id of a print of this test's own."""
    yield request.node.name
    jobs.stop(request.node.name)


def wait_until(true: Callable[[], bool], timeout_s: float = LONG_S) -> None:
    until = time.monotonic() + timeout_s
    while not true():
        assert time.monotonic() < until, "it never came about"
        time.sleep(0.005)


def wait_for_the_end(jobs: Jobs, *print_ids: str) -> None:
    wait_until(lambda: not any(jobs.state(print_id).running for print_id in print_ids))


def told(folder: Path, stage: str) -> dict[str, object]:
    read: dict[str, object] = json.loads((folder / "out" / stage / f"{stage}.json").read_text("utf-8"))
    return read


def lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def worker_at_work(jobs: Jobs) -> Hired:
    assert jobs._running is not None
    assert jobs._running.worker is not None
    return jobs._running.worker


def no_half_stage(folder: Path) -> bool:
    return not [*(folder / "out").glob(".making-*"), *(folder / "out").glob(".old-*")]


class Heard:
    """Everything that a page of a print is told, read by an event loop of its own."""

    def __init__(self, jobs: Jobs, print_id: str, folder: Path, *, may_write: bool = True) -> None:
        self.events: list[Event] = []
        self._listening = asyncio.create_task(self._listen(jobs, print_id, folder, may_write))

    async def _listen(self, jobs: Jobs, print_id: str, folder: Path, may_write: bool) -> None:
        async for event in jobs.subscribe(print_id, folder, may_write=may_write):
            self.events.append(event)

    @property
    def work(self) -> list[Work]:
        return [event for event in self.events if isinstance(event, Work)]

    @property
    def troubles(self) -> list[str]:
        return [event.sentence for event in self.events if isinstance(event, Trouble) and event.sentence]

    async def until(self, true: Callable[[], bool], timeout_s: float = LONG_S) -> None:
        async with asyncio.timeout(timeout_s):
            while not true():
                await asyncio.sleep(0.005)

    async def until_outcome(self, outcome: str) -> None:
        await self.until(lambda: bool(self.work) and self.work[-1].state.outcome == outcome)

    async def begun(self) -> None:
        await self.until(lambda: len(self.events) >= 3)

    async def end(self) -> None:
        self._listening.cancel()
        await asyncio.wait([self._listening], timeout=1.0)
        assert self._listening.cancelled()


def test_a_job_makes_the_whole_print_and_pages_hear_of_it(
    jobs: Jobs, a: str, new_print: Path, tmp_path: Path
) -> None:
    async def look_on() -> tuple[Heard, Heard]:
        first, second = Heard(jobs, a, new_print), Heard(jobs, a, new_print)
        for each in (first, second):
            await each.begun()
        jobs.ask(a, new_print)
        for each in (first, second):
            await each.until_outcome("done")
        for each in (first, second):
            await each.end()
        return first, second

    first, second = run_apart(look_on())

    assert (new_print / "out" / "packet.pdf").is_file()
    assert no_half_stage(new_print)
    assert first.work[-1] == second.work[-1], "two tabs agree"
    assert first.work[0].state.outcome == "none"
    assert {w.state.stage for w in first.work if w.state.running} >= {"design", "separation", "packet"}
    assert sum(isinstance(event, Changed) for event in first.events) > 3
    # Nothing is known of how long a print takes before one was made: nothing is said.
    assert all(w.state.seconds_left is None for w in first.work)
    create_tiny(tmp_path / "other", new_print / "design.png")
    project.make(tmp_path / "other")
    by_command_hashes = tree_hashes(tmp_path / "other" / "out")
    in_the_app = tree_hashes(new_print / "out")
    assert in_the_app.pop(".seconds.json")
    # What only a screen needs lies beside: stages computed ahead.
    assert any(name.startswith(".sketch") for name in in_the_app)
    assert {k: v for k, v in in_the_app.items() if not k.startswith(".sketch")} == by_command_hashes


def test_the_worker_knows_nothing_of_the_web() -> None:
    imported = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", "import blockwright.web.worker"],
        capture_output=True,
        text=True,
        check=True,
    ).stderr
    assert "blockwright.project" in imported
    for web in ("fastapi", "starlette", "uvicorn", "jinja2", "asyncio"):
        assert f" {web}\n" not in imported


def test_the_latest_edit_wins(jobs: Jobs, a: str, new_print: Path) -> None:
    decide(new_print, design="colours = 3")
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).stage == "design")
    first = worker_at_work(jobs).pid
    # So small a print could be done before the next edit, and its process would rightly be used again.
    os.kill(first, signal.SIGSTOP)
    set_value(new_print, "colours", "4")
    decide(new_print, end=f'[[design.name]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nname = "sea"')
    jobs.ask(a, new_print)
    jobs.ask(a, new_print)
    wait_for_the_end(jobs, a)

    assert jobs.state(a).outcome == "done"
    design = told(new_print, "design")
    assert "sea" in json.dumps(design["palette"])
    assert len(design["palette"]) == 4  # type: ignore[arg-type]
    assert no_half_stage(new_print)
    assert not lives(first)
    # What is there is what the command would make: nothing is left to do.
    lines: list[str] = []
    project.make(new_print, say=lines.append)
    assert all(line.endswith("nothing changed") for line in lines)


def test_the_same_decisions_are_not_begun_twice(jobs: Jobs, a: str, new_print: Path) -> None:
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).stage is not None)
    pid = worker_at_work(jobs).pid
    jobs.ask(a, new_print)
    assert worker_at_work(jobs).pid == pid
    wait_for_the_end(jobs, a)
    assert jobs.state(a).outcome == "done"


def test_stop_is_quick_and_keeps_what_was_finished(jobs: Jobs, a: str, new_print: Path) -> None:
    jobs.ask(a, new_print)
    wait_until((new_print / "out" / "design" / ".made.json").exists)
    worker = worker_at_work(jobs)
    began = time.monotonic()
    jobs.stop(a)
    assert worker.join(0.5)
    assert time.monotonic() - began < 0.5
    assert not lives(worker.pid)
    state = jobs.state(a)
    assert (state.running, state.outcome, state.sentence) == (False, "stopped", STOPPED)
    assert told(new_print, "design")

    lines: list[str] = []
    project.make(new_print, say=lines.append)
    assert "design: nothing changed" in lines
    assert no_half_stage(new_print)


def test_stop_of_nothing_changes_nothing(jobs: Jobs, a: str) -> None:
    before = jobs.state(a)
    jobs.stop(a)
    assert jobs.state(a) == before


def test_a_crash_is_told_in_a_sentence_and_the_next_job_works(jobs: Jobs, a: str, new_print: Path) -> None:
    async def look_on() -> list[str]:
        heard = Heard(jobs, a, new_print)
        jobs.ask(a, new_print)
        await heard.until(lambda: jobs.state(a).stage is not None)
        os.kill(worker_at_work(jobs).pid, signal.SIGSEGV)
        await heard.until_outcome("trouble")
        await heard.until(lambda: bool(heard.troubles))
        troubles = list(heard.troubles)
        jobs.ask(a, new_print)
        await heard.until_outcome("done")
        told = [event.sentence for event in heard.events if isinstance(event, Trouble)]
        assert told == ["", CRASHED, ""], "none at first; then the trouble, which is taken back"
        await heard.end()
        return troubles

    assert run_apart(look_on()) == [CRASHED]
    assert (new_print / "out" / "packet.pdf").is_file()
    assert no_half_stage(new_print)


def test_a_process_that_cannot_load_is_told_and_the_next_job_works(new_print: Path) -> None:
    jobs, a = Jobs(), "a"
    jobs.ask(a, new_print)
    assert jobs.state(a).outcome == "waiting"
    os.kill(next(iter(jobs._idle)).pid, signal.SIGKILL)
    wait_for_the_end(jobs, a)
    assert (jobs.state(a).outcome, jobs.state(a).sentence) == ("trouble", NO_PROCESS)
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).outcome == "working")
    jobs.close()


def test_decisions_that_cannot_be_read_are_told_in_their_sentence(
    jobs: Jobs, a: str, made_print: Path
) -> None:
    decide(made_print, design="colours = 500")
    jobs.ask(a, made_print)
    wait_for_the_end(jobs, a)
    state = jobs.state(a)
    assert state.outcome == "trouble"
    with pytest.raises(Exception, match="colours") as refused:
        project.make(made_print)
    assert state.sentence == str(refused.value)


def test_the_print_asked_for_last_comes_first(jobs: Jobs, a: str, new_print: Path, tmp_path: Path) -> None:
    others = [tmp_path / name for name in ("b", "c")]
    for other in others:
        project.create(other, picture=new_print / "design.png", width_mm=WIDTH_MM, title="Tiny")
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).stage is not None)
    jobs.ask("b", others[0])
    jobs.ask("c", others[1])
    assert jobs.state(a).running
    assert jobs.state(a).outcome == "waiting"
    wait_for_the_end(jobs, a, "b", "c")
    ends = [(f / "out" / "packet.pdf").stat().st_mtime_ns for f in (others[1], others[0], new_print)]
    assert ends == sorted(ends)
    assert {jobs.state(each).outcome for each in (a, "b", "c")} == {"done"}


def test_a_print_nobody_waits_for_is_made_after_every_other(
    jobs: Jobs, a: str, new_print: Path, tmp_path: Path
) -> None:
    demo = tmp_path / "demo"
    project.create(demo, picture=new_print / "design.png", width_mm=WIDTH_MM, title="Tiny")
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).stage is not None)
    jobs.ask("demo", demo, ahead=True)
    assert (jobs.state(a).outcome, jobs.state("demo").outcome) == ("working", "waiting")
    wait_for_the_end(jobs, a, "demo")
    ends = [(f / "out" / "packet.pdf").stat().st_mtime_ns for f in (new_print, demo)]
    assert ends == sorted(ends)


def test_the_estimate_is_silent_first_then_monotone_and_ends_at_100(
    jobs: Jobs, a: str, new_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)

    async def look_on() -> list[Work]:
        jobs.ask(a, new_print)
        heard = Heard(jobs, a, new_print)
        await heard.until_outcome("done")
        before = len(heard.work)
        set_value(new_print, "speck_mm2", "0.9")
        jobs.ask(a, new_print)
        await heard.until(lambda: len(heard.work) > before)
        await heard.until_outcome("done")
        await heard.end()
        return heard.work[before:]

    again = run_apart(look_on())
    working = [w.state for w in again if w.state.outcome == "working"]
    percents = [state.done_percent for state in working if state.done_percent is not None]
    left = [state.seconds_left for state in working if state.seconds_left is not None]
    assert len(percents) > 3
    assert percents == sorted(percents)
    assert left == sorted(left, reverse=True)
    assert max(percents) < 100
    assert again[-1].state.done_percent == 100
    kept = json.loads((new_print / "out" / ".seconds.json").read_text("utf-8"))
    assert kept["megapixels"] == pytest.approx(160 * 120 / 1e6)
    assert {"design", "packet"} <= kept["seconds"].keys()


def test_close_ends_every_process_within_a_second(new_print: Path) -> None:
    jobs, a = Jobs(), "a"
    jobs.ask(a, new_print)
    wait_until(lambda: jobs.state(a).stage is not None)
    with jobs._lock:
        assert jobs._hire()  # as behind a long job
    pids = [worker_at_work(jobs).pid, *(worker.pid for worker in jobs._idle)]
    assert len(pids) >= 2
    began = time.monotonic()
    jobs.close()
    assert time.monotonic() - began < 1.0
    assert not any(lives(pid) for pid in pids)
    jobs.ask(a, new_print)
    assert not jobs.state(a).running


def test_idle_processes_end(monkeypatch: pytest.MonkeyPatch, made_print: Path) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)
    rested: list[bool] = []
    jobs = Jobs(idle_s=0.2, rest=lambda: rested.append(True))
    jobs.warm(made_print)
    (idle,) = jobs._idle
    assert idle.join(LONG_S)
    assert not jobs._idle
    wait_until(lambda: rested == [True])
    jobs.close()


def test_a_print_that_is_open_is_got_to_know_by_the_process_that_does_its_next_job(made_print: Path) -> None:
    jobs = Jobs()
    jobs.warm(made_print)
    jobs.warm(made_print)
    (idle,) = jobs._idle
    assert idle.knows == made_print
    wait_until(lambda: idle.ready)
    jobs.ask("known", made_print)
    assert worker_at_work(jobs) is idle
    wait_until(lambda: jobs.state("known").outcome == "done")
    jobs.close()


def test_a_rehearsal_writes_nothing_and_gives_way_to_a_job(made_print: Path) -> None:
    before = tree_hashes(made_print)
    asked = iter([False, False, True])
    rehearse(made_print, enough=lambda: next(asked))
    assert next(asked, None) is None
    rehearse(made_print, enough=lambda: False)
    rehearse(made_print / "nowhere", enough=lambda: False)
    assert tree_hashes(made_print) == before


def test_a_worker_ends_when_the_app_is_gone() -> None:
    heard: list[object] = []
    worker = Hired(lambda _, message: heard.append(message))
    assert worker._process.stdin is not None
    worker._process.stdin.close()
    assert worker.join(LONG_S)
    assert heard == [{"kind": "gone"}]


def test_an_edit_by_another_hand_is_taken_in(
    jobs: Jobs, a: str, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)

    async def look_on() -> None:
        heard = Heard(jobs, a, made_print)
        await asyncio.sleep(0.2)
        decide(made_print, end=f'[[design.name]]\nat = [{IN_BLUE[0]}, {IN_BLUE[1]}]\nname = "sea"')
        await heard.until_outcome("done")
        await heard.end()

    run_apart(look_on())
    assert "sea" in json.dumps(told(made_print, "design")["palette"])


def test_a_page_that_may_only_look_starts_no_work_but_sees_it(
    jobs: Jobs, a: str, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)

    async def look_on() -> int:
        heard = Heard(jobs, a, made_print, may_write=False)
        await asyncio.sleep(0.3)
        before = len(heard.events)
        assert before == 3
        set_value(made_print, "dpi", "100")
        await heard.until(lambda: len(heard.events) == before + 1)
        assert jobs.state(a).outcome == "none"
        await asyncio.to_thread(project.make, made_print)
        await heard.until(lambda: len(heard.events) >= before + 2)
        await heard.end()
        return len([event for event in heard.events[before:] if not isinstance(event, Changed)])

    assert run_apart(look_on()) == 0


def test_a_folder_that_vanishes_is_told_and_may_come_back(
    jobs: Jobs, a: str, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)
    away = made_print.with_name("away")

    async def look_on() -> None:
        heard = Heard(jobs, a, made_print)
        await asyncio.sleep(0.2)
        made_print.rename(away)
        await heard.until(lambda: bool(heard.troubles))
        assert heard.troubles == [jobs_module.VANISHED.format(folder=made_print)]
        away.rename(made_print)
        await heard.until(lambda: Trouble("") in heard.events[-2:])
        told = [event.sentence for event in heard.events if isinstance(event, Trouble)]
        assert told == ["", jobs_module.VANISHED.format(folder=made_print), ""]
        await heard.end()

    run_apart(look_on())


def test_a_folder_that_came_back_while_no_page_was_open_is_noticed(
    jobs: Jobs, a: str, made_print: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs_module, "BEAT_S", 0.05)
    away = made_print.with_name("away")

    async def look_on() -> None:
        heard = Heard(jobs, a, made_print)
        await heard.begun()
        made_print.rename(away)
        await heard.until(lambda: bool(heard.troubles))
        await heard.end()
        away.rename(made_print)
        heard = Heard(jobs, a, made_print)
        await heard.until(lambda: bool(heard.troubles) and Trouble("") in heard.events)
        assert jobs.state(a).sentence is None
        await heard.end()

    run_apart(look_on())


def test_a_sketch_is_news_when_its_impressions_have_their_inks_and_not_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs, told = Jobs(), list[Event]()
    monkeypatch.setattr(jobs, "_tell", lambda _, event: told.append(event))
    job, news = _Job("a", tmp_path, None, sketching=True), {}
    for stage in ("design", "separation", "inks", "proof"):
        jobs._hear_line(job, f"{stage} ...", 0.0)
        jobs._hear_line(job, f"{stage}: done in 0.1 s", 0.0)
        news[stage] = sum(isinstance(event, Changed) for event in told)
    jobs.close()
    assert news == {"design": 1, "separation": 1, "inks": 2, "proof": 2}
