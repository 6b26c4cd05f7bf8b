"""The stages' values come back from JSON as they went: geometry by shapely's own well-known binary."""

from dataclasses import FrozenInstanceError

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression, Ink, Separation

_number = st.floats(-1e6, 1e6, allow_nan=False)
_side = st.floats(1e-3, 1e3)


def _design(x: float, y: float, side: float) -> Design:
    region = box(x, y, x + side, y + side)
    return Design(
        title="Tide mill",
        width_mm=side,
        height_mm=side,
        pixels_per_mm=11.8,
        paper_hex="#f6efdf",
        palette=(PaletteColour("wet ochre", "#b4935a", (62.7, 5.0, 34.6)),),
        shapes=(Shape(0, region, (x + side / 2, y + side / 2)),),
        coverage_valid=True,
        gap_mm2=0.0,
        overlap_mm2=0.0,
        median_delta_e00=0.1,
        lost_percent=0.2,
        findings=(Finding("knot", "warn", "A knot.", (x, y)), Finding("all", "note", "All is well.")),
    )


@given(_number, _number, _side)
def test_a_design_comes_back_to_the_last_bit(x: float, y: float, side: float) -> None:
    adapter = TypeAdapter(Design)
    design = _design(x, y, side)
    again = adapter.validate_json(adapter.dump_json(design))
    assert again.shapes[0].region.equals_exact(design.shapes[0].region, 0.0)
    assert again.findings == design.findings
    assert again.palette == design.palette
    assert (again.shapes[0].at, again.width_mm) == (design.shapes[0].at, design.width_mm)
    assert adapter.dump_json(again) == adapter.dump_json(design)


def test_a_separation_comes_back_with_holes_and_empty_areas() -> None:
    adapter = TypeAdapter(Separation)
    holed = MultiPolygon([Polygon(box(0, 0, 9, 9).exterior, [box(1, 1, 2, 2).exterior]), box(20, 0, 21, 1)])
    for area in (holed, MultiPolygon()):
        ink = Ink("ochre", (0.1, 0.2, 0.3), (0.0, 1e-17, 2.5))
        each = Impression(1, "ochre", "key", ink, 2, (0, 1), area, 0.5, "#b4935a", (62.7, 5.0, 34.6))
        separation = Separation((each,), (3,), ((1, 2, 4.5),), 0.1, 0.2)
        again = adapter.validate_json(adapter.dump_json(separation))
        assert isinstance(again.impressions[0].area, MultiPolygon)
        assert shapely.equals_exact(again.impressions[0].area, area, 0.0)
        assert again.impressions[0].ink == ink
        assert again.edges_mm == separation.edges_mm


def test_values_are_frozen() -> None:
    with pytest.raises(FrozenInstanceError):
        _design(0, 0, 1).title = "x"  # type: ignore[misc]
