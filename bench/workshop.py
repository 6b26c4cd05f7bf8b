"""Where a run of measurements keeps its pictures and its compiled code."""

import signal
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import Any

from bench.child import Ran, run_step

MEGA = 1e6
GIGA = 1e9

_WIDTH_PX, _QUICK_WIDTH_PX = 6000, 3000
"""Width of the painted picture: 24 and, for the quick set, 6 megapixels."""

_ENDED = 128 + signal.SIGTERM
"""Exit code of a process that was asked to end."""

_DEMO_MM = (360.0, 240.0)
_MM_PER_INCH = 25.4


@contextmanager
def open_workshop(*, quick: bool = False) -> Iterator["Workshop"]:
    """A workshop whose folder is taken away at the end, also when the run is ended from outside."""

    def end(*_: object) -> None:
        raise SystemExit(_ENDED)

    before = signal.signal(signal.SIGTERM, end)
    try:
        with tempfile.TemporaryDirectory(prefix="blockwright-bench-", ignore_cleanup_errors=True) as folder:
            yield Workshop(Path(folder), quick=quick)
    finally:
        signal.signal(signal.SIGTERM, before)


class Workshop:
    """One run: its folder, the painted picture, and compiled code that only this run uses.

    The cache is the run's own so that *cold* and *warm* mean what they say, whoever else works on the
    machine.
    """

    def __init__(self, folder: Path, *, quick: bool) -> None:
        self.folder = folder
        self.quick = quick
        self._cache = folder / "compiled"
        self._began = time.perf_counter()

    @property
    def elapsed_s(self) -> float:
        """Seconds since the run began."""
        return time.perf_counter() - self._began

    def say(self, text: str) -> None:
        """Progress, to standard error."""
        print(f"[{self.elapsed_s:5.0f} s] {text}", file=sys.stderr, flush=True)

    def compiled(self) -> dict[str, str]:
        """Environment of steps with compiled code on disk; compiles it if nothing has yet."""
        if self.nothing_compiled:
            small = str(self.folder / "small.png")
            self.say("compiling")
            run_step("painted.write_painted", environment=self.cache, png=small, dpi=80)
            run_step(
                "design_steps.design_picture", environment=self.cache, picture=small, width_mm=_DEMO_MM[0]
            )
        return self.cache

    @property
    def nothing_compiled(self) -> bool:
        """Whether this run has compiled nothing yet."""
        return not self._cache.exists()

    @property
    def cache(self) -> dict[str, str]:
        """Environment in which compiled code is kept, whether there is any yet or not."""
        return {"NUMBA_CACHE_DIR": str(self._cache)}

    def step(self, name: str, **arguments: Any) -> Ran:
        """Run a step with compiled code on disk."""
        environment = self.compiled()
        self.say(name.rpartition(".")[2])
        return run_step(name, environment=environment, **arguments)

    @property
    def width_px(self) -> int:
        """Width of the painted picture."""
        return _QUICK_WIDTH_PX if self.quick else _WIDTH_PX

    @cached_property
    def painted(self) -> dict[str, Any]:
        """The painted demonstration picture: ``png``, ``jpeg``, a ``crop`` of it, pixels and millimetres."""
        files = {name: str(self.folder / f"painted.{name}") for name in ("png", "jpeg")}
        crop = str(self.folder / "crop.png")
        w, h = self.width_px, self.width_px * 2 // 3
        # The mill: line work, small shapes and wide ground, a sixteenth of the picture.
        box = [w // 2, h // 2, w * 3 // 4, h * 3 // 4]
        told = self.step(
            "painted.write_painted",
            dpi=self.width_px / _DEMO_MM[0] * _MM_PER_INCH,
            crop={"png": crop, "box": box},
            **files,
        ).told
        return {
            **told,
            **files,
            "crop": crop,
            "crop_mm": (box[2] - box[0]) / told["width_px"] * told["width_mm"],
            "pixels": told["width_px"] * told["height_px"],
        }
