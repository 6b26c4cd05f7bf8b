"""The whole job on the demonstration print: from nothing, and after one changed setting."""

import re
import shutil
import sys
from pathlib import Path

import tomlkit

from bench.child import Ran, run_command
from bench.figures import Row, Section, at_most, table
from bench.workshop import GIGA, Workshop

FROM_NOTHING_S = 60.0
AFTER_A_CHANGE_S = 5.0

CHANGES = (
    ("cutting", "paper", "A3"),
    ("proof", "drift_mm", 0.4),
    ("blocks", "arm_mm", 18.0),
)
"""Settings of late stages, each changed by itself on what the change before left."""

_DONE = re.compile(r"^(\S+): done in ([\d.]+) s$", re.MULTILINE)


def job_section(workshop: Workshop) -> Section:
    """``blockwright demo`` and ``blockwright make`` as a printmaker runs them."""
    cache = workshop.cache
    folder = workshop.folder / "tide-mill"
    rows: list[Row] = []
    if workshop.nothing_compiled:
        workshop.say("demo from nothing, nothing compiled")
        cold = _blockwright("demo", folder, cache)
        rows.append(_from_nothing("demo from nothing, nothing compiled yet", cold))
        shutil.rmtree(folder)
    workshop.say("demo from nothing")
    whole = _blockwright("demo", folder, cache)
    rows.append(_from_nothing("demo from nothing, painting the picture included", whole))
    shutil.rmtree(folder / "out")
    workshop.say("make from the picture")
    made = _blockwright("make", folder, cache)
    rows.append(_from_nothing("make, from the picture on", made))
    for stage, key, value in CHANGES:
        _change(folder / "print.toml", stage, key, value)
        workshop.say(f"make after a change of {stage}.{key}")
        again = _blockwright("make", folder, cache)
        stages = ", ".join(f"{name} {seconds} s" for name, seconds in _DONE.findall(again.output))
        rows.append(
            at_most(
                f"make after {stage}.{key} = {value}",
                again.wall_s,
                most=AFTER_A_CHANGE_S,
                unit="s",
                beside=f"the target; {again.processor_s:.1f} s of all cores; made anew: {stages}",
            )
        )
    same = _blockwright("make", folder, cache)
    rows.append(
        Row(
            "make, nothing changed",
            f"{same.wall_s:.2f} s",
            beside="make, from the picture on",
            ratio=f"{100 * same.wall_s / made.wall_s:.1f} % of it",
        )
    )
    stages_told = table(
        ["stage, from the picture on", "s"], [[name, seconds] for name, seconds in _DONE.findall(made.output)]
    )
    return Section(
        "job",
        "The whole job on the demonstration print",
        (
            "Wall time of the command in a fresh process, the interpreter's start included: 360 x 240 mm at "
            "300 dpi, all stages and the packet.",
        ),
        tuple(rows),
        (stages_told,),
    )


def _blockwright(command: str, folder: Path, cache: dict[str, str]) -> Ran:
    words = [sys.executable, "-c", "from blockwright.cli import main; main()", command, str(folder)]
    return run_command(words, environment=cache)


def _from_nothing(what: str, ran: Ran) -> Row:
    return at_most(
        what,
        ran.wall_s,
        most=FROM_NOTHING_S,
        unit="s",
        digits=1,
        beside=f"the target; {ran.processor_s:.1f} s of all cores, peak {ran.peak_bytes / GIGA:.2f} GB",
    )


def _change(path: Path, stage: str, key: str, value: str | float) -> None:
    """Change one setting as the printmaker would, and make sure that it is a change."""
    decided = tomlkit.parse(path.read_text(encoding="utf-8"))
    table_of = decided[stage]
    if table_of[key] == value:
        raise RuntimeError(
            f"{stage}.{key} is {value} already; the benchmark must change it to something else"
        )
    table_of[key] = value
    path.write_text(tomlkit.dumps(decided), encoding="utf-8")
