"""Painted coverage against the areas that GEOS computes."""

import numpy as np
import pytest
import shapely
import shapely.ops
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from blockwright.geometry.painting import paint_area

# GEOS itself goes wrong with coordinates such as 1e-56: a millionth of a pixel is fine enough.
places = st.tuples(
    st.floats(-6.0, 22.0).map(lambda x: round(x, 6)), st.floats(-6.0, 18.0).map(lambda y: round(y, 6))
)


def _cells(width: int, height: int) -> shapely.Geometry:
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    return shapely.box(x, y, x + 1, y + 1)


@settings(max_examples=60, deadline=None)
@given(st.lists(places, min_size=3, max_size=9), st.lists(places, min_size=3, max_size=5))
def test_every_pixel_is_the_area_that_geos_finds(
    outer: list[tuple[float, float]], inner: list[tuple[float, float]]
) -> None:
    hull = shapely.MultiPoint(outer).convex_hull.symmetric_difference(shapely.MultiPoint(inner).convex_hull)
    painted = paint_area(hull, pixels_per_mm=1.0, width_px=16, height_px=12)
    solid = shapely.union_all([p for p in shapely.get_parts([hull]) if p.geom_type == "Polygon"])
    np.testing.assert_allclose(painted, shapely.area(shapely.intersection(_cells(16, 12), solid)), atol=2e-4)


@pytest.mark.parametrize("pixels_per_mm", [0.7, 2.0, 150 / 25.4, 17.3])
def test_sum_is_the_area_holes_subtracted(pixels_per_mm: float) -> None:
    ring = Point(20, 20).buffer(15, quad_segs=64).difference(Point(18, 22).buffer(7.3))
    pieces = MultiPolygon([ring, Point(18, 22).buffer(2), box(36, 1, 39.5, 38)])
    size = int(np.ceil(40 * pixels_per_mm))
    painted = paint_area(pieces, pixels_per_mm=pixels_per_mm, width_px=size, height_px=size)
    assert painted.dtype == np.float32
    assert float(painted.sum(dtype=np.float64)) / pixels_per_mm**2 == pytest.approx(pieces.area, rel=1e-4)


def test_a_thin_line_keeps_its_width() -> None:
    line = LineString([(2, 3), (37, 31)]).buffer(0.2, cap_style="flat")
    painted = paint_area(line, pixels_per_mm=150 / 25.4, width_px=240, height_px=240)
    assert float(painted.sum(dtype=np.float64)) / (150 / 25.4) ** 2 == pytest.approx(line.area, rel=2e-3)


def test_parts_of_a_picture_are_the_picture() -> None:
    star = Polygon([(1, 1), (19, 8), (2, 11), (15, 0.5), (11, 13)]).buffer(0.3)
    whole = paint_area(star, pixels_per_mm=3.7, width_px=74, height_px=50)
    part = paint_area(star, pixels_per_mm=3.7, width_px=30, height_px=21, origin_mm=(20 / 3.7, 13 / 3.7))
    np.testing.assert_allclose(part, whole[13:34, 20:50], atol=1e-4)


def test_neighbours_of_a_coverage_fill_each_pixel_once() -> None:
    halves = shapely.get_parts(shapely.ops.split(box(0, 0, 10, 8), LineString([(-1, 2.3), (11, 5.9)])))
    total = sum(paint_area(half, pixels_per_mm=2.3, width_px=23, height_px=18) for half in halves)
    np.testing.assert_allclose(
        total, paint_area(box(0, 0, 10, 8), pixels_per_mm=2.3, width_px=23, height_px=18), atol=2e-4
    )


def test_wound_either_way() -> None:
    corners = [(1.0, 1.0), (7.5, 2.0), (6.0, 6.5)]
    one = paint_area(Polygon(corners), pixels_per_mm=1.0, width_px=9, height_px=9)
    other = paint_area(Polygon(corners[::-1]), pixels_per_mm=1.0, width_px=9, height_px=9)
    np.testing.assert_array_equal(one, other)


def test_full_and_empty_pixels_are_exact() -> None:
    disc = paint_area(Point(50, 50).buffer(40), pixels_per_mm=4.0, width_px=400, height_px=400)
    assert disc[200, 200] == 1.0
    assert disc[0, 0] == 0.0
    assert np.count_nonzero((disc > 0) & (disc < 1)) < 2000


@pytest.mark.parametrize("nothing", [MultiPolygon(), Polygon(), Point(1, 1), LineString([(0, 0), (5, 5)])])
def test_what_has_no_area_paints_nothing(nothing: shapely.Geometry) -> None:
    assert not paint_area(nothing, pixels_per_mm=1.0, width_px=4, height_px=4).any()
    assert paint_area(nothing, pixels_per_mm=1.0, width_px=0, height_px=4).shape == (4, 0)


def test_wrong_sizes_are_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        paint_area(box(0, 0, 1, 1), pixels_per_mm=0.0, width_px=4, height_px=4)
