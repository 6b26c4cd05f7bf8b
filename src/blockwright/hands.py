"""Processes that draw: documents that do not depend on one another are written side by side.

A drawing is a function of plain values that writes files into a folder it is given; it is handed to an
``Executor`` (:mod:`concurrent.futures`). The processes start when the first drawing of some size is wanted,
and end with the run, or at once when the process that they work for is gone.
"""

import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import wait
from pathlib import Path

from blockwright.model.errors import FolderError

_MOST = 8
"""Processes at most: each takes some 150 MB, and more than that rarely find work at once."""

_PRELOADED = ["__main__", "blockwright.documents", "blockwright.documents.dxf_points"]
"""What most drawings need, loaded once and shared by all processes where the system can fork."""

Draw = Callable[[Path], object]


def _end_with_the_run() -> None:
    """In each process: leave interruptions to the run, and end when it is gone, however it ended."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=(parent.sentinel,), daemon=True).start()


def _end_after(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


def _pool() -> ProcessPoolExecutor:
    kind = "spawn" if sys.platform == "win32" else "forkserver"
    context = multiprocessing.get_context(kind)
    if kind == "forkserver":
        context.set_forkserver_preload(_PRELOADED)
    return ProcessPoolExecutor(
        min(_MOST, os.cpu_count() or 1), mp_context=context, initializer=_end_with_the_run
    )


class Hands:
    """The drawing processes of one run; a context manager that ends them.

    ``executor`` is used instead when it is given, and is left running.
    """

    def __init__(self, executor: Executor | None = None) -> None:
        self._given = executor
        self._own: Executor | None = None

    def __enter__(self) -> "Hands":
        return self

    def __exit__(self, *_: object) -> None:
        if self._own is not None:
            self._own.shutdown(wait=True, cancel_futures=True)
            self._own = None

    def ready(self) -> None:
        """Start the processes, so that they load what they need while the run computes."""
        if self._given is None and self._own is None:
            self._own = _pool()
            # The first one waits until what is shared is loaded; the run does not.
            threading.Thread(target=self._own.submit, args=(os.getpid,), daemon=True).start()

    def draw(self, draw: Draw, into: Path) -> "Future[object]":
        """Have a drawing made by another process."""
        self.ready()
        executor = self._given or self._own
        assert executor is not None
        return executor.submit(draw, into)


def finish(drawing: "Future[object]") -> None:
    """Wait for a drawing. Raises what it raised, and FolderError when its process was ended."""
    try:
        drawing.result()
    except BrokenProcessPool:
        raise FolderError(
            "A process that was drawing has ended too soon, perhaps for want of memory; run it again."
        ) from None
