"""Every program is taken by an independent RS274/NGC interpreter, and it makes the moves that were meant.

The interpreter is the one of linuxcnc, run by itself without being installed: its package is fetched into the
tests' cache folder where the system allows, and unpacked there. Where it cannot be had the tests are left
out and say why.
"""

import contextlib
import os
import re
import shutil
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from blockwright.cutting.reading_program import ProgramMoves, read_program
from blockwright.documents.program import write_program
from blockwright.geometry.arc_fitting import fit_arcs, split_arcs
from blockwright.model.router import ANTICLOCKWISE, CLOCKWISE, CUT, RAPID, Machine, Moves, Run
from routed import BALL_3, BITS, FACTS, FLAT_3, FLAT_6, ROUTER, TAPERED, V_60, ring, run

PACKAGE, NEEDED = "linuxcnc-uspace", r"\b(libboost-python[\d.]+|libtirpc\w+) \("
"""The package that the interpreter is in, and those of its libraries that are seldom there already."""

NUMBER = r"(-?\d+\.\d+)"
PLACE = rf"\({NUMBER}, {NUMBER}, {NUMBER}, "


def fetched(folder: Path) -> str:
    """Fetch and unpack the interpreter; return why it cannot be had, or nothing."""
    if (folder / "usr/bin/rs274").exists():
        return ""
    if not (shutil.which("apt-get") and shutil.which("dpkg-deb")):
        return "there is no apt-get or dpkg-deb here"
    with tempfile.TemporaryDirectory(dir=folder.parent) as name:
        place = Path(name)
        place.chmod(0o755)
        try:
            package = downloaded(place, PACKAGE)
            needs = re.findall(NEEDED, asked("dpkg-deb", "-f", package, "Depends"))
            for each in [package, *(downloaded(place, need) for need in needs)]:
                asked("dpkg-deb", "-x", each, place / "all")
        except (OSError, subprocess.SubprocessError):
            return "the interpreter's packages cannot be fetched here"
        # Another process that shares the tests may be quicker.
        with contextlib.suppress(OSError):
            (place / "all").replace(folder)
    return ""


def downloaded(place: Path, package: str) -> Path:
    """Fetch one package; the lists of packages are brought up to date when it is not in them."""
    options = ("-q", "-o", "Acquire::Retries=0", "-o", "Acquire::http::Timeout=10")
    try:
        asked("apt-get", *options, "download", package, place=place)
    except subprocess.CalledProcessError:
        asked("apt-get", *options, "update")
        asked("apt-get", *options, "download", package, place=place)
    return next(place.glob(f"{package}_*.deb"))


def asked(*words: str | Path, place: Path | None = None) -> str:
    return subprocess.run(words, cwd=place, capture_output=True, timeout=60, check=True, text=True).stdout


class Interpreter:
    """The independent interpreter: a program in, its moves out."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def run(self, text: str, place: Path) -> tuple[int, list[str]]:
        """Its exit status and its lines."""
        (place / "program.ngc").write_text(text)
        tools = [f"T{bit.number} P{bit.number} Z0 D{bit.diameter_mm}\n" for bit in BITS]
        (place / "tool.tbl").write_text("".join(tools))
        libraries = [self.folder / "usr/lib", *sorted((self.folder / "usr/lib").glob("*-linux-gnu"))]
        done = subprocess.run(
            [self.folder / "usr/bin/rs274", "-g", "-t", "tool.tbl", "program.ngc", "out.txt"],
            cwd=place,
            env={**os.environ, "LD_LIBRARY_PATH": ":".join(map(str, libraries))},
            capture_output=True,
            timeout=60,
            check=False,
        )
        out = place / "out.txt"
        return done.returncode, out.read_text().splitlines() if out.exists() else []


@pytest.fixture(scope="module")
def interpreter(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Interpreter:
    folder = request.config.cache.mkdir("interpreters") / "rs274"
    why = fetched(folder)
    if not why:
        taker = Interpreter(folder)
        status, lines = taker.run("G21 G90\nM30\n", tmp_path_factory.mktemp("interpreter"))
        if status != 0 or not any("PROGRAM_END" in line for line in lines):
            why = "the interpreter was fetched and does not run here"
    if why:
        pytest.skip(why)
    return taker


def told(lines: list[str]) -> list[tuple[float, ...]]:
    """The moves that the interpreter prints: kind, end, centre, feed, turns, bit."""
    moves: list[tuple[float, ...]] = []
    feed = rpm = bit = 0.0
    turning = False
    for line in lines:
        if found := re.search(rf"SET_FEED_RATE\({NUMBER}\)", line):
            feed = float(found[1])
        elif found := re.search(rf"SET_SPINDLE_SPEED\(0, {NUMBER}\)", line):
            rpm = float(found[1])
        elif found := re.search(r"CHANGE_TOOL\((\d+)\)", line):
            bit = float(found[1])
        elif "START_SPINDLE_CLOCKWISE" in line:
            turning = True
        elif "STOP_SPINDLE_TURNING" in line:
            turning = False
        elif found := re.search(rf"STRAIGHT_(TRAVERSE|FEED){PLACE}", line):
            kind = RAPID if found[1] == "TRAVERSE" else CUT
            moves.append((kind, *map(float, found.groups()[1:4]), 0, 0, feed, rpm if turning else 0.0, bit))
        elif found := re.search(
            rf"ARC_FEED\({NUMBER}, {NUMBER}, {NUMBER}, {NUMBER}, (-?1), {NUMBER}, ", line
        ):
            x, y, cx, cy, way, z = map(float, found.groups())
            kind = ANTICLOCKWISE if way > 0 else CLOCKWISE
            moves.append((kind, x, y, z, cx, cy, feed, rpm if turning else 0.0, bit))
    return moves


def table(moves: ProgramMoves) -> np.ndarray:
    centre = np.where(moves.kind[:, None] > CUT, moves.centre, 0.0)
    columns = (moves.kind, moves.end, centre, moves.feed, moves.rpm, moves.tool)
    return np.column_stack([np.asarray(column, dtype=float) for column in columns])


RANDOM = np.random.default_rng(11)
WILD = np.cumsum(RANDOM.normal(0.0, 0.15, (4000, 2)), axis=0) + 25.0
CASES = {
    "rings": [run(FLAT_6, ring(30, 20, 12, -1.5)), run(FLAT_3, ring(30, 20, 4.2, -2.0, step=0.05))],
    "walls": [run(V_60, [(5, 5, -1), (25, 5, -1), (25, 9, -0.2), (25, 5, -1)])],
    "rough": [run(BALL_3, np.column_stack([WILD, np.full(len(WILD), -0.7)]))],
    "slopes": [run(TAPERED, np.column_stack([WILD, np.sin(np.arange(len(WILD)) / 9.0) - 1.5]))],
    "whole turn": [
        Run(
            FLAT_3,
            "marks",
            12000.0,
            900.0,
            250.0,
            Moves(
                (10.0, 10.0, 5.0),
                np.array([1, 2, 3, 0], np.uint8),
                np.array([[10, 10, -1], [10, 10, -1], [14, 10, -1], [14, 10, 5.0]]),
                np.array([[0, 0], [12, 10], [12, 10], [0, 0.0]]),
            ),
        )
    ],
}
MACHINES = {
    "arcs": ROUTER,
    "no arcs": replace(ROUTER, arcs=False),
    "no changer": replace(ROUTER, tool_change=False),
    "own lines": replace(ROUTER, begin=("G54", "G40 G49 G80", "M8"), end=("M9", "G0 X0 Y0")),
}


@pytest.mark.parametrize("machine", MACHINES.values(), ids=MACHINES)
@pytest.mark.parametrize("runs", CASES.values(), ids=CASES)
def test_it_takes_every_program_and_makes_the_moves_that_were_meant(
    interpreter: Interpreter, tmp_path: Path, runs: list[Run], machine: Machine
) -> None:
    programs = write_program(runs, machine, FACTS)
    ends: list[list[float]] = []
    for program in programs:
        status, lines = interpreter.run(program.text, tmp_path)
        assert status == 0, lines[-3:]
        assert any("PROGRAM_END" in line for line in lines)
        theirs = np.array(told(lines))
        # It prints moves that go nowhere, and the first ones, before all of x, y and z are named.
        goes = (np.abs(np.diff(theirs[:, 1:4], axis=0, prepend=np.nan)) > 0).any(axis=1) | (
            theirs[:, 0] > CUT
        )
        mine = table(read_program(program.text))
        if not machine.tool_change:
            theirs[:, 8] = program.bits[0].number  # nobody changes bits, so that it knows of none
        theirs = theirs[goes][-len(mine) :]
        rapid = mine[:, 0] == RAPID
        mine[rapid, 6] = theirs[rapid, 6] = 0.0
        assert mine == pytest.approx(theirs, abs=1e-4)
        ends += theirs[:, 1:4].tolist()
    fitted = [(fit_arcs if machine.arcs else split_arcs)(each.moves) for each in runs]
    meant = np.round(np.concatenate([each.end for each in fitted]), 3)
    kept = np.concatenate([[True], (np.diff(meant, axis=0) != 0).any(axis=1)]) | np.concatenate(
        [each.kind > CUT for each in fitted]
    )
    at = 0
    for place in meant[kept]:
        # In their order; what stands between two runs was added by the writer.
        while at < len(ends) and np.abs(np.array(ends[at]) - place).max() > 1e-4:
            at += 1
        assert at < len(ends), f"{place} is not made"


def test_it_takes_the_air_cut(interpreter: Interpreter, tmp_path: Path) -> None:
    (air,) = write_program(CASES["rings"], ROUTER, FACTS, air_cut_mm=6.0)
    status, lines = interpreter.run(air.text, tmp_path)
    assert status == 0
    moves = np.array(told(lines))
    assert moves[:, 3].min() == 6.0
    assert (moves[:, 7] == 0).all()


@pytest.mark.parametrize(
    "line", ["G1 X10 Y10 Q3 F30", "G2 X10 I6 F30", "G1 X1", "G1 X1 X2 F3", "G0 G1 X3 F3", "G1 X F3"]
)
def test_what_our_reader_refuses_it_refuses_too(interpreter: Interpreter, tmp_path: Path, line: str) -> None:
    status, lines = interpreter.run(f"G21 G90\nT1 M6\nS9 M3\nG0 X0 Y0 Z5\n{line}\nM30\n", tmp_path)
    assert status != 0 or not any("PROGRAM_END" in each for each in lines)
