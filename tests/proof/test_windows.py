"""Windows of the print against the whole pictures, the areas that shapely measures, and one another."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter
from shapely import LineString, Point, box
from shapely.geometry import MultiPolygon, Polygon

from blockwright.colour import hex_to_lab
from blockwright.documents.pictures import paint_design
from blockwright.geometry.prepared import Window
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.separation import Separation
from blockwright.model.settings import SeparationTable
from blockwright.proof import impression_alone, progress_pictures
from blockwright.proof.shape_facts import shape_at, shape_facts
from blockwright.proof.windows import (
    TRAP_HEX,
    DesignIndex,
    PrintIndex,
    index_design,
    index_print,
    paint_after,
    paint_alone,
    paint_progress,
    paint_shapes,
    paint_under,
)
from blockwright.separation import separate
from spectral_inks import as_wanted

PAPER, SAND, BLUE, DARK = "#f6efdf", "#d9b98a", "#5a7d99", "#2b2622"
PICTURE = box(0, 0, 20, 15)
DPI = 254.0  # ten pixels to the mm


def drawn() -> tuple[Design, Separation]:
    """Paper, a sand square, a blue disc across its edge, a dark bar across both; traps of 0.5 mm."""
    bar, disc, square = box(6.03, 2, 6.83, 13), Point(11, 8).buffer(4), box(2, 3.02, 11, 12)
    regions: list[tuple[int, Polygon]] = []
    rest: shapely.Geometry = PICTURE
    for colour, cut in ((3, bar), (2, disc), (1, square), (0, PICTURE)):
        regions += [(colour, part) for part in shapely.get_parts(shapely.intersection(rest, cut)).tolist()]
        rest = shapely.difference(rest, cut)
    shapes = tuple(
        Shape(colour, region, (at.x, at.y))
        for colour, region in regions
        for at in [shapely.point_on_surface(region)]
    )
    palette = tuple(
        PaletteColour(name, value, hex_to_lab(value))
        for name, value in (("paper", PAPER), ("sand", SAND), ("blue", BLUE), ("dark", DARK))
    )
    design = Design("test", 20.0, 15.0, 10.0, PAPER, palette, shapes, True, 0.0, 0.0, 0.0, 0.0)
    return design, separate(design, SeparationTable())


DESIGN, SEPARATION = drawn()
SHAPES: DesignIndex = index_design(DESIGN)
SHEETS: PrintIndex = index_print(SHAPES, SEPARATION, as_wanted(SEPARATION))
WHOLE = Window(0.0, 0.0, 200, 150, 10.0)

VIEWS: dict[str, Callable[[Window], NDArray[np.uint8]]] = {
    "shapes": lambda window: paint_shapes(SHAPES, window),
    "after": lambda window: paint_after(SHEETS, 3, window),
    "alone": lambda window: paint_alone(SHEETS, 2, window),
    "under": lambda window: paint_under(SHEETS, 1, window),
}


def apart(one: NDArray[np.uint8], other: NDArray[np.uint8]) -> int:
    return int(np.abs(one.astype(int) - other).max())


def test_the_sheet_after_every_impression_is_the_progressive_picture() -> None:
    for number, picture in progress_pictures(DESIGN, SEPARATION, as_wanted(SEPARATION), dpi=DPI):
        assert apart(paint_after(SHEETS, number, WHOLE), picture) <= 1
    assert number == 3


def test_all_sheets_in_one_go_are_those_painted_one_by_one() -> None:
    whole = [paint_after(SHEETS, number, WHOLE) for number in range(4)]
    found = list(paint_progress(SHEETS, WHOLE))
    assert [picture.tobytes() for picture in found] == [picture.tobytes() for picture in whole]


def test_each_impression_alone_is_its_picture() -> None:
    for impression in SEPARATION.impressions:
        assert (
            apart(
                paint_alone(SHEETS, impression.number, WHOLE), impression_alone(DESIGN, impression, dpi=DPI)
            )
            <= 1
        )


def test_the_shapes_are_the_picture_of_shapes() -> None:
    assert apart(paint_shapes(SHAPES, WHOLE), paint_design(DESIGN, dpi=DPI)) <= 1


@pytest.mark.parametrize("scale", [1.3, 24.0])
@pytest.mark.parametrize("view", VIEWS)
def test_windows_that_meet_have_no_seam(view: str, scale: float) -> None:
    paint = VIEWS[view]
    width, height, side = 150, 110, 64
    left, top = 70, 40
    whole = paint(Window(left / scale, top / scale, width, height, scale))
    joined = np.zeros_like(whole)
    for y in range(0, height, side):
        for x in range(0, width, side):
            size = (min(side, width - x), min(side, height - y))
            part = paint(Window((left + x) / scale, (top + y) / scale, *size, scale))
            joined[y : y + side, x : x + side] = part
    assert apart(joined, whole) == 0


def striped(number: int, window: Window) -> NDArray[np.float64]:
    """Where the picture of what runs under what is neither inked nor bare: the mark of a trap."""
    own = SEPARATION.impressions[number - 1]
    plain = MultiPolygon([DESIGN.shapes[k].region for k in own.shapes])
    impressions = tuple(
        replace(each, area=plain) if each.number == number else each for each in SEPARATION.impressions
    )
    bare = index_print(SHAPES, replace(SEPARATION, impressions=impressions), as_wanted(SEPARATION))
    change = paint_under(SHEETS, number, window).astype(float) - paint_under(bare, number, window)
    return np.asarray(np.abs(change).max(axis=2))


def test_traps_are_striped_where_they_run_under_and_nowhere_else() -> None:
    window = Window(0.0, 0.0, 480, 360, 24.0)
    own = shapely.union_all([DESIGN.shapes[k].region for k in SEPARATION.impressions[0].shapes])
    trap = shapely.difference(SEPARATION.impressions[0].area, own)
    rows, columns = np.mgrid[0:360, 0:480]
    x, y = (columns + 0.5) / 24.0, (rows + 0.5) / 24.0
    inside = shapely.contains_xy(shapely.buffer(trap, -0.05), x, y)
    outside = ~shapely.contains_xy(shapely.buffer(trap, 0.06), x, y)
    change = striped(1, window)
    assert inside.sum() > 1000
    assert 0.3 < (change[inside] > 60).mean() < 0.6
    # No place of a trap is farther from a stripe than the stripes are from one another.
    assert (maximum_filter(change, size=9)[inside] > 60).all()
    assert change[outside].max() == 0
    # The accent is there, and light between it: the stripes are read without colour.
    marked = paint_under(SHEETS, 1, window)[inside].astype(float)
    accent = np.array([int(TRAP_HEX[i : i + 2], 16) for i in (1, 3, 5)])
    assert (np.abs(marked - accent).max(axis=1) < 12).mean() > 0.2
    grey = marked @ np.array([0.2126, 0.7152, 0.0722])
    assert np.percentile(grey, 90) - np.percentile(grey, 10) > 120


def test_the_last_impression_runs_under_nothing() -> None:
    assert striped(3, WHOLE).max() == 0


def test_numbers_that_are_none_are_refused() -> None:
    for paint in (paint_after, paint_alone, paint_under):
        with pytest.raises(ValueError, match="no impression 4"):
            paint(SHEETS, 4, WHOLE)
    with pytest.raises(ValueError, match="no impression 0"):
        paint_alone(SHEETS, 0, WHOLE)


def test_a_separation_of_another_design_has_no_shapes_of_its_own() -> None:
    fewer = Separation(SEPARATION.impressions, (), (), 0.0, 0.0)
    other = index_print(SHAPES, fewer, as_wanted(fewer))
    assert not other.whole
    with pytest.raises(ValueError, match="another design"):
        paint_under(other, 1, WHOLE)
    assert apart(paint_after(other, 3, WHOLE), paint_after(SHEETS, 3, WHOLE)) == 0


def test_a_shape_is_found_by_a_place_in_it() -> None:
    for number, shape in enumerate(DESIGN.shapes):
        assert shape_at(SHAPES, *shape.at) == number
    assert shape_at(SHAPES, 20.0, 15.0) is not None
    assert shape_at(SHAPES, 21.0, 3.0) is None
    assert shape_at(SHAPES, float("nan"), 3.0) is None


def test_what_is_told_of_a_shape() -> None:
    (bar,) = [k for k, shape in enumerate(DESIGN.shapes) if shape.colour == 3]
    facts = shape_facts(SHAPES, bar)
    assert (facts.shape, facts.colour) == (bar, 3)
    assert facts.area_mm2 == pytest.approx(0.8 * 11)
    assert facts.bounds_mm == pytest.approx((6.03, 2.0, 6.83, 13.0))
    assert facts.narrowest.width_mm == pytest.approx(0.8)
    for number, shape in enumerate(DESIGN.shapes):
        for ring, true in zip(
            shape_facts(SHAPES, number).outline_mm,
            [shape.region.exterior, *shape.region.interiors],
            strict=True,
        ):
            assert ring[0] == ring[-1]
            assert shapely.hausdorff_distance(LineString(ring), true, densify=0.01) <= 0.0501
    with pytest.raises(IndexError, match="no shape 99"):
        shape_facts(SHAPES, 99)
