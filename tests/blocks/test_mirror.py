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
