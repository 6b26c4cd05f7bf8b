"""The process that does the work of a print, so that the pages never wait.

The app starts it. It reads one JSON line for each job from its standard input and answers on its standard
output, a JSON line for everything that happens. It knows nothing of the web. When its input ends, the app is
gone, and it ends too.
"""

import importlib
import json
import os
import queue
import signal
import threading
import traceback
import warnings
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.model.errors import BlockwrightError

Tell = Callable[..., None]

_ROOMS = ("design", "separation", "inks", "proof", "documents.pictures", "blocks", "cutting", "documents")
"""What a job needs and what takes seconds to load."""

_PATIENCE = 10
"""How far a job stands back behind pages and browser (POSIX nice): a click is answered while work goes on."""

_NO_MEMORY = "There was not enough memory for this print; close other programs, or take a smaller picture."
_UNEXPECTED = "Something went wrong that should not ({error}); the stages that were finished are kept."


@dataclass(frozen=True, slots=True)
class _Asked:
    """A print to be made, or only to be rehearsed."""

    folder: Path
    rehearse: bool


def main() -> None:
    """Wait for jobs and do them, one after the other, until the app is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to the app, which decides.
    if hasattr(os, "nice"):
        os.nice(_PATIENCE)
    asked, tell = _private_pipes()
    jobs: queue.SimpleQueue[_Asked] = queue.SimpleQueue()
    threading.Thread(target=_take_jobs, args=(asked, jobs), daemon=True).start()
    for room in _ROOMS:
        importlib.import_module(f"blockwright.{room}")
    tell("ready")
    while True:
        asked_for = jobs.get()
        if asked_for.rehearse:
            rehearse(asked_for.folder, enough=lambda: not jobs.empty())
        else:
            do_job(asked_for.folder, tell)


def _private_pipes() -> tuple[BinaryIO, Tell]:
    """The two pipes of the app, out of the reach of whatever else reads or prints in this process.

    Nor do the processes that draw inherit them, so that the app sees at once when this process is gone.
    """
    asked = os.fdopen(os.dup(0), "rb")
    telling = os.fdopen(os.dup(1), "wb", buffering=0)
    nothing = os.open(os.devnull, os.O_RDONLY)
    os.dup2(nothing, 0)
    os.close(nothing)
    os.dup2(2, 1)

    def tell(kind: str, **more: Any) -> None:
        try:
            telling.write(json.dumps({"kind": kind, **more}).encode() + b"\n")
        except OSError:
            end()

    return asked, tell


def _take_jobs(asked: BinaryIO, jobs: "queue.SimpleQueue[_Asked]") -> None:
    for line in asked:
        told = json.loads(line)
        jobs.put(_Asked(Path(told["folder"]), bool(told["rehearse"])))
    end()


def end() -> None:
    """End this process now, whatever it does, and those that draw for it."""
    if hasattr(os, "killpg") and os.getpgrp() == os.getpid():
        os.killpg(os.getpid(), signal.SIGTERM)
    os._exit(0)


def rehearse(folder: Path, *, enough: Callable[[], bool]) -> None:
    """Get to know a print that is open before it is changed; the next job ends it. Nothing comes of it."""
    with suppress(BlockwrightError, OSError, MemoryError, ValueError):
        project.rehearse(folder, enough=enough)


def do_job(folder: Path, tell: Tell) -> None:
    """Sketch a print and make it; ``tell`` hears of every step, and once of the end, good or bad."""
    try:
        tell("began", megapixels=_megapixels(folder))
        tell("sketching")
        project.sketch(folder, say=lambda line: tell("say", line=line))
        tell("sketched")
        project.make(folder, say=lambda line: tell("say", line=line))
    except BlockwrightError as error:
        tell("refused", sentence=str(error))
    except MemoryError:
        tell("refused", sentence=_NO_MEMORY)
        end()
    except OSError as error:
        traceback.print_exc()
        what = error.strerror or type(error).__name__
        tell("refused", sentence=f"{folder} cannot be read or written ({what}).")
    except Exception as error:
        traceback.print_exc()
        tell("refused", sentence=_UNEXPECTED.format(error=type(error).__name__))
    else:
        tell("done")


def _megapixels(folder: Path) -> float | None:
    """The size of the print's picture as its header tells it, or None."""
    from PIL import Image

    name = read_decisions(folder).print.picture
    if Path(name).name != name:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # The design stage speaks about pictures that are too large.
            with Image.open(folder / name) as picture:
                return picture.width * picture.height / 1e6
    except Exception:  # Whatever is wrong with the picture, the design stage says it better.
        return None


if __name__ == "__main__":
    main()
