"""The design stage as a whole on small paintings."""

import numpy as np
import pytest
import shapely
from paintings import BLUE, DARK, GREEN, GROUND, RED, dusk, flat_painting, no_flat_colours

from blockwright.design import make_design
from blockwright.model.design import Design
from blockwright.model.settings import DesignTable


def _make(picture: np.ndarray, **table: object) -> Design:
    settings = DesignTable.model_validate(table, strict=False)
    return make_design(picture, title="try", width_mm=120.0, paper_hex="#f6efdf", settings=settings)


def _codes(design: Design) -> set[str]:
    return {finding.code for finding in design.findings}


def test_a_flat_painting_becomes_its_shapes() -> None:
    design = _make(flat_painting())
    assert len(design.palette) == 5
    assert design.width_mm == 120.0
    assert design.height_mm == pytest.approx(80.0)
    assert design.coverage_valid
    assert design.gap_mm2 == design.overlap_mm2 == 0.0
    assert design.median_delta_e00 < 1.5
    assert design.lost_percent < 6.0
    lightness = [colour.lab[0] for colour in design.palette]
    assert lightness == sorted(lightness, reverse=True)
    assert len({colour.name for colour in design.palette}) == 5
    # Independent of the stage's own check: GEOS's union of all shapes is the whole sheet.
    union = shapely.unary_union([shape.region for shape in design.shapes])
    assert union.area == pytest.approx(120.0 * 80.0, rel=1e-9)
    for shape in design.shapes:
        assert shapely.Point(shape.at).within(shape.region)


def test_shapes_have_the_areas_that_were_painted() -> None:
    design = _make(flat_painting(noise=0.0))
    disc = np.pi * (0.5 * 320 / 480 * 120 / 4) ** 2
    red = next(k for k, c in enumerate(design.palette) if c.lab[1] > 30)
    area = sum(shape.region.area for shape in design.shapes if shape.colour == red)
    # The reeds cross the disc: it can only be smaller, by the two lines' width at most.
    assert 0.85 * disc < area <= 1.01 * disc


def test_a_given_palette_is_kept_to_the_letter() -> None:
    hexes = [f"#{r:02x}{g:02x}{b:02x}" for r, g, b in (GROUND, BLUE, RED, GREEN, DARK)]
    design = _make(flat_painting(), palette=[colour.upper() for colour in hexes])
    assert {colour.srgb_hex for colour in design.palette} == set(hexes)


def test_a_locked_palette_gives_the_same_shapes_gradations_included() -> None:
    free = _make(dusk())
    locked = _make(dusk(), palette=[colour.srgb_hex for colour in free.palette])
    assert len(locked.shapes) == len(free.shapes)
    assert [c.srgb_hex for c in locked.palette] == [c.srgb_hex for c in free.palette]


def test_a_number_of_colours_is_obeyed() -> None:
    assert len(_make(flat_painting(), colours=3).palette) == 3


def test_a_gradation_comes_in_few_calm_bands() -> None:
    design = _make(dusk())
    assert len(design.shapes) < 25
    assert design.coverage_valid


def test_a_photograph_is_told_so_with_what_is_lost() -> None:
    design = _make(no_flat_colours())
    finding = next(f for f in design.findings if f.code == "no-flat-colours")
    assert finding.severity == "warn"
    assert "% with 8" in finding.message
    assert "palette" in finding.message
    assert "no-flat-colours" not in _codes(_make(flat_painting()))
    assert "no-flat-colours" not in _codes(_make(dusk()))


def test_what_cannot_be_carved_is_told_with_its_place() -> None:
    picture = np.full((300, 400, 3), GROUND, np.uint8)
    picture[:, 200:] = BLUE
    picture[40:44, 40:44] = RED
    picture[100:250, 60:62] = DARK
    design = _make(picture, least_area_mm2=2.0, least_width_mm=0.8, speck_mm2=0.5)
    small = next(f for f in design.findings if f.code == "shape-too-small")
    assert small.at == pytest.approx((42 * 0.3, 42 * 0.3), abs=0.7)
    thin = next(f for f in design.findings if f.code == "line-too-narrow")
    assert thin.at is not None
    assert thin.at[0] == pytest.approx(61 * 0.3, abs=0.5)


def test_specks_are_filled_and_larger_spots_stay() -> None:
    picture = np.full((300, 400, 3), GROUND, np.uint8)
    picture[:, 200:] = BLUE
    picture[50:53, 50:53] = DARK
    picture[90:110, 90:110] = DARK
    design = _make(picture, speck_mm2=1.0)
    assert sum(shape.region.area < 2.0 for shape in design.shapes) == 0
    assert len(design.shapes) == 3


def test_the_same_picture_gives_the_same_design() -> None:
    first, second = (_make(dusk(noise=4.0)) for _ in range(2))
    assert first == second
