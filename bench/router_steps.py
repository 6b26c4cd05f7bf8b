"""The router's steps: moves a second of the simulation, of the reader and of the writer, and what they need.

``python -m bench.router_steps`` prints them for a face of 400 x 300 mm, full of shapes: rings of flat bits at
several depths, rings of a V bit along edges, and such that rise and fall. The edges are simulated finely.
"""

import resource
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Point, box

from blockwright.cutting.distances import distances_in
from blockwright.cutting.joining import Ways, joined
from blockwright.cutting.lanes import ring_lanes
from blockwright.cutting.ordering import in_order
from blockwright.cutting.proving import FaceWanted, check_program
from blockwright.cutting.reading_program import read_program
from blockwright.cutting.simulating import simulate
from blockwright.cutting.timing import router_time
from blockwright.cutting.wanted import Floor
from blockwright.documents.program import ProgramFacts, write_program
from blockwright.model.router import CUT, RAPID, Bit, Machine, Moves, Run

WIDTH_MM, HEIGHT_MM = 400.0, 300.0
RINGS = 90
"""Rings of every bit and depth."""

BITS = (
    Bit(1, "6 mm flat", "flat", 6.0, 2, 20.0),
    Bit(2, "3 mm flat", "flat", 3.0, 2, 12.0),
    Bit(3, "1.5 mm flat", "flat", 1.5, 2, 6.0),
    Bit(4, "60° V", "V", 6.0, 2, 10.0, angle_deg=60.0, tip_mm=0.1),
)
MACHINE = Machine(
    name="bench router",
    reach_mm=(600.0, 450.0, 80.0),
    feed_mm_min=3000.0,
    plunge_mm_min=600.0,
    rapid_mm_min=6000.0,
    acceleration_mm_s2=500.0,
    rpm=(8000.0, 24000.0),
    arcs=False,
    tool_change=True,
    safe_mm=5.0,
)


def _rings(random: np.random.Generator, depth_mm: float, rise_mm: float = 0.0) -> Moves:
    """Rough rings all over the face, lifted from one to the next, of moves a quarter of a mm long."""
    chains: list[NDArray[np.float64]] = []
    kinds: list[NDArray[np.uint8]] = []
    for _ in range(RINGS):
        radius = random.uniform(4.0, 45.0)
        x, y = random.uniform(20.0, WIDTH_MM - 20.0), random.uniform(20.0, HEIGHT_MM - 20.0)
        turn = np.linspace(0.0, 2.0 * np.pi, int(2.0 * np.pi * radius / 0.25) + 3)
        rough = radius + 0.3 * np.sin(23.0 * turn) + 0.1 * np.sin(71.0 * turn)
        z = -depth_mm + rise_mm * np.sin(9.0 * turn)
        ring = np.stack([x + rough * np.cos(turn), y + rough * np.sin(turn), z], axis=1)
        above = ring[[0, -1]].copy()
        above[:, 2] = MACHINE.safe_mm
        chains.append(np.concatenate([above[:1], ring, above[1:]]))
        kind = np.full(len(ring) + 2, CUT, dtype=np.uint8)
        kind[[0, -1]] = RAPID
        kinds.append(kind)
    end = np.concatenate(chains)
    return Moves((0.0, 0.0, MACHINE.safe_mm), np.concatenate(kinds), end, np.zeros((len(end), 2)))


def simulate_face(*, repeats: int = 3) -> dict[str, Any]:
    """Write, read, time and simulate one program; the best of several runs."""
    random = np.random.default_rng(6)
    what = ((0, 3.0, 0.0), (1, 2.2, 0.0), (2, 1.6, 0.0), (3, 1.6, 0.0), (3, 1.1, 0.4))
    runs = [
        Run(BITS[place], "cutting", 18000.0, 2400.0, 600.0, _rings(random, depth, rise))
        for place, depth, rise in what
    ]
    facts = ProgramFacts("Speed", "1a", "cherry", WIDTH_MM, HEIGHT_MM, 20.0)
    block = box(0.0, 0.0, WIDTH_MM, HEIGHT_MM)
    dots = [Point(x, y).buffer(1.2) for x in range(6, int(WIDTH_MM), 8) for y in range(6, int(HEIGHT_MM), 8)]
    by_number = {bit.number: bit for bit in BITS}
    # Once for the compiler, which keeps what it made.
    moves = read_program(write_program(runs[:1], MACHINE, facts)[0].text)
    simulate(moves, by_number, block, edges=MultiPolygon(dots))
    router_time(moves, MACHINE)

    program = write_program(runs, MACHINE, facts)[0]
    moves = read_program(program.text)
    surface = simulate(moves, by_number, block, edges=MultiPolygon(dots))
    seconds = {
        "write": _best(lambda: write_program(runs, MACHINE, facts), repeats),
        "read": _best(lambda: read_program(program.text), repeats),
        "time": _best(lambda: router_time(moves, MACHINE), repeats),
        "simulate": _best(lambda: simulate(moves, by_number, block, edges=MultiPolygon(dots)), repeats),
    }
    return {
        "moves": len(moves),
        "fine_percent": 100.0 * len(surface.fine) / surface.fine_tile.size,
        "seconds": seconds,
        "moves_per_s": {name: len(moves) / took for name, took in seconds.items()},
        "peak_gb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9,
        "cut_percent": 100.0 * float((surface.heights < 0).mean()),
    }


def plan_little() -> None:
    """Plan a small field with a bar in it, every lane linked to the next: all loops are compiled by it."""
    work = MultiPolygon([box(0.0, 0.0, 40.0, 30.0).difference(box(15.0, 10.0, 25.0, 20.0))])
    floor = Floor(60.0, 1.5, 0.1, 4.5)
    lanes = ring_lanes(work, BITS[1], floor, stock_mm=0.2, step_over_mm=1.4, step_down_mm=2.0)
    order = in_order(lanes, lift_mm=30.0, link_mm=4.0)
    joined(lanes, order, BITS[1], floor, distances_in(work), Ways(4.0, MACHINE.safe_mm))


def prove_little() -> None:
    """Hold a small program against a small face, in every way there is: all loops are compiled by it."""
    turn = np.linspace(0.0, 2.0 * np.pi, 60)
    ring = np.stack([20 + 10 * np.cos(turn), 20 + 10 * np.sin(turn), np.sin(turn) / 5 - 1.2], axis=1)
    level = ring * [1.0, 1.0, 0.0] - [0.0, 0.0, 2.0]
    above = np.array([[*ring[0, :2], MACHINE.safe_mm]])
    end = np.concatenate([ring, level, above])
    kind = np.array([*[CUT] * (len(end) - 1), RAPID], dtype=np.uint8)
    stub = replace(BITS[1], cutting_mm=1.0)
    moves = Moves(
        (float(above[0, 0]), float(above[0, 1]), MACHINE.safe_mm), kind, end, np.zeros((len(end), 2))
    )
    machine = replace(MACHINE, arcs=True)
    (program,) = write_program(
        [Run(stub, "cutting", 18000.0, 2400.0, 600.0, moves)],
        machine,
        ProgramFacts("Small", "1a", "cherry", 40.0, 40.0, 20.0),
    )
    clear = Point(20.0, 20.0).buffer(15.0).difference(Point(20.0, 20.0).buffer(6.0))
    wanted = FaceWanted(
        name="1a",
        block=box(0.0, 0.0, 40.0, 40.0),
        thickness_mm=20.0,
        printing=MultiPolygon([Point(20.0, 20.0).buffer(6.0)]),
        clear=MultiPolygon([clear]),
        floor=Floor(60.0, 1.5, 0.1, 4.5),
    )
    check_program([program.text], wanted, [stub], machine)
    router_time(read_program(program.text), machine)


def _best(work: Callable[[], object], repeats: int) -> float:
    took = []
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    return min(took)


def main() -> None:
    """Print the figures."""
    told = simulate_face()
    print(
        f"{told['moves']} moves, {told['cut_percent']:.0f} % of the face cut, peak {told['peak_gb']:.2f} GB"
    )
    print(f"{told['fine_percent']:.0f} % of the tiles with cells of 0.05 mm")
    for name, took in told["seconds"].items():
        print(f"{name:9} {took:6.2f} s  {told['moves_per_s'][name] / 1e6:6.2f} million moves a second")


if __name__ == "__main__":
    main()
