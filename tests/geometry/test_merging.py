"""Shapes that grow together keep a valid coverage of the same area."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.geometry.coverage import Coverage, check_coverage
from blockwright.geometry.merging import absorb_small, dissolve, neighbours


def _cells(seed: int, count: int) -> Coverage:
    random = np.random.default_rng(seed)
    points = shapely.MultiPoint(random.uniform(0, 10, (count, 2)))
    frame = shapely.box(0, 0, 10, 10)
    cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=frame))
    cells = np.array([shapely.intersection(cell, frame) for cell in cells])
    return Coverage(cells, random.integers(0, 4, len(cells)).astype(np.uint8))


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 1000), st.floats(0.05, 6.0))
def test_after_absorbing_no_shape_is_small_and_nothing_is_lost(seed: int, least: float) -> None:
    calm = absorb_small(_cells(seed, 30), least_mm2=least)
    assert shapely.area(calm.polygons).min() >= least or len(calm.polygons) == 1
    check = check_coverage(calm.polygons, width_mm=10.0, height_mm=10.0)
    assert check.valid
    assert shapely.area(calm.polygons).sum() == pytest.approx(100.0)


def test_dissolving_joins_only_what_touches_with_one_label() -> None:
    cells = _cells(3, 40)
    same = Coverage(cells.polygons, np.zeros(len(cells.polygons), np.uint8))
    whole = dissolve(same, list(range(len(cells.polygons))))
    assert len(whole.polygons) == 1
    assert whole.polygons[0].area == pytest.approx(100.0)


def test_a_touching_corner_makes_no_neighbour() -> None:
    boxes = np.array([shapely.box(x, y, x + 1, y + 1) for y in (0, 1) for x in (0, 1)])
    assert [n for n, _ in neighbours(Coverage(boxes, np.zeros(4, np.uint8)), 0)] == [1, 2]
