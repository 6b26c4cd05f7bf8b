"""What a bit sweeps along a path, against an independent drop-cutter.

A bit that moves along a path leaves over a place p the height min over c of (z(c) + rise(|p - c|)). Turned
over, that is what a drop-cutter answers: the height at which the same bit, let down over p, comes to rest on
a ribbon that stands under the path turned upside down. The reference library is opencamlib; it has no wheels
for newer Pythons, and where it is not installed the test is left out.
"""

import numpy as np
import pytest

from blockwright.cutting.simulating import simulate
from blockwright.model.router import Bit
from routed import BALL_3, BLOCK, FLAT_3, read, run

SHARP = Bit(6, "sharp V", "V", 6.0, 2, 10.0, angle_deg=60.0)


@pytest.mark.parametrize("bit", [FLAT_3, BALL_3, SHARP], ids=lambda bit: bit.kind)
def test_a_drop_cutter_finds_the_same_heights(bit: Bit) -> None:
    ocl = pytest.importorskip(
        "opencamlib", reason="opencamlib, the independent drop-cutter, is not installed"
    )
    random = np.random.default_rng(5)
    points = random.uniform((15, 10, -1.6), (45, 30, -0.6), (12, 3))
    points[4:8, 2] = -1.2
    moves = read([run(bit, points)])
    surface = simulate(moves, {bit.number: bit}, BLOCK)

    ribbon = ocl.STLSurf()
    for a, b in zip(moves.start, moves.end, strict=True):
        if np.hypot(*(b - a)[:2]) < 1e-9:
            continue
        top = [ocl.Point(float(p[0]), float(p[1]), float(-p[2])) for p in (a, b)]
        foot = ocl.Point(float((a[0] + b[0]) / 2), float((a[1] + b[1]) / 2), -50.0)
        ribbon.addTriangle(ocl.Triangle(top[0], top[1], foot))
    long = 60.0
    cutters = {
        "flat": lambda: ocl.CylCutter(bit.diameter_mm, long),
        "ball": lambda: ocl.BallCutter(bit.diameter_mm, long),
        "V": lambda: ocl.ConeCutter(bit.diameter_mm, np.radians(bit.angle_deg / 2), long),
    }
    drop = ocl.BatchDropCutter()
    drop.setSTL(ribbon)
    cutter = cutters[bit.kind]()  # which the library does not keep for itself
    drop.setCutter(cutter)
    drop.setThreads(1)
    rows, columns = np.meshgrid(np.arange(60, 300, 3), np.arange(150, 480, 3), indexing="ij")
    left, top_mm = surface.origin
    for row, column in zip(rows.ravel(), columns.ravel(), strict=True):
        x = left + (column + 0.5) * surface.step_mm - BLOCK.bounds[0]
        y = BLOCK.bounds[3] - top_mm - (row + 0.5) * surface.step_mm
        drop.appendPoint(ocl.CLPoint(float(x), float(y), -20.0))
    drop.run()
    theirs = np.minimum(-np.array([point.z for point in drop.getCLPoints()]), 0.0)
    mine = surface.heights[rows.ravel(), columns.ravel()]
    apart = np.abs(theirs - mine)
    assert np.count_nonzero(mine < 0) > 2000
    if bit.kind == "flat":
        # The edge of a flat bit is upright: a cell on it may fall on either side.
        assert np.mean(apart > 0.05) < 0.001
    else:
        assert apart.max() < 0.05
