"""What the pages of a print are told while it is worked on, and the mailbox in which each page finds it."""

import asyncio
import threading
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal

Outcome = Literal["none", "waiting", "working", "done", "stopped", "trouble"]


@dataclass(frozen=True)
class JobState:
    """How the work on a print stands.

    ``running`` is true from the moment a job is asked for until it ends. ``stage`` is what is being made now
    and ``sketch`` tells that it is the quick first look. ``done_percent`` (0 to 100) and ``seconds_left`` are
    None when nothing is known to tell them from. ``sentence`` says why a job that has ended was not finished.
    """

    running: bool = False
    sketch: bool = False
    stage: str | None = None
    done_percent: int | None = None
    seconds_left: int | None = None
    sentence: str | None = None
    outcome: Outcome = "none"


@dataclass(frozen=True)
class Work:
    """The work stands otherwise than before."""

    state: JobState


@dataclass(frozen=True)
class Changed:
    """What lies in the print's folder has changed: decisions or results."""


@dataclass(frozen=True)
class Trouble:
    """Something went wrong, in one sentence; an empty one takes the last back."""

    sentence: str


Event = Work | Changed | Trouble


class Mailbox:
    """The events that one page has not read yet: of each kind only the latest, so that a slow page piles
    nothing up. Filled from any thread, read in the event loop in which it was made.
    """

    def __init__(self) -> None:
        self._loop = asyncio.get_running_loop()
        self._ready = asyncio.Event()
        self._lock = threading.Lock()
        self._waiting: dict[type[Event], Event] = {}
        self._closed = False

    def put(self, event: Event) -> None:
        """Lay an event in, in the place of the last of its kind."""
        with self._lock:
            self._waiting.pop(type(event), None)
            self._waiting[type(event)] = event
        self._ring()

    def close(self) -> None:
        """Nothing more comes."""
        with self._lock:
            self._closed = True
        self._ring()

    def _ring(self) -> None:
        # A loop that is closed has no reader left.
        with suppress(RuntimeError):
            self._loop.call_soon_threadsafe(self._ready.set)

    async def take(self) -> tuple[Event, ...] | None:
        """Wait for events and take them, oldest first; None when nothing more comes."""
        while True:
            await self._ready.wait()
            self._ready.clear()
            with self._lock:
                events = tuple(self._waiting.values())
                self._waiting.clear()
                closed = self._closed
            if closed:
                self._ready.set()
                return None
            if events:
                return events


__all__ = ["Changed", "Event", "JobState", "Mailbox", "Outcome", "Trouble", "Work"]
