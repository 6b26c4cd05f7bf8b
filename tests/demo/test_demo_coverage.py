"""Exact pixel coverage against the areas that GEOS (OGC Simple Features) gives."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.demo.coverage import edges_in_pixels, row_coverage
from blockwright.demo.scene import as_area

COLUMNS, ROWS = 14, 11
PIXELS = np.array(
    [[box(column, row, column + 1, row + 1) for column in range(COLUMNS)] for row in range(ROWS)]
)


def geos_coverage(area: MultiPolygon) -> np.ndarray:
    return np.asarray(shapely.area(shapely.intersection(PIXELS, area)))


def test_ring_with_hole_matches_geos() -> None:
    ring = as_area(Point(6.3, 5.4).buffer(4.9).difference(Point(6.9, 5.1).buffer(2.2)))
    covered = row_coverage(edges_in_pixels(ring, pixels_per_mm=1.0), first_row=0, rows=ROWS, columns=COLUMNS)
    np.testing.assert_allclose(covered, geos_coverage(ring), atol=1e-6)


def test_bands_join_without_a_seam() -> None:
    area = as_area(Polygon([(0.5, 0.2), (13.1, 3.3), (7.7, 10.9), (2.0, 8.4)]))
    edges = edges_in_pixels(area, pixels_per_mm=1.0)
    whole = row_coverage(edges, first_row=0, rows=ROWS, columns=COLUMNS)
    bands = [row_coverage(edges, first_row=row, rows=1, columns=COLUMNS) for row in range(ROWS)]
    np.testing.assert_allclose(np.vstack(bands), whole, atol=1e-6)


def test_scale_is_pixels_per_mm() -> None:
    area = as_area(box(0.25, 0.5, 1.0, 1.5))
    covered = row_coverage(edges_in_pixels(area, pixels_per_mm=4.0), first_row=0, rows=8, columns=8)
    assert covered.sum() == pytest.approx(area.area * 16)
    assert covered[3, 2] == 1.0


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, COLUMNS, width=32), st.floats(0, ROWS, width=32)), min_size=3, max_size=9)
)
def test_any_polygon_matches_geos(corners: list[tuple[float, float]]) -> None:
    area = as_area(shapely.MultiPoint(corners).convex_hull)
    edges = edges_in_pixels(area, pixels_per_mm=1.0)
    covered = row_coverage(edges, first_row=0, rows=ROWS, columns=COLUMNS)
    np.testing.assert_allclose(covered, geos_coverage(area), atol=1e-5)
