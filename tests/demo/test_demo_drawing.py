"""Curves, the camera and the tidying, each against geometry known beforehand."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, box

from blockwright.demo.camera import EYE
from blockwright.demo.curves import STEP_MM, close_gaps, line, ribbon, smooth_area, spline
from blockwright.demo.mill import CORNER_M, at
from blockwright.demo.scene import PaintedShape, Scene, as_area, visible_shapes
from blockwright.demo.settle import LEAST_AREA_MM2, loose_pieces, settle


def test_spline_runs_through_its_points_in_short_steps() -> None:
    points = [(0.0, 0.0), (7.0, 3.0), (9.0, -4.0), (20.0, 1.0)]
    curve = spline(points)
    for point in points:
        assert np.linalg.norm(curve - point, axis=1).min() < 1e-9
    assert np.linalg.norm(np.diff(curve, axis=0), axis=1).max() < 2 * STEP_MM


def test_closed_spline_through_a_circle_stays_on_it() -> None:
    angles = np.arange(24) * math.tau / 24
    circle = smooth_area(np.stack([10 * np.cos(angles), 10 * np.sin(angles)], axis=1))
    assert circle.area == pytest.approx(math.pi * 100, rel=2e-3)


def test_straight_ribbon_has_the_area_of_a_round_ended_line() -> None:
    stroke = ribbon([(0.0, 0.0), (5.0, 0.0), (10.0, 0.0)], [0.8, 0.8, 0.8])
    assert stroke.area == pytest.approx(0.8 * 10 + math.pi * 0.4**2, rel=3e-3)


def test_a_stroke_that_crosses_itself_is_filled() -> None:
    stroke = ribbon([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0.2)], [1.0, 1.0, 1.0, 1.0, 1.0])
    assert stroke.is_valid
    assert stroke.contains(Point(0.5, 0.0))


def test_flat_line_is_a_rectangle() -> None:
    assert line([(0, 0), (4, 0)], 0.4, flat=True).area == pytest.approx(1.6)


def test_close_gaps_fills_a_notch() -> None:
    comb = as_area(box(0, 0, 4, 10), box(4.3, 0, 8, 10))
    assert len(comb.geoms) == 2
    assert close_gaps(comb, gap=0.5).geom_type == "Polygon"


@given(st.floats(-60, 60), st.floats(25, 400))
def test_ground_is_the_inverse_of_the_projection(right: float, away: float) -> None:
    on_paper = EYE.on_ground(np.array([[right, away]]))
    np.testing.assert_allclose(EYE.ground(on_paper), [[right, away]], rtol=1e-9, atol=1e-9)


def test_things_at_eye_level_lie_on_the_horizon_at_any_distance() -> None:
    heights = EYE.project([(x, away, EYE.eye_m) for x, away in ((-9, 30), (0, 80), (40, 500))])[:, 1]
    np.testing.assert_allclose(heights, EYE.horizon_mm)


def test_mill_frame_keeps_lengths_and_right_angles() -> None:
    corner, along, out = (np.array(at(*place)) for place in ((0, 0, 0), (5, 0, 0), (0, 3, 0)))
    assert corner[:2] == pytest.approx(CORNER_M)
    assert np.linalg.norm(along - corner) == pytest.approx(5)
    assert np.linalg.norm(out - corner) == pytest.approx(3)
    assert np.dot(along - corner, out - corner) == pytest.approx(0)


def painted(name: str, area: MultiPolygon, colour: str) -> PaintedShape:
    return PaintedShape(name, area, colour)


def test_settle_gives_crumbs_and_hairs_to_the_neighbour_with_the_longer_border() -> None:
    ground = painted("ground", as_area(box(0, 0, 30, 20)), "#c0a080")
    # two black areas leave a hair 0.2 mm wide between them; a lone crumb lies on the ground
    black = painted("black", as_area(box(5, 5, 10, 15), box(10.2, 5, 15, 15)), "#202020")
    crumb = painted("crumb", as_area(box(20, 5, 21, 6)), "#d04040")
    settled = settle(Scene("test", 30.0, 20.0, "#ffffff", (ground, black, crumb)))
    visible = {shape.name: shape.area for shape in visible_shapes(settled)}
    assert set(visible) == {"ground", "black"}
    assert visible["black"].area == pytest.approx(10 * 10, abs=0.2)
    assert visible["ground"].area + visible["black"].area == pytest.approx(600)
    assert not loose_pieces(visible["ground"])


def test_settle_leaves_sound_shapes_alone() -> None:
    ground = painted("ground", as_area(box(0, 0, 30, 20)), "#c0a080")
    thin = painted("line", as_area(line([(3, 3), (25, 12)], 0.4)), "#202020")
    settled = settle(Scene("test", 30.0, 20.0, "#ffffff", (ground, thin)))
    assert thin.area.area > LEAST_AREA_MM2
    assert shapely.symmetric_difference(settled.shapes[1].area, thin.area).area < 0.03
