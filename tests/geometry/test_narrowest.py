"""The narrowest width of shapes whose widths are known by construction."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, box
from shapely.affinity import rotate, scale

from blockwright.geometry.narrowest import narrowest_width

BALLS = [Point(0, 0).buffer(3, 64), Point(10, 0).buffer(3, 64)]
SLANTED = 2 * np.hypot(3, 5)


def joined(*parts: Polygon) -> Polygon:
    whole = shapely.union_all(parts)
    assert isinstance(whole, Polygon)
    return whole


@pytest.mark.parametrize(
    ("shape", "width_mm", "where"),
    [
        pytest.param(box(0, 0, 10, 2), 2.0, box(1, 0.9, 9, 1.1), id="bar"),
        pytest.param(joined(*BALLS, box(0, -0.2, 10, 0.2)), 0.4, box(2.9, -0.1, 7.1, 0.1), id="dumbbell"),
        pytest.param(
            joined(box(0, 0, 5, 5), box(5.3, 0, 10, 5), box(4, 2, 6, 2.25)),
            0.25,
            box(4.9, 2, 5.4, 2.25),
            id="bridge that is hardly longer than wide",
        ),
        pytest.param(
            Polygon([(0, 0), (5, 4.8), (10, 0), (10, 10), (5, 5.2), (0, 10)]),
            0.4,
            Point(5, 5).buffer(0.1),
            id="hourglass with sharp waist",
        ),
        pytest.param(Point(0, 0).buffer(5, 64) - Point(0, 0).buffer(4.5, 64), 0.5, None, id="ring"),
        pytest.param(
            Point(0, 0).buffer(5, 128) - Point(0.5, 0).buffer(4, 128),
            0.5,
            Point(4.75, 0).buffer(0.3),
            id="ring thin on one side",
        ),
        pytest.param(
            box(0, 0, 20, 10) - box(2, 2, 9.85, 8) - box(10, 2, 18, 8),
            0.15,
            box(9.85, 2, 10, 8).buffer(0.01),
            id="wall between two holes",
        ),
        pytest.param(joined(box(0, 0, 10, 1.5), box(0, 0, 0.8, 10)), 0.8, None, id="two arms"),
        pytest.param(joined(box(0, 0, 8, 8), box(8, 4, 11, 4.6)), 0.6, box(8, 4, 11, 4.6), id="tongue"),
        pytest.param(joined(box(0, 0, 8, 8), box(7.9, 4, 8.3, 4.6)), 8.0, None, id="stub, no tongue"),
        pytest.param(box(0, 0, 4, 4), 4.0, None, id="square"),
        pytest.param(Point(0, 0).buffer(3, 64), 6.0, None, id="disc"),
        pytest.param(
            Polygon([(0, 0), (6, 0), (3, 5)]), 4 * 15 / (6 + SLANTED), None, id="triangle: its circle"
        ),
    ],
)
def test_shapes_of_known_width(shape: Polygon, width_mm: float, where: Polygon | None) -> None:
    found = narrowest_width(shape)
    assert found.width_mm == pytest.approx(width_mm, rel=0.02)
    assert shape.buffer(1e-9).contains(Point(found.at))
    if where is not None:
        assert where.buffer(1e-6).contains(Point(found.at))
    between = shapely.LineString([found.start, found.end])
    assert between.length == pytest.approx(found.width_mm, rel=0.01)


def test_what_runs_out_to_a_point_is_no_line_however_fine_the_point() -> None:
    """A blade of 40 mm from 2 mm down to nothing, on a block: the block's side tells, not the tip."""
    blade = joined(box(0, 0, 6, 30), Polygon([(5, 10), (46, 11), (5, 12)]))
    assert narrowest_width(blade).width_mm > 1.0
    blunt = joined(box(0, 0, 6, 30), Polygon([(5, 10), (46, 10.7), (46, 11.3), (5, 12)]))
    assert narrowest_width(blunt).width_mm == pytest.approx(0.6, rel=0.1)


@settings(max_examples=25, deadline=None)
@given(
    width=st.floats(0.05, 3.0),
    length=st.floats(3.5, 30.0),
    turn=st.floats(0.0, 180.0),
    size=st.floats(0.2, 20.0),
)
def test_a_bar_is_as_narrow_as_it_is_at_any_size_and_turn(
    width: float, length: float, turn: float, size: float
) -> None:
    bar = scale(rotate(box(0, 0, width * length, width), turn), size, size)
    assert narrowest_width(bar).width_mm == pytest.approx(width * size, rel=1e-6)


def test_a_shape_without_area_is_refused() -> None:
    with pytest.raises(ValueError, match="area"):
        narrowest_width(Polygon())
