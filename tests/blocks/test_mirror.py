"""The print is mirrored exactly once, and its rings keep their direction."""

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.blocks.mirror import mirror_area, mirror_point

F_SHAPE = MultiPolygon(
    [
        Polygon(
            [
                (10, 10),
                (40, 10),
                (40, 18),
                (20, 18),
                (20, 26),
                (34, 26),
                (34, 34),
                (20, 34),
                (20, 60),
                (10, 60),
            ]
        )
    ]
)
"""A letter F, which no mirroring and no turning carries into itself."""


def test_an_f_stands_the_other_way_round_on_the_face() -> None:
    seen = mirror_area(F_SHAPE, width_mm=100.0)
    expected = Polygon(
        [(90, 10), (60, 10), (60, 18), (80, 18), (80, 26), (66, 26), (66, 34), (80, 34), (80, 60), (90, 60)]
    )
    assert shapely.equals(seen, expected)
    assert seen.geom_type == "MultiPolygon"


def test_mirroring_twice_gives_the_print_again() -> None:
    twice = mirror_area(mirror_area(F_SHAPE, width_mm=100.0), width_mm=100.0)
    assert shapely.equals_exact(shapely.normalize(twice), shapely.normalize(F_SHAPE), tolerance=1e-9)


@pytest.mark.parametrize("turn", [False, True])
def test_rings_keep_their_direction(turn: bool) -> None:
    ring = box(0, 0, 30, 20).difference(box(5, 5, 10, 10))
    area = MultiPolygon([shapely.orient_polygons(ring, exterior_cw=turn)])
    seen = mirror_area(area, width_mm=50.0)
    for before, after in zip(shapely.get_rings(area), shapely.get_rings(seen), strict=True):
        assert before.is_ccw == after.is_ccw


@given(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3), st.floats(1, 3000))
def test_a_place_comes_back(x: float, y: float, width_mm: float) -> None:
    there = mirror_point((x, y), width_mm=width_mm)
    back = mirror_point(there, width_mm=width_mm)
    assert back == pytest.approx((x, y), abs=1e-9)


def test_outlines_that_all_but_touch_stay_valid() -> None:
    """A corner that lies on an edge to the last digit crosses it when the mirror rounds otherwise."""
    notched = Polygon(
        [
            (39.702608901851065, 18.15060912382438),
            (116.06647719737013, 59.73922656378452),
            (106.50085280426984, 77.30336132670764),
            (85.76505957426859, 43.23673535238026),
            (30.13698450875078, 35.71474388674751),
        ]
    )
    area = MultiPolygon([notched])
    assert area.is_valid
    assert not shapely.transform(area, lambda at: at * [-1.0, 1.0] + [240.0, 0.0]).is_valid
    mirrored = mirror_area(area, width_mm=240.0)
    assert mirrored.is_valid
    assert mirrored.area == pytest.approx(area.area, abs=1e-4)
    back = mirror_area(mirrored, width_mm=240.0)
    assert shapely.hausdorff_distance(back, area) < 2e-6
