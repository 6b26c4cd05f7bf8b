"""Narrow places of shapes whose widths are known."""

import numpy as np
import pytest
import shapely

from blockwright.geometry.widths import narrow_places


def _places(shape: shapely.Polygon, width: float) -> list[tuple[bool, float]]:
    return [(p.neck, p.width_mm) for p in narrow_places(np.array([shape]), width_mm=width)]


def test_a_line_is_narrow_or_not_by_its_width() -> None:
    line = shapely.LineString([(0, 0), (10, 0), (14, 7)]).buffer(0.15, cap_style="flat")
    assert _places(line, 0.25) == []
    ((neck, width),) = _places(line, 0.35)
    assert not neck
    assert width == pytest.approx(0.3, rel=0.05)


def test_a_neck_between_two_areas_is_told_as_one() -> None:
    shape = shapely.union_all(
        [shapely.Point(0, 0).buffer(2), shapely.Point(6, 0).buffer(2), shapely.box(0, -0.06, 6, 0.06)]
    )
    (place,) = narrow_places(np.array([shape]), width_mm=0.25)
    assert place.neck
    assert place.width_mm == pytest.approx(0.12, rel=0.1)
    assert shapely.Point(place.at).within(shape)
    assert 1.9 < place.at[0] < 4.1


@pytest.mark.parametrize("shape", [shapely.box(0, 0, 5, 5), shapely.Point(0, 0).buffer(3)])
def test_corners_and_curves_are_no_narrow_places(shape: shapely.Polygon) -> None:
    assert _places(shape, 0.5) == []


def test_the_narrowest_comes_first_and_width_zero_asks_for_nothing() -> None:
    shapes = np.array([shapely.box(0, 0, 9, 0.2), shapely.box(0, 5, 9, 5.1)])
    assert [p.polygon for p in narrow_places(shapes, width_mm=0.3)] == [1, 0]
    assert narrow_places(shapes, width_mm=0.0) == []
