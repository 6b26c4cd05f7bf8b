"""Where edges come out, against edges known exactly (analytic shapes painted with a box filter)."""

import numpy as np
import pytest
import shapely
from pictures_with_truth import distance_to, paint_truth

from blockwright.geometry.coverage import trace_coverage


def _trace(picture, smoothing_px: float = 1.4):  # type: ignore[no-untyped-def]
    return trace_coverage(
        picture.labels, picture.pixels, picture.palette, pixels_per_mm=1.0, smoothing_mm=smoothing_px
    )


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt((values**2).mean()))


@pytest.mark.parametrize("noise", [0.0, 2.5])
@pytest.mark.parametrize("radius", [9.3, 33.7])
def test_a_circle_lies_where_it_was_painted(radius: float, noise: float) -> None:
    truth = shapely.Point(50.3, 48.8).buffer(radius, quad_segs=256)
    coverage = _trace(paint_truth([truth], size=(100, 98), noise=noise))
    found = coverage.polygons[coverage.labels == 1][0]
    off = distance_to(found, truth)
    assert _rms(off) < 0.12
    assert off.max() < 0.4
    # Chords of a simplified curve lie inside it by up to SIMPLIFY_PX.
    assert found.area == pytest.approx(truth.area, abs=0.06 * truth.length)


@pytest.mark.parametrize("degrees", [0, 3, 11, 27, 45, 62, 80, 90, 134])
@pytest.mark.parametrize("offset", [0.0, 0.27, 0.5])
def test_a_straight_edge_of_any_slope_lies_within_a_tenth_of_a_pixel(degrees: float, offset: float) -> None:
    half = shapely.box(-300, -300, 300, 0.0)
    turned = shapely.affinity.rotate(half, degrees, origin=(0, 0))
    truth = shapely.affinity.translate(turned, 60 + offset, 60 + offset)
    frame = shapely.box(0, 0, 120, 120)
    picture = paint_truth([shapely.intersection(truth, frame)], size=(120, 120), noise=1.5)
    coverage = _trace(picture)
    found = coverage.polygons[coverage.labels == 1][0]
    ring = shapely.points(shapely.get_coordinates(shapely.segmentize(found.exterior, 0.5)))
    inner = ring[shapely.distance(ring, frame.exterior) > 4]
    assert _rms(shapely.distance(inner, truth.exterior)) < 0.1


def test_a_line_keeps_its_width() -> None:
    # 0.4 mm at 300 dpi is 4.72 px.
    spine = shapely.LineString([(8, 20), (70, 33), (112, 81)])
    truth = spine.buffer(2.36, cap_style="flat", join_style="mitre")
    coverage = _trace(paint_truth([truth], size=(120, 100), noise=2.0))
    found = coverage.polygons[coverage.labels == 1][0]
    # A tenth of a pixel on a width of 4.72.
    assert found.area == pytest.approx(truth.area, rel=0.1 / 4.72)
    assert _rms(distance_to(found, truth)) < 0.2


def test_a_corner_stays_a_corner() -> None:
    truth = shapely.affinity.rotate(shapely.box(30, 30, 90, 80), 17)
    found = _trace(paint_truth([truth], size=(120, 110))).polygons[1]
    corners = shapely.points(shapely.get_coordinates(truth.exterior)[:4])
    assert shapely.distance(corners, found.exterior).max() < 0.7


def test_a_junction_settles_where_three_colours_meet() -> None:
    left = shapely.Polygon([(0, 0), (52.3, 0), (47.6, 55.4), (0, 71.2)])
    right = shapely.Polygon([(52.3, 0), (110, 0), (110, 63.1), (47.6, 55.4)])
    coverage = _trace(paint_truth([left, right], size=(110, 100)))
    shared = shapely.intersection_all([polygon.boundary for polygon in coverage.polygons])
    assert shapely.distance(shared, shapely.Point(47.6, 55.4)) < 0.35


def test_stairs_without_antialiasing_come_out_straight() -> None:
    truth = shapely.Polygon([(0, 0), (160, 0), (160, 40.5), (0, 60.3)])
    picture = paint_truth([truth], size=(160, 100))
    hard = picture.palette[picture.labels].astype(np.uint8)
    coverage = trace_coverage(picture.labels, hard, picture.palette, pixels_per_mm=1.0, smoothing_mm=1.4)
    found = coverage.polygons[coverage.labels == 1][0]
    ring = shapely.points(shapely.get_coordinates(shapely.segmentize(found.exterior, 0.5)))
    inner = ring[shapely.distance(ring, shapely.box(0, 0, 160, 100).exterior) > 6]
    assert _rms(shapely.distance(inner, truth.exterior)) < 0.3
