"""How overprints look under other lights than day's."""

import warnings
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest
from bench.known_inks import known
from drawn import PAPER, design_of, strips

from blockwright.colour import colour_reflectance, delta_e00, stack_reflectance
from blockwright.colour.pigments import starter_pigments
from blockwright.colour.wanted import wanted_colour
from blockwright.model.design import Design
from blockwright.model.inks import Shelf
from blockwright.model.separation import LiesOver, OtherLight, Separation
from blockwright.model.settings import InksTable, SeparationTable
from blockwright.separation import separate
from blockwright.separation.lying import other_light_remarks, under_other_lights
from blockwright.separation.plan import Coloured

COLOURS, INKS = 5, 3
SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))


def flats() -> Design:
    hexes = known(1, inks=INKS, colours=COLOURS).hexes
    return design_of(strips(*[10.0] * (COLOURS + 1)), list(range(COLOURS + 1)), [*hexes, PAPER])


def separated(**inks: object) -> Separation:
    table = InksTable.model_validate(inks)
    return separate(flats(), SeparationTable(blocks="fewest", key="none"), inks=table, shelf=SHELF)


@pytest.fixture(scope="module")
def science() -> ModuleType:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that its plotting extras are not there
        module: ModuleType = pytest.importorskip("colour")
    return module


def _lab(science: ModuleType, reflectance: np.ndarray, light: str) -> np.ndarray:
    """CIELAB as colour-science reckons it, 2 degree observer, by the light's own white."""
    shape = science.SpectralShape(380, 730, 10)
    cmfs = science.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    power = science.SDS_ILLUMINANTS[light].copy().align(shape).values
    weights = power[:, None] * cmfs / (power @ cmfs[:, 1])
    lab: np.ndarray = science.XYZ_to_Lab(reflectance @ weights, science.XYZ_to_xy(weights.sum(axis=0)))
    return lab


def test_each_overprint_tells_how_far_it_is_by_day_and_under_other_lights(science: ModuleType) -> None:
    """Outside truth: the differences by colour-science, from the films of the impressions."""
    separation, design = separated(), flats()
    found = separation.overprints
    assert found is not None
    assert found.lies_over
    for each in found.lies_over:
        shape = [colour.name for colour in design.palette].index(each.colour)
        own = [i for i in separation.impressions if shape in i.shapes]
        films = [(i.printed_ink.k, i.printed_ink.s, float(i.passes)) for i in own]
        seen = stack_reflectance(colour_reflectance(PAPER), films)
        calm = wanted_colour(design.palette[shape].lab).reflectance
        assert [light.light for light in each.other_lights] == ["A", "FL11"]
        for light in each.other_lights:
            ours, theirs = (_lab(science, each, light.light) for each in (seen, calm))
            apart = science.delta_E(ours, theirs, method="CIE 2000")
            # The tables of weights are fitted to 36 bands, the sums here are plain.
            assert light.delta_e00 == pytest.approx(float(apart), abs=0.4)
        by_day = delta_e00(_lab(science, seen, "D65"), np.array(design.palette[shape].lab))
        assert each.delta_e00 == pytest.approx(float(by_day), abs=0.4)
        assert each.worst_light == max(each.other_lights, key=lambda light: light.delta_e00)


def test_inks_that_are_mixed_to_match_have_no_spectrum_to_tell_of() -> None:
    found = separated(mix="to match").overprints
    assert found is not None
    assert found.lies_over
    assert all(each.other_lights == () and each.worst_light is None for each in found.lies_over)


def test_a_colour_is_itself_under_every_light_and_an_impossible_one_is_not_told_of() -> None:
    lab = (60.0, 10.0, 20.0)
    assert max(each.delta_e00 for each in under_other_lights(wanted_colour(lab).reflectance, lab)) < 1e-3
    assert under_other_lights(np.full(36, 0.5), (50.0, 0.0, 200.0)) == ()


def test_what_parts_under_a_lamp_is_pointed_out_once() -> None:
    design = flats()
    regions = np.array([each.region for each in design.shapes], dtype=object)
    number = np.arange(COLOURS + 1)
    work = Coloured(design, regions, number, np.full(COLOURS + 1, 200.0), tuple(range(COLOURS)))

    def lies(colour: int, day: float, lamp: float) -> LiesOver:
        lights = (OtherLight("A", lamp), OtherLight("FL11", day))
        return LiesOver(f"colour {colour}", ("one", "two"), None, day, lights)

    assert other_light_remarks(work, [lies(0, 1.0, 3.9)]) == []
    (finding,) = other_light_remarks(work, [lies(0, 1.0, 4.1), lies(1, 0.5, 7.25), lies(2, 0.0, 1.0)])
    assert (finding.code, finding.severity) == ("overprint-other-light", "note")
    assert "colour 1 by 7.2 under lamp light, 0.5 by day; colour 0 by 4.1" in finding.message
    assert "colour 2" not in finding.message
    assert finding.at == design.shapes[1].at
    (many,) = other_light_remarks(work, [replace(lies(k, 0.5, 9.0)) for k in range(5)])
    assert "; and 2 more" in many.message
