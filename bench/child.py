"""A measured step runs in a process of its own, so that its time and its peak of memory are its own.

A small launcher stands between this process and the step: what a parent holds when it starts a child counts
towards the child's peak on Linux. Works where ``os.wait4`` does (Linux, macOS).
"""

import importlib
import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
"""The project's folder, from which ``bench`` is importable."""

_RSS_UNIT = 1 if sys.platform == "darwin" else 1024
"""Bytes in a unit of ``ru_maxrss``."""

_TOLD_LINES = 20
"""Lines of a failed step's output that are shown."""


class StepError(RuntimeError):
    """A measured step failed; the text is what it printed last."""


@dataclass(frozen=True, slots=True)
class Ran:
    """One process: wall time from start to end, time of all cores, peak of resident memory, what it said."""

    wall_s: float
    processor_s: float
    peak_bytes: int
    output: str
    told: dict[str, Any]


def run_command(words: Sequence[str], *, environment: Mapping[str, str] | None = None) -> Ran:
    """Run a command to its end. Raises StepError when it fails."""
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "launched.json"
        # -S and -I keep the launcher small: no site packages.
        launch = [sys.executable, "-I", "-S", str(ROOT / "bench" / "launch.py"), str(answer)]
        done = subprocess.run(
            [*launch, *words],
            cwd=ROOT,
            env={**os.environ, **(environment or {})},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            check=False,
        )
        printed = done.stdout.decode(errors="replace")
        told = (
            json.loads(answer.read_text(encoding="utf-8")) if answer.is_file() else {"code": done.returncode}
        )
    if told["code"] != 0 or done.returncode != 0:
        last = "\n".join(printed.splitlines()[-_TOLD_LINES:])
        raise StepError(f"{' '.join(words[:4])} ended with {told['code']}:\n{last}")
    return Ran(told["wall_s"], told["processor_s"], told["max_rss"] * _RSS_UNIT, printed, {})


def run_step(step: str, *, environment: Mapping[str, str] | None = None, **arguments: Any) -> Ran:
    """Run ``bench.MODULE.FUNCTION`` (``step`` is ``"MODULE.FUNCTION"``) in a process of its own.

    The function gets ``arguments`` and returns a dictionary; both must be able to pass through JSON.
    """
    with tempfile.TemporaryDirectory() as folder:
        answer = Path(folder) / "answer.json"
        words = [sys.executable, "-m", "bench.child", step, json.dumps(arguments), str(answer)]
        ran = run_command(words, environment=environment)
        return replace(ran, told=json.loads(answer.read_text(encoding="utf-8")))


def peak_bytes() -> int:
    """The peak of resident memory of this process up to now."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * _RSS_UNIT


def _main() -> None:
    step, arguments, answer = sys.argv[1:]
    module, _, function = step.rpartition(".")
    told = getattr(importlib.import_module(f"bench.{module}"), function)(**json.loads(arguments))
    Path(answer).write_text(json.dumps(told), encoding="utf-8")


if __name__ == "__main__":
    _main()
