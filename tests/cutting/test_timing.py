"""Minutes of the router: cases that can be worked out by hand."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest

from blockwright.cutting.reading_program import ProgramMoves, read_program
from blockwright.cutting.timing import BitShare, lower_bound_s, move_seconds, router_time
from routed import FLAT_6, ROUTER, V_60, read, ring, run

A = ROUTER.acceleration_mm_s2


def moves(*lines: str) -> ProgramMoves:
    return read_program("\n".join(["G21 G90 T1 S9 M3 G0 X0 Y0 Z0", "G1 F1200", *lines, "M30"]))


def test_one_long_move_is_a_trapezoid() -> None:
    """v/a to get up to speed and again to stop, and the way lost in that: s/v + v/a."""
    assert router_time(moves("X100"), ROUTER).total_s == pytest.approx(100 / 20 + 20 / A)


def test_a_short_move_never_gets_up_to_speed() -> None:
    assert router_time(moves("X0.2"), ROUTER).total_s == pytest.approx(2 * sqrt(0.2 / A))


def test_many_moves_in_a_line_are_one_long_one() -> None:
    many = moves(*(f"X{k / 10}" for k in range(1, 1001)))
    assert router_time(many, ROUTER).total_s == pytest.approx(100 / 20 + 20 / A)


def test_a_move_back_stops_in_between() -> None:
    there = router_time(moves("X50"), ROUTER).total_s
    assert router_time(moves("X50", "X0"), ROUTER).total_s == pytest.approx(2 * there)


def test_a_square_corner_is_taken_at_the_speed_of_its_arc() -> None:
    """Inner angle 90 degrees: r = d sin 45 / (1 - sin 45), v^2 = a r."""
    half = sqrt(0.5)
    v, corner = 20.0, sqrt(A * ROUTER.junction_mm * half / (1 - half))
    leg = (2 * v - corner) / A + (50 - (2 * v * v - corner * corner) / (2 * A)) / v
    assert router_time(moves("X50", "Y50"), ROUTER).total_s == pytest.approx(2 * leg)


def test_a_small_arc_is_no_faster_than_its_radius_allows() -> None:
    whole = moves("G3 X0 I0.2")
    v = sqrt(A * 0.2)
    assert v < 20.0
    assert router_time(whole, ROUTER).total_s == pytest.approx(2 * pi * 0.2 / v + v / A)


def test_a_change_of_feed_is_made_in_time() -> None:
    """From 20 mm/s to 10 mm/s before the slower move begins."""
    both = move_seconds(moves("X100", "X200 F600"), ROUTER)
    assert both[1] == pytest.approx((100 - 10 * 10 / (2 * A)) / 10 + 10 / A)


def test_plunges_moves_above_the_work_and_changes_are_told_apart() -> None:
    time = router_time(read([run(FLAT_6, ring(30, 20, 12, -1.5)), run(V_60, ring(30, 20, 5, -1.0))]), ROUTER)
    assert time.changes_s == ROUTER.change_s  # the first bit is there
    assert time.plunging_s == pytest.approx((6.5 + 6.0) / 5.0, abs=0.1)
    assert time.cutting_s == pytest.approx(2 * pi * 17 / 20.0, rel=0.03)
    assert time.total_s == pytest.approx(time.cutting_s + time.plunging_s + time.rapid_s + 60.0)


def test_a_feed_beyond_the_machines_is_held_to_it() -> None:
    slow = replace(ROUTER, feed_mm_min=600.0)
    assert router_time(moves("X100"), slow).total_s == pytest.approx(100 / 10 + 10 / A)


def test_the_lower_bound_adds_up() -> None:
    assert lower_bound_s([BitShare(1000.0, 2.5, 2400.0), BitShare(60.0, 0.6, 600.0)]) == pytest.approx(20.0)


def test_no_moves_take_no_time() -> None:
    empty = read_program("G21 G90\nM30")
    assert router_time(empty, ROUTER).total_s == 0.0
    assert np.isfinite(move_seconds(empty, ROUTER)).all()
