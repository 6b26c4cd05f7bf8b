"""What tests of the router share: bits, a machine, and moves drawn as points."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from shapely.geometry import Polygon, box

from blockwright.cutting.reading_program import ProgramMoves, read_program
from blockwright.documents.program import Program, ProgramFacts, write_program
from blockwright.model.router import CUT, RAPID, Bit, Machine, Moves, Run

FLAT_6 = Bit(1, "6 mm flat", "flat", 6.0, 2, 20.0)
FLAT_3 = Bit(2, "3 mm flat", "flat", 3.0, 2, 10.0)
V_60 = Bit(3, "60° V", "V", 6.0, 2, 10.0, angle_deg=60.0, tip_mm=0.2)
FLAT_15 = Bit(5, "1.5 mm flat", "flat", 1.5, 2, 6.0)
BALL_3 = Bit(4, "3 mm ball", "ball", 3.0, 2, 10.0)
TAPERED = Bit(5, "tapered", "tapered", 6.0, 2, 12.0, angle_deg=20.0, tip_mm=1.0)
BITS = (FLAT_6, FLAT_3, V_60, BALL_3, TAPERED)
BY_NUMBER = {bit.number: bit for bit in BITS}

ROUTER = Machine(
    name="bench router",
    reach_mm=(600.0, 400.0, 80.0),
    feed_mm_min=3000.0,
    plunge_mm_min=600.0,
    rapid_mm_min=6000.0,
    acceleration_mm_s2=500.0,
    rpm=(8000.0, 24000.0),
    arcs=True,
    tool_change=True,
    safe_mm=5.0,
)
FACTS = ProgramFacts("Tide (mill)", "1a", "cherry", 60.0, 40.0, 20.0)
BLOCK: Polygon = box(-3.0, -2.0, 57.0, 38.0)
"""60 x 40 mm, with the face's zero somewhere inside."""


def path(points: ArrayLike, *, safe_mm: float = 5.0) -> Moves:
    """Over the first point, down, along all of them, and up."""
    along = np.asarray(points, dtype=np.float64)
    above = [[*along[0, :2], safe_mm]]
    end = np.concatenate([above, along, [[*along[-1, :2], safe_mm]]])
    kind = np.full(len(end), CUT, dtype=np.uint8)
    kind[0] = kind[-1] = RAPID
    return Moves((0.0, 0.0, safe_mm), kind, end, np.zeros((len(end), 2)))


def run(bit: Bit, points: ArrayLike, *, feed: float = 1200.0, plunge: float = 300.0) -> Run:
    """One run along points."""
    return Run(bit, "clearing", 18000.0, feed, plunge, path(points))


def written(runs: Sequence[Run], machine: Machine = ROUTER) -> list[Program]:
    """Their programs."""
    return list(write_program(runs, machine, FACTS))


def read(runs: Sequence[Run], machine: Machine = ROUTER) -> ProgramMoves:
    """The moves of their one program, as read back."""
    (program,) = written(runs, machine)
    return read_program(program.text)


def ring(x: float, y: float, radius: float, z: float, *, step: float = 0.2) -> np.ndarray:
    """Points round a circle, anticlockwise, closed."""
    turn = np.linspace(0.0, 2.0 * np.pi, int(2 * np.pi * radius / step) + 2)
    return np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn), np.full(len(turn), z)], axis=1)
