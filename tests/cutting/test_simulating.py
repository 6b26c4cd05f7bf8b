"""The face as cut: cases that geometry answers, and every shape of bit against a slow count by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from blockwright.cutting.reading_program import ProgramMoves
from blockwright.cutting.simulating import Surface, simulate
from blockwright.model.errors import ProgramError
from blockwright.model.router import Bit, Run
from routed import BALL_3, BLOCK, BY_NUMBER, FLAT_3, FLAT_6, ROUTER, TAPERED, V_60, path, read, ring, run

SHARP = Bit(6, "sharp V", "V", 6.0, 2, 10.0, angle_deg=60.0)
SLOPE = np.sqrt(3.0)
"""The rise of a 60 degree V for each mm away from its axis."""


def middles(surface: Surface) -> tuple[np.ndarray, np.ndarray]:
    """The machine's x and y of all cells."""
    rows, columns = surface.heights.shape
    x = surface.origin[0] + (np.arange(columns) + 0.5) * surface.step_mm - BLOCK.bounds[0]
    y = BLOCK.bounds[3] - surface.origin[1] - (np.arange(rows) + 0.5) * surface.step_mm
    across, up = np.meshgrid(x, y)
    return across, up


def cut(runs: list[Run], **options: object) -> Surface:
    bits = {**BY_NUMBER, SHARP.number: SHARP}
    return simulate(read(runs), bits, BLOCK, **options)  # type: ignore[arg-type]


def test_a_straight_wall_of_a_v_bit_leans_by_half_its_angle() -> None:
    surface = cut([run(V_60, [(10, 20, -1.5), (50, 20, -1.5)])])
    x, y = middles(surface)
    away = np.abs(y - 20.0)
    along = (x > 10) & (x < 50)
    meant = np.minimum(-1.5 + np.maximum(away - V_60.tip_mm / 2, 0) * SLOPE, 0.0)
    assert surface.heights[along] == pytest.approx(meant[along], abs=1e-5)


def test_a_circle_of_a_flat_bit_has_the_rings_area() -> None:
    surface = cut([run(FLAT_3, ring(30, 20, 10, -2.0))])
    area = np.count_nonzero(surface.heights < 0) * surface.step_mm**2
    assert area == pytest.approx(np.pi * (11.5**2 - 8.5**2), rel=0.002)
    assert set(np.unique(surface.heights)) == {0.0, -2.0}


def test_a_round_bit_leaves_its_corner() -> None:
    """What a bit of radius r leaves in a right-angled inside corner: r^2 (1 - pi / 4)."""
    surface = cut([run(FLAT_6, [(40, 13, -1.0), (13, 13, -1.0), (13, 35, -1.0)])], step_mm=0.05)
    x, y = middles(surface)
    corner = (x > 10) & (x < 13) & (y > 10) & (y < 13)
    left = np.count_nonzero((surface.heights == 0) & corner) * surface.step_mm**2
    assert left == pytest.approx(9 * (1 - np.pi / 4), rel=0.005)


def test_a_v_bit_that_rises_into_a_corner_leaves_none() -> None:
    """Where the axis is d from both walls the tip is d times the slope deep: a roof turned over."""
    surface = cut(
        [run(SHARP, [(40, 11, -SLOPE), (11, 11, -SLOPE), (10, 10, 0), (11, 11, -SLOPE), (11, 35, -SLOPE)])]
    )
    x, y = middles(surface)
    corner = (x > 10) & (x < 11) & (y > 10) & (y < 11)
    meant = -SLOPE * np.minimum(x - 10, y - 10)
    assert surface.heights[corner] == pytest.approx(meant[corner], abs=1e-3)
    assert (surface.heights[(x < 10) | (y < 10)] > -1e-5).all()


@pytest.mark.parametrize("apart", [0.4, 1.0, 2.0])
def test_scallops_of_a_ball(apart: float) -> None:
    """h = r - sqrt(r^2 - (s / 2)^2): Machinery's Handbook."""
    step = 0.02 if apart < 1 else 0.05
    y0 = 20 + step / 2  # so that the middle between the passes is the middle of a cell
    passes = [(10, y0, -1.5), (50, y0, -1.5), (50, y0 + apart, -1.5), (10, y0 + apart, -1.5)]
    surface = cut([run(BALL_3, passes)], step_mm=step)
    x, y = middles(surface)
    between = (x > 12) & (x < 48) & (y > y0) & (y < y0 + apart)
    radius = BALL_3.radius_mm
    height = float(surface.heights[between].max()) + 1.5
    assert height == pytest.approx(radius - np.sqrt(radius**2 - (apart / 2) ** 2), abs=1e-4)


def by_hand(moves: ProgramMoves, bit: Bit, surface: Surface) -> np.ndarray:
    """The lowest of the bit's edge over every cell, at places 0.01 mm apart along every move."""
    x, y = middles(surface)
    heights = np.zeros(x.shape)
    table = np.linspace(0.0, bit.radius_mm, 4001)
    rise = np.array([bit.rise_mm(float(each)) for each in table])
    for start, end in zip(moves.start, moves.end, strict=True):
        for part in np.linspace(0, 1, int(np.linalg.norm(end - start) / 0.01) + 2):
            at = start + (end - start) * part
            away = np.hypot(x - at[0], y - at[1])
            under = away <= bit.radius_mm
            heights[under] = np.minimum(heights[under], at[2] + np.interp(away[under], table, rise))
    return heights


@pytest.mark.parametrize("bit", [FLAT_3, BALL_3, V_60, SHARP, TAPERED], ids=lambda bit: bit.name)
@pytest.mark.parametrize("sloping", [False, True], ids=["level", "sloping"])
def test_every_shape_sweeps_what_it_should(bit: Bit, sloping: bool) -> None:
    random = np.random.default_rng(3)
    points = random.uniform((2, 2, -1.5), (9, 7, -0.2), (6, 3))
    points[4] = points[3] + [0, 0, -0.3]
    if not sloping:
        points[:, 2] = -1.2
    moves = read([run(bit, points)])
    block = box(-3.0, 26.0, 9.0, 38.0)
    surface = simulate(moves, {bit.number: bit}, block)
    slow = by_hand(moves, bit, surface)
    apart = surface.heights - slow
    # Places 0.01 mm apart miss a little of what the bit sweeps, and a flat bit's edge is upright.
    assert apart.max() <= 1e-4
    assert np.quantile(apart, 0.001) >= -0.012


@pytest.mark.parametrize("bit", [FLAT_3, V_60, BALL_3], ids=lambda bit: bit.name)
def test_a_chain_of_short_moves_leaves_nothing_out(bit: Bit) -> None:
    """Round a ring that wriggles, against the distance of every cell to the line."""
    turn = np.linspace(0.0, 2 * np.pi, 700)
    radius = 8.0 + 0.4 * np.sin(19 * turn)
    points = np.column_stack([20 + radius * np.cos(turn), 20 + radius * np.sin(turn), np.full(700, -1.4)])
    surface = simulate(read([run(bit, points)], replace(ROUTER, arcs=False)), BY_NUMBER, BLOCK)
    x, y = (each[::3, ::3] for each in middles(surface))
    line = shapely.LineString(np.round(points[:, :2], 3))
    away = shapely.distance(shapely.points(x, y), line)
    table = np.linspace(0.0, bit.radius_mm, 4001)
    rise = np.interp(away, table, [bit.rise_mm(float(each)) for each in table])
    meant = np.minimum(np.where(away <= bit.radius_mm, -1.4 + rise, 0.0), 0.0)
    clear = np.abs(away - bit.radius_mm) > 0.0025  # a flat bit's upright edge
    assert surface.heights[::3, ::3][clear] == pytest.approx(meant[clear], abs=0.005)


def test_arcs_cut_like_the_circle_that_they_are() -> None:
    machine = replace(ROUTER, arcs=False)
    runs = [run(FLAT_3, ring(30, 20, 10, -2.0, step=0.05))]
    with_arcs = simulate(read(runs), BY_NUMBER, BLOCK)
    without = simulate(read(runs, machine), BY_NUMBER, BLOCK)
    differs = np.count_nonzero(with_arcs.heights != without.heights)
    assert differs <= 60  # cells on the border, of 18 850


def test_cells_near_edges_are_half_as_wide_and_agree() -> None:
    runs = [run(V_60, ring(30, 20, 10, -1.2)), run(FLAT_3, [(5, 5, -1), (50, 30, -2)])]
    edge = shapely.LineString([(0.0, 0.0), (40.0, 30.0)])
    coarse, fine = cut(runs), cut(runs, edges=edge)
    assert 0 < len(fine.fine) < fine.fine_tile.size
    assert fine.fine.shape[1:] == (64, 64)
    row, column = np.argwhere(fine.fine_tile >= 0)[5]
    tile = fine.fine[fine.fine_tile[row, column]]
    part = fine.heights[row * 32 : row * 32 + 32, column * 32 : column * 32 + 32]
    assert part == pytest.approx(tile.reshape(32, 2, 32, 2).mean(axis=(1, 3)), abs=1e-6)
    sloped = np.abs(fine.heights - coarse.heights)
    assert np.quantile(sloped, 0.98) < 0.02


def test_the_same_program_gives_the_same_heights() -> None:
    runs = [run(BALL_3, ring(30, 20, 10, -1.2)), run(V_60, path([(5, 5, -1), (50, 30, -2)]).end[1:3])]
    assert (cut(runs).heights == cut(runs).heights).all()


def test_the_face_is_seen_from_above_with_its_first_row_at_the_top() -> None:
    """Zero of the program is the lower left corner."""
    surface = cut([run(FLAT_6, [(5, 5, -1), (6, 5, -1)])])
    rows, columns = np.nonzero(surface.heights < 0)
    assert rows.min() > surface.heights.shape[0] * 0.75
    assert columns.max() < surface.heights.shape[1] * 0.25
    assert surface.heights.shape == (400, 600)
    assert surface.origin == (-3.0, -2.0)


def test_a_bit_that_nobody_knows_is_refused() -> None:
    with pytest.raises(ProgramError, match=r"bit T1, which is not known; known are T2 \(3 mm flat\)"):
        simulate(read([run(FLAT_6, [(5, 5, -1), (6, 5, -1)])]), {2: FLAT_3}, BLOCK)
