"""Windows of prepared areas against the areas that shapely (GEOS) measures, and against the whole picture."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon, Point, box

from blockwright.geometry.painting import paint_area
from blockwright.geometry.prepared import Window, paint_prepared, prepare_areas

RING = Point(6, 5).buffer(4) - Point(6.5, 5).buffer(2.2)
AREAS = [MultiPolygon([RING, Point(6.5, 5).buffer(1)]), MultiPolygon(), box(-3, -3, 30, 1.3)]
PREPARED = prepare_areas(AREAS)


def whole_window(window: Window, first: int, last: int) -> NDArray[np.float32]:
    share = np.zeros((window.height_px, window.width_px), dtype=np.float32)
    painted = paint_prepared(PREPARED, window, first=first, last=last)
    if painted is not None:
        share[painted.rows, painted.columns] = painted.share
    return share


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(-5, 12),
    y=st.floats(-5, 12),
    width=st.integers(1, 90),
    height=st.integers(1, 90),
    scale=st.floats(0.5, 40),
)
def test_a_window_covers_what_lies_in_it(x: float, y: float, width: int, height: int, scale: float) -> None:
    window = Window(x, y, width, height, scale)
    share = whole_window(window, 0, 1)
    inside = shapely.intersection(AREAS[0], box(x, y, x + width / scale, y + height / scale)).area
    assert share.sum() / scale**2 == pytest.approx(inside, abs=2e-4 * width * height / scale**2 + 1e-9)


@pytest.mark.parametrize("first", [0, 1, 2])
def test_windows_are_parts_of_the_whole_picture(first: int) -> None:
    whole = paint_area(AREAS[first], pixels_per_mm=7.0, width_px=90, height_px=80)
    for left, top in ((0, 0), (31, 17), (60, 60)):
        window = Window(left / 7.0, top / 7.0, 30, 20, 7.0)
        part = whole_window(window, first, first + 1)
        assert np.abs(part - whole[top : top + 20, left : left + 30]).max() < 1e-6


def test_nothing_is_painted_where_nothing_is() -> None:
    assert paint_prepared(PREPARED, Window(0, 0, 9, 9, 1.0), first=1, last=2) is None
    assert paint_prepared(PREPARED, Window(40, 40, 9, 9, 1.0), first=0, last=3) is None
    assert prepare_areas([LineString([(0, 0), (1, 1)])]).firsts.tolist() == [0, 0]


def test_a_window_has_a_scale_and_a_size() -> None:
    with pytest.raises(ValueError, match="above 0"):
        Window(0.0, 0.0, 9, 9, 0.0)
    with pytest.raises(ValueError, match="0 or more"):
        Window(0.0, 0.0, -1, 9, 1.0)
