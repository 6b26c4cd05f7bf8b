"""A worker process as the app holds it: started warm, given a job, listened to, ended."""

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

Message = dict[str, Any]
Hear = Callable[["Hired", Message], None]

GONE = "gone"
"""The kind of the last message, which the app's side makes when the process has ended."""

_PATIENCE_S = 0.25
"""How long a process may take to end when it is asked, before it is made to."""

_QUIET = "ignore:resource_tracker:UserWarning"
"""A worker that is ended leaves locks behind, which its tracker takes away; nobody needs to read of it."""


class Hired:
    """One worker process, which takes a job when it is ready. ``hear`` is called with every message, in a
    thread of its own.

    The process and those that draw for it are one group, out of the reach of the terminal's Ctrl-C.
    """

    def __init__(self, hear: Hear) -> None:
        quiet = ",".join(filter(None, [os.environ.get("PYTHONWARNINGS"), _QUIET]))
        self._process = subprocess.Popen(
            # -P: a folder in which someone happens to stand is no place to load code from.
            [sys.executable, "-P", "-m", "blockwright.web.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONWARNINGS": quiet},
            start_new_session=True,
        )
        self.ready = False
        """Whether it has everything loaded; its owner sets it when it says so."""
        self.knows: Path | None = None
        """The print that it was given last, which it does quickest."""
        self._hear = hear
        self._ending = threading.Lock()
        self._gone = threading.Event()
        self._listening = threading.Thread(target=self._listen, daemon=True)
        self._listening.start()

    @property
    def lives(self) -> bool:
        """Whether the process is there; it may have ended without having been heard of yet."""
        return self._process.poll() is None

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._process.pid

    def give(self, folder: Path, *, rehearse: bool = False) -> None:
        """Hand a job over, or a print to get to know before the next job, without an answer.

        A process that is gone already says so by its last message.
        """
        self.knows = folder
        assert self._process.stdin is not None
        told = json.dumps({"folder": str(folder), "rehearse": rehearse})
        with suppress(OSError, ValueError):
            self._process.stdin.write(told.encode() + b"\n")
            self._process.stdin.flush()

    def end(self) -> None:
        """End the process and those that draw for it, whatever they do; returns at once."""
        if self._ending.acquire(blocking=False):
            self._signal_all()
            threading.Thread(target=self._insist, daemon=True).start()

    def join(self, timeout_s: float) -> bool:
        """Wait until the process is gone and tell whether it is."""
        return self._gone.wait(max(0.0, timeout_s))

    def _signal_all(self) -> None:
        if self._gone.is_set():
            return
        # Not SIGKILL: the tracker of locks lives on for a moment to take them away.
        with suppress(OSError):
            if sys.platform == "win32":
                self._process.terminate()
            else:
                os.killpg(self._process.pid, signal.SIGTERM)

    def _insist(self) -> None:
        if not self._gone.wait(_PATIENCE_S):
            self._process.kill()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as told:
            for line in told:
                # A process that is ended may leave half a line.
                with suppress(ValueError):
                    self._hear(self, json.loads(line))
        self._process.wait()
        assert self._process.stdin is not None
        with suppress(OSError):
            self._process.stdin.close()
        self._gone.set()
        self._hear(self, {"kind": GONE})
