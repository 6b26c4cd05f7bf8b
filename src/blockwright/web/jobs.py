"""The work on the prints that are open: one job at a time, the latest edit first, in processes of their own.

A job is a print folder handed to a worker process (:mod:`blockwright.web.worker`). An edit that comes while
its print is worked on ends that process, and another that has everything loaded goes on at once; what was
half made is cleared away by the next run, as after any kill.
"""

import asyncio
import atexit
import re
import threading
import time
from collections.abc import AsyncGenerator, Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from blockwright import history
from blockwright.model.errors import BlockwrightError
from blockwright.project import STAGES
from blockwright.web.estimate import SKETCH, TRACING, Progress, Seconds, read_seconds, write_seconds
from blockwright.web.events import Changed, Event, JobState, Mailbox, Trouble, Work
from blockwright.web.hired import GONE, Hired, Message
from blockwright.web.watching import Watched, asked_of

BEAT_S = 1.0
"""How often the clock of a running job is told and the folders of open pages are looked at."""

IDLE_S = 90.0
"""How long a process that has everything loaded is kept for the next edit; it holds some 200 MB."""

_SPARE_AFTER_S = 2.0
"""When a job has run for so long, the next process is started behind it: loading takes about as long."""

_SEEN_EARLY = {"design", "inks"}
"""Stages whose sketch is shown before the whole sketch is there: the shapes, and every sheet of the print,
once its impressions have their inks; without them it would have to be drawn twice."""

_CLOSING_S = 0.9
"""How long ``close`` waits for processes to be gone."""

STOPPED = "Stopped; the stages that were finished are kept."
NO_PROCESS = "No work can be begun: the machine starts no process for it, perhaps for want of memory."
CRASHED = "The work broke off, perhaps for want of memory; the stages that were finished are kept."
VANISHED = "{folder} is no longer there; put it back where it was, and the work goes on."

_LINE = re.compile(
    r"(tracing|design|separation|inks|blocks|cutting|proof|packet)(?:\.pdf)?(?: (\.\.\.)|: (done|nothing))"
)
"""What a run says of a stage: it begins, it is done, or there is nothing to do."""


@dataclass
class _Job:
    print_id: str
    folder: Path
    text: str | None
    worker: Hired | None = None
    started: float = 0.0
    spare_started: bool = False
    progress: Progress = field(default_factory=lambda: Progress(Seconds(), now=0.0))
    sketching: bool = False
    sketched: bool = False


class Jobs:
    """All the work of one app. Every method may be called from any thread; none waits for a job.

    ``idle_s`` is how long processes without work are kept. ``rest`` is called when the last of them goes.
    """

    def __init__(self, *, idle_s: float = IDLE_S, rest: Callable[[], None] = lambda: None) -> None:
        self._idle_s, self._rest = idle_s, rest
        self._lock = threading.RLock()
        self._wake = threading.Condition(self._lock)
        self._waiting: list[_Job] = []
        self._running: _Job | None = None
        self._idle: dict[Hired, float] = {}
        self._ending: dict[Hired, bool] = {}
        self._states: dict[str, JobState] = {}
        self._asked: dict[str, str | None] = {}
        self._boxes: dict[str, list[Mailbox]] = {}
        self._watched: dict[str, Watched] = {}
        self._learned = Seconds()
        self._keeper: threading.Thread | None = None
        self._closed = False
        atexit.register(self.close)

    # What the app asks for

    def ask(self, print_id: str, folder: Path, *, ahead: bool = False) -> None:
        """Make a print anew, before every other; a job of this print that is under way is ended.

        One that is under way with the very same decisions and shelf goes on. A print that nobody waits for
        yet is made ``ahead``: after every other, and no other is ended for it.
        """
        text = asked_of(folder)
        with self._lock:
            if self._closed:
                return
            self._asked[print_id] = text
            running = self._running
            if running and running.print_id == print_id and text is not None and running.text == text:
                return
            if ahead and any(job.print_id == print_id for job in self._waiting):
                return
            self._waiting = [job for job in self._waiting if job.print_id != print_id]
            if running and not ahead:
                self._break_off()
                if running.print_id != print_id:
                    self._wait_for(_Job(running.print_id, running.folder, running.text))
            self._wait_for(_Job(print_id, folder, text), ahead=ahead)
            self._next()
            self._keep()

    def asked(self, print_id: str, folder: Path) -> bool:
        """Whether a job of this print, with decisions and shelf as they are now, was asked for last."""
        now = asked_of(folder)
        with self._lock:
            return print_id in self._asked and self._asked[print_id] == now

    def stop(self, print_id: str) -> None:
        """End the print's job, waiting or under way; the stages that were finished are kept."""
        with self._lock:
            waiting = [job for job in self._waiting if job.print_id == print_id]
            running = self._running is not None and self._running.print_id == print_id
            if not waiting and not running:
                return
            self._waiting = [job for job in self._waiting if job.print_id != print_id]
            if running:
                self._break_off()
            self._set(print_id, JobState(sentence=STOPPED, outcome="stopped"))
            self._tell(print_id, Changed())
            self._next()

    def state(self, print_id: str) -> JobState:
        """How the work on the print stands."""
        with self._lock:
            return self._states.get(print_id, JobState())

    def warm(self, folder: Path | None = None) -> None:
        """Have a process ready, for someone may be about to edit this print, which it gets to know, or is
        about to begin another.
        """
        with self._lock:
            if self._closed or self._running is not None or self._waiting:
                return
            if self._idle:
                self._idle = dict.fromkeys(self._idle, time.monotonic())
            elif not self._hire():
                return
            if folder is not None:
                self._rehearse(folder)

    def learn(self, folder: Path) -> None:
        """Take what this print's jobs took as a guide for prints that were never made on this machine."""
        seconds = read_seconds(folder)
        with self._lock:
            if seconds.of and seconds.megapixels:
                self._learned = seconds

    async def subscribe(
        self, print_id: str, folder: Path, *, closing: asyncio.Event | None = None, may_write: bool = True
    ) -> AsyncGenerator[Event, None]:
        """Everything that happens to a print from now on, how it stands first; ends with the app, or when
        ``closing`` is set.

        While someone listens the folder is watched: with ``may_write`` edits by another hand are taken in
        and worked out.
        """
        box = Mailbox()
        with self._lock:
            state = self._states.get(print_id, JobState())
            box.put(Work(state))
            box.put(Changed())
            box.put(Trouble((state.sentence or "") if state.outcome == "trouble" else ""))
            if self._closed:
                box.close()
            self._boxes.setdefault(print_id, []).append(box)
            if print_id not in self._watched:
                # It may have vanished, and come back, while no page of it was open.
                gone = state.sentence == VANISHED.format(folder=folder)
                self._watched[print_id] = Watched(folder, may_write=may_write, gone=gone)
            self._keep()
        end = asyncio.create_task(closing.wait()) if closing else None
        if end:
            end.add_done_callback(lambda _: box.close())
        try:
            while (events := await box.take()) is not None:
                for event in events:
                    yield event
        finally:
            if end:
                end.cancel()
            with self._lock:
                self._boxes[print_id].remove(box)
                if not self._boxes[print_id]:
                    del self._boxes[print_id]
                    self._watched.pop(print_id, None)

    def close(self) -> None:
        """End every process, within a second, and every subscription; nothing can be asked any more."""
        until = time.monotonic() + _CLOSING_S
        with self._lock:
            self._closed = True
            self._waiting.clear()
            if self._running:
                self._break_off()
            for worker in list(self._idle):
                self._dismiss(worker, at_work=False)
            ending = list(self._ending)
            for boxes in self._boxes.values():
                for box in boxes:
                    box.close()
            self._states.clear()
            self._wake.notify_all()
        for worker in ending:
            worker.join(until - time.monotonic())
        atexit.unregister(self.close)

    # Processes (with the lock held)

    def _wait_for(self, job: _Job, *, ahead: bool = False) -> None:
        self._waiting.insert(0 if ahead else len(self._waiting), job)
        self._set(job.print_id, JobState(running=True, outcome="waiting"))

    def _next(self) -> None:
        """Begin the job that was asked for last, once the folder of the one before is free."""
        # A process on its way out may still have the folder in its hand.
        if self._running or any(self._ending.values()) or not self._waiting or self._closed:
            return
        ready = [each for each in self._idle if each.ready and each.lives]
        last = self._waiting[-1].folder
        worker = next((each for each in ready if each.knows == last), ready[0] if ready else None)
        if worker is None:
            # One that is loading says when it is ready; until then the latest edit may still change.
            if not self._idle and not self._hire():
                self._give_up()
            return
        job = self._waiting.pop()
        self._idle.pop(worker, None)
        job.worker, job.started = worker, time.monotonic()
        job.progress = Progress(read_seconds(job.folder), now=job.started)
        self._running = job
        self._set(job.print_id, self._state_of(job))
        worker.give(job.folder)

    def _break_off(self) -> None:
        job, self._running = self._running, None
        assert job is not None
        assert job.worker is not None
        self._remember(job)
        self._dismiss(job.worker, at_work=True)

    def _dismiss(self, worker: Hired, *, at_work: bool) -> None:
        self._idle.pop(worker, None)
        self._ending[worker] = at_work
        worker.end()

    def _hire(self) -> bool:
        """Start another process and tell whether it could be started."""
        try:
            self._idle[Hired(self._hear)] = time.monotonic()
        except OSError:
            return False
        self._keep()
        return True

    def _rehearse(self, folder: Path) -> None:
        """Let a process that waits for work get to know a print."""
        if self._idle and not any(worker.knows == folder for worker in self._idle):
            next(reversed(self._idle)).give(folder, rehearse=True)

    def _give_up(self) -> None:
        """No process can be had."""
        for job in self._waiting:
            self._set(job.print_id, JobState(sentence=NO_PROCESS, outcome="trouble"))
        self._waiting.clear()

    # What the processes say

    def _hear(self, worker: Hired, message: Message) -> None:
        now = time.monotonic()
        with self._lock:
            job = self._running
            if job is not None and job.worker is worker:
                self._hear_of(job, message, now)
            if message["kind"] == "ready":
                worker.ready = True
            elif message["kind"] == GONE:
                self._idle.pop(worker, None)
                if self._ending.pop(worker, None) is None and not worker.ready:
                    self._give_up()
            self._next()

    def _hear_of(self, job: _Job, message: Message, now: float) -> None:
        match message["kind"]:
            case "began":
                self._know(job, message["megapixels"])
            case "sketching":
                job.sketching = True
            case "sketched":
                job.sketching, job.sketched = False, True
                job.progress.passes(SKETCH, now=now)
                self._tell(job.print_id, Changed())
                self._rehearse(job.folder)
            case "say":
                self._hear_line(job, message["line"], now)
            case "done":
                self._finish(job, JobState(done_percent=100, outcome="done"), now)
            case "refused":
                self._finish(job, JobState(sentence=message["sentence"], outcome="trouble"), now)
            case kind if kind == GONE:
                self._lost(job)
                return
        if self._running is job:
            self._set(job.print_id, self._state_of(job))

    def _hear_line(self, job: _Job, line: str, now: float) -> None:
        said = _LINE.match(line)
        if said is None:
            return
        stage, begins, ends = said.groups()
        if job.sketching:
            if ends == "done" and stage in _SEEN_EARLY:
                self._tell(job.print_id, Changed())
            # The sketch is one part, but for the tracing, which comes first in it.
            if stage != TRACING:
                return
            part = TRACING if begins else SKETCH
            job.progress.begins(part, now=now)
        elif stage == TRACING:
            return
        elif begins:
            job.progress.begins(stage, now=now)
        elif ends == "nothing":
            job.progress.passes(stage, now=now)
        else:
            # Its documents are drawn; the work itself may be further on.
            self._tell(job.print_id, Changed())

    def _know(self, job: _Job, megapixels: float | None) -> None:
        """Guess from this print's earlier jobs, or from another print's by the size of the picture."""
        known = job.progress.known
        job.progress.known = (
            replace(known, megapixels=megapixels) if known.of else self._learned.scaled(megapixels)
        )

    def _finish(self, job: _Job, state: JobState, now: float) -> None:
        assert job.worker is not None
        self._running = None
        self._idle[job.worker] = now
        if state.outcome == "done":
            job.progress.ends(now=now)
        self._remember(job)
        self._set(job.print_id, state)
        self._tell(job.print_id, Changed())
        self._next()

    def _lost(self, job: _Job) -> None:
        """The process is gone in the middle of the job."""
        self._running = None
        self._remember(job)
        self._set(job.print_id, JobState(sentence=CRASHED, outcome="trouble"))
        self._tell(job.print_id, Changed())

    def _remember(self, job: _Job) -> None:
        if job.progress.took:
            known = job.progress.known
            seconds = read_seconds(job.folder).updated(job.progress.took, known.megapixels)
            write_seconds(job.folder, seconds)
            if seconds.megapixels:
                self._learned = seconds

    def _spare_behind(self, job: _Job) -> None:
        if not job.spare_started and not self._idle:
            job.spare_started = True
            if self._hire() and job.sketched:
                self._rehearse(job.folder)

    # What the pages hear

    def _state_of(self, job: _Job) -> JobState:
        percent, left_s = job.progress.estimate(now=time.monotonic())
        part = job.progress.part
        return JobState(
            running=True,
            sketch=job.sketching,
            stage=part if part in STAGES else STAGES[0],
            done_percent=percent,
            seconds_left=left_s,
            outcome="working",
        )

    def _set(self, print_id: str, state: JobState) -> None:
        before = self._states.get(print_id, JobState())
        if state == before:
            return
        self._states[print_id] = state
        self._tell(print_id, Work(state))
        if state.outcome == "trouble":
            self._tell(print_id, Trouble(state.sentence or ""))
        elif before.outcome == "trouble":
            self._tell(print_id, Trouble(""))

    def _tell(self, print_id: str, event: Event) -> None:
        for box in self._boxes.get(print_id, ()):
            box.put(event)

    # Once a second

    def _keep(self) -> None:
        if self._keeper is None and not self._closed:
            self._keeper = threading.Thread(target=self._keep_on, daemon=True)
            self._keeper.start()
        self._wake.notify_all()

    def _keep_on(self) -> None:
        while True:
            with self._lock:
                while not (self._closed or self._running or self._idle or self._watched):
                    self._wake.wait()
            time_is_up = self._beat()
            if time_is_up:
                return
            for print_id, watched in list(self._watched.items()):
                self._look_after(print_id, watched)

    def _beat(self) -> bool:
        """Wait for a second and do what is due; tells whether the app is closed."""
        with self._lock:
            self._wake.wait_for(lambda: self._closed, BEAT_S)
            now = time.monotonic()
            if job := self._running:
                self._set(job.print_id, self._state_of(job))
                if now - job.started >= _SPARE_AFTER_S:
                    self._spare_behind(job)
            due = [worker for worker, since in self._idle.items() if now - since >= self._idle_s]
            for worker in due:
                self._dismiss(worker, at_work=False)
            closed, resting = self._closed, bool(due) and not self._idle and self._running is None
        if resting and not closed:
            self._rest()
        return closed

    def _look_after(self, print_id: str, watched: Watched) -> None:
        """Look at a folder whose page is open. Without the lock: disks may be slow."""
        with self._lock:
            at_work = self._running is not None and self._running.print_id == print_id
        seen = watched.look(at_work=at_work)
        if seen.vanished:
            self.stop(print_id)
            with self._lock:
                sentence = VANISHED.format(folder=watched.folder)
                self._set(print_id, JobState(sentence=sentence, outcome="trouble"))
        if seen.back:
            with self._lock:
                self._set(print_id, JobState())
        if (seen.decisions or seen.shelf) and watched.may_write:
            self._take_in(print_id, watched.folder)
        if seen.back or seen.decisions or seen.shelf or seen.results:
            with self._lock:
                self._tell(print_id, Changed())

    def _take_in(self, print_id: str, folder: Path) -> None:
        """Keep an edit by another hand as a step that can be undone, and work it out."""
        try:
            history.take_in(folder)
        except (BlockwrightError, OSError) as error:
            with self._lock:
                self._tell(print_id, Trouble(str(error)))
        text = asked_of(folder)
        with self._lock:
            news = text is None or text != self._asked.get(print_id)
        if news:
            self.ask(print_id, folder)


__all__ = ["BEAT_S", "CRASHED", "IDLE_S", "NO_PROCESS", "STOPPED", "VANISHED", "JobState", "Jobs"]
