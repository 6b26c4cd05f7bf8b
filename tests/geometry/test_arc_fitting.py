"""Arcs put in the place of straight moves, and straight moves in the place of arcs."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.geometry.arc_fitting import arc_parts, fit_arcs, split_arcs
from blockwright.model.router import ANTICLOCKWISE, CLOCKWISE, CUT, RAPID, Moves


def chain(points: np.ndarray, z: float = -1.0) -> Moves:
    end = np.column_stack([points[1:], np.full(len(points) - 1, z)])
    kind = np.full(len(end), CUT, dtype=np.uint8)
    x, y = points[0].tolist()
    return Moves((x, y, z), kind, end, np.zeros((len(end), 2)))


def line_of(moves: Moves) -> shapely.LineString:
    return shapely.LineString(np.vstack([moves.start[:2], moves.end[:, :2]]))


def test_a_circle_becomes_three_arcs_of_its_radius() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 401)
    fitted = fit_arcs(chain(np.column_stack([20 + 7.5 * np.cos(turn), 10 + 7.5 * np.sin(turn)])))
    assert len(fitted) == 3
    assert set(fitted.kind.tolist()) == {ANTICLOCKWISE}
    # The last one is short, and its centre the less certain.
    assert fitted.centre[:2] == pytest.approx(np.array([[20.0, 10.0]] * 2), abs=0.002)
    assert fitted.centre[2] == pytest.approx(np.array([20.0, 10.0]), abs=0.05)


def test_the_way_round_is_kept() -> None:
    turn = np.linspace(2.0, 0.0, 50)
    fitted = fit_arcs(chain(np.column_stack([5 * np.cos(turn), 5 * np.sin(turn)])))
    assert fitted.kind.tolist() == [CLOCKWISE]


def test_straight_lines_and_corners_stay() -> None:
    square = np.array([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)], dtype=float)
    assert fit_arcs(chain(square)).kind.tolist() == [CUT] * 4
    many = np.column_stack([np.linspace(0, 10, 30), np.zeros(30)])
    assert fit_arcs(chain(many)).kind.tolist() == [CUT] * 29


def test_slopes_and_moves_above_the_work_are_left_alone() -> None:
    turn = np.linspace(0.0, 1.0, 20)
    moves = chain(np.column_stack([5 * np.cos(turn), 5 * np.sin(turn)]))
    sloping = Moves(moves.start, moves.kind, moves.end + turn[1:, None] * [0, 0, 1], moves.centre)
    assert set(fit_arcs(sloping).kind.tolist()) == {CUT}
    rapid = Moves(moves.start, np.full(len(moves), RAPID, np.uint8), moves.end, moves.centre)
    assert set(fit_arcs(rapid).kind.tolist()) == {RAPID}


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.floats(0.02, 3.0),
    st.floats(0.0, 0.05),
)
def test_no_arc_is_farther_than_five_thousandths_from_the_moves(seed: int, step: float, rough: float) -> None:
    random = np.random.default_rng(seed)
    heading = np.cumsum(random.normal(0.0, 0.1 + rough, 120))
    points = np.cumsum(step * np.column_stack([np.cos(heading), np.sin(heading)]), axis=0)
    moves = chain(points)
    fitted = fit_arcs(moves)
    fine = line_of(split_arcs(fitted, within_mm=1e-4))
    assert shapely.hausdorff_distance(fine, line_of(moves), densify=0.02) <= 0.0055
    # What an interpreter asks of an arc: NIST RS274/NGC (2000), 3.5.3.
    begin = np.vstack([fitted.start, fitted.end[:-1]])
    arcs = fitted.kind > CUT
    radii = [np.hypot(*(each[arcs, :2] - fitted.centre[arcs]).T) for each in (begin, fitted.end)]
    assert np.abs(radii[0] - radii[1]).max(initial=0.0) <= 0.002
    assert (np.round(fitted.end, 3) == fitted.end).all()


def test_a_whole_turn_is_written_in_thirds_and_a_tiny_one_not_at_all() -> None:
    whole = Moves(
        (6.0, 5.0, -1.0), np.array([2], np.uint8), np.array([[6.0, 5.0, -1.0]]), np.full((1, 2), 5.0)
    )
    fitted = fit_arcs(whole)
    assert fitted.kind.tolist() == [CLOCKWISE] * 3
    assert fitted.end[-1].tolist() == [6.0, 5.0, -1.0]
    # Ends that thousandths do not tell apart would be read as a whole turn.
    tiny = Moves(
        (6.0, 5.0, -1.0), np.array([2], np.uint8), np.array([[6.0, 4.9997, -1.0]]), np.full((1, 2), 5.0)
    )
    assert fit_arcs(tiny).kind.tolist() == [CUT]


def test_split_arcs_keep_to_the_circle() -> None:
    half = Moves((3.0, 0.0, -1.0), np.array([3], np.uint8), np.array([[-3.0, 0.0, -1.0]]), np.zeros((1, 2)))
    split = split_arcs(half)
    assert len(split) == arc_parts(half)[0]
    assert np.hypot(*split.end[:, :2].T) == pytest.approx(3.0)
    assert (split.end[:-1, 1] > 0).all()
    chord = np.linalg.norm(np.diff(split.end[:, :2], axis=0), axis=1).max()
    assert 3.0 - np.sqrt(9.0 - chord**2 / 4) <= 0.002
