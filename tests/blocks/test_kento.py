"""The marks against figures worked out by hand from the published rules."""

from typing import Literal, get_args

import pytest
import shapely
from shapely.geometry import Point, box

from blockwright.blocks.kento import place_block, place_sheet, set_kento
from blockwright.model.blocks import Kento
from blockwright.model.settings import BlocksTable

Corner = Literal["lower right", "lower left", "upper right", "upper left"]
Side = Literal["long", "short"]


def table(**fields: object) -> BlocksTable:
    return BlocksTable.model_validate(fields)


def kento_of(settings: BlocksTable, width_mm: float = 360.0, height_mm: float = 240.0) -> Kento:
    return set_kento(place_sheet(width_mm=width_mm, height_mm=height_mm, settings=settings), settings)


def test_defaults_by_hand() -> None:
    """Image 360 x 240 mm, margins 15 mm: the sheet is 390 x 270 mm.

    Kagi 15 mm (5 bu) from the image: Edo woodblock craft specification; a Japanese print workshop's page.
    Lower right of the block on its long side, hikitsuke towards the front left: Fletcher, *Wood-Block
    Printing*, 1916. Two thirds of the sheet's length from the kagi: art-university printmaking glossary.
    Arms of 20 mm and recesses 8 mm wide: common practice, no source.
    """
    kento = kento_of(table())
    assert kento.kagi == (375.0, 255.0)
    # 375 - 0.667 * 390 = 114.87
    assert kento.hikitsuke == pytest.approx((114.87, 255.0))
    assert kento.kagi_wall == ((355.0, 255.0), (375.0, 255.0), (375.0, 235.0))
    assert sorted(kento.hikitsuke_wall) == [
        pytest.approx((104.87, 255.0)),
        pytest.approx((124.87, 255.0)),
    ]
    # an L of two arms 20 x 8 that share a square of 8 x 8: 160 + 160 - 64
    assert kento.kagi_recess.area == pytest.approx(256.0)
    assert kento.kagi_recess.bounds == (355.0, 235.0, 375.0, 255.0)
    assert not kento.kagi_recess.contains(Point(360.0, 240.0))
    assert kento.hikitsuke_recess.bounds == pytest.approx((104.87, 247.0, 124.87, 255.0))
    assert kento.depth_mm == 0.15


def test_lower_right_of_the_block_is_the_lower_left_of_the_print() -> None:
    """Fletcher 1916. A wide margin at the print's left is found at the block's right."""
    settings = table(margin_left_mm=18.0, margin_bottom_mm=12.0, margin_right_mm=40.0)
    assert kento_of(settings).kagi == (378.0, 252.0)


@pytest.mark.parametrize(
    ("corner", "side", "kagi", "hikitsuke"),
    [
        ("lower right", "long", (130, 85), (130 - 0.6 * 160, 85)),
        ("lower right", "short", (130, 85), (130, 85 - 0.6 * 100)),
        ("lower left", "long", (-30, 85), (-30 + 0.6 * 160, 85)),
        ("lower left", "short", (-30, 85), (-30, 85 - 0.6 * 100)),
        ("upper right", "long", (130, -15), (130 - 0.6 * 160, -15)),
        ("upper right", "short", (130, -15), (130, -15 + 0.6 * 100)),
        ("upper left", "long", (-30, -15), (-30 + 0.6 * 160, -15)),
        ("upper left", "short", (-30, -15), (-30, -15 + 0.6 * 100)),
    ],
)
def test_every_corner_and_side(
    corner: Corner, side: Side, kagi: tuple[float, float], hikitsuke: tuple[float, float]
) -> None:
    """An image of 100 x 70 mm on a sheet of 160 x 100: 30 mm left and right, 15 above and below."""
    settings = table(
        margin_left_mm=30, margin_right_mm=30, kagi_corner=corner, hikitsuke_side=side, hikitsuke_at=0.6
    )
    kento = kento_of(settings, 100.0, 70.0)
    assert kento.kagi == pytest.approx(kagi)
    assert kento.hikitsuke == pytest.approx(hikitsuke)
    sheet = box(-30, -15, 130, 85)
    for recess in (kento.kagi_recess, kento.hikitsuke_recess):
        assert recess.is_valid
        assert shapely.covers(sheet, recess)
    for wall, recess in (
        (kento.kagi_wall, kento.kagi_recess),
        (kento.hikitsuke_wall, kento.hikitsuke_recess),
    ):
        stop = shapely.linestrings(wall)
        assert shapely.covers(sheet.exterior.buffer(1e-9), stop)
        assert shapely.covers(recess.exterior.buffer(1e-9), stop)
    assert shapely.linestrings(kento.hikitsuke_wall).centroid.distance(Point(hikitsuke)) < 1e-9


def test_an_upright_sheet_carries_the_hikitsuke_on_its_upright_long_side() -> None:
    kento = kento_of(table(hikitsuke_at=0.5), 100.0, 300.0)
    assert kento.kagi == (115.0, 315.0)
    assert kento.hikitsuke == pytest.approx((115.0, 150.0))


def test_a_square_sheet_takes_the_horizontal_side_for_the_long_one() -> None:
    assert kento_of(table(hikitsuke_at=0.5), 100.0, 100.0).hikitsuke == pytest.approx((50.0, 115.0))
    short = table(hikitsuke_at=0.5, hikitsuke_side="short")
    assert kento_of(short, 100.0, 100.0).hikitsuke == pytest.approx((115.0, 50.0))


def test_the_block_is_larger_than_the_image_as_published() -> None:
    """Platt, *Colour Woodcuts*, 1938: 38 mm both ways. The rim of 8 mm: common practice, no source."""
    left, top, right, bottom = place_block(width_mm=360, height_mm=240, settings=table()).bounds
    assert (left, top) == (-19.0, -19.0)
    assert (right, bottom) == (360 + 15 + 8, 240 + 15 + 8)


@pytest.mark.parametrize("corner", get_args(Corner))
def test_only_the_sides_with_marks_are_extended(corner: Corner) -> None:
    settings = table(kagi_corner=corner, rim_mm=30.0, block_over_mm=20.0)
    left, top, right, bottom = place_block(width_mm=200, height_mm=100, settings=settings).bounds
    assert left == (-45.0 if "left" in corner else -10.0)
    assert right == (245.0 if "right" in corner else 210.0)
    assert top == (-45.0 if "upper" in corner else -10.0)
    assert bottom == (145.0 if "lower" in corner else 110.0)


def test_arms_shorter_than_the_band_make_a_square_kagi() -> None:
    kento = kento_of(table(arm_mm=5.0))
    assert kento.kagi_recess.is_valid
    assert kento.kagi_recess.area == pytest.approx(25.0)
