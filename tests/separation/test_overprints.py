"""A design printed with fewer blocks than colours: impressions, decisions, findings."""

from functools import cache

import numpy as np
import pytest
import shapely
from bench.known_inks import Known, known
from drawn import PAPER, design_of, strips

from blockwright.colour import colour_reflectance, delta_e00, reflectance_to_lab, stack_reflectance
from blockwright.colour.pigments import starter_pigments
from blockwright.inks import ink_print
from blockwright.model.design import Design
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, Overprint, SeparationTable
from blockwright.separation import separate

SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
COLOURS, INKS = 7, 4


@cache
def _truth() -> Known:
    return known(1, inks=INKS, colours=COLOURS)


def flats() -> Design:
    """Strips of colours that four inks print, and one of bare paper at the right."""
    regions = strips(*[10.0 + i for i in range(COLOURS + 1)])
    return design_of(regions, list(range(COLOURS + 1)), [*_truth().hexes, PAPER])


def separated(**decisions: object) -> Separation:
    settings = SeparationTable.model_validate({"blocks": "fewest", **decisions})
    return separate(flats(), settings, inks=InksTable(), shelf=SHELF)


def codes(separation: Separation) -> list[str]:
    return [each.code for each in separation.findings]


def at(colour: int) -> tuple[float, float]:
    return flats().shapes[colour].at


def stack_of(separation: Separation, shape: int) -> list[str]:
    return [each.name for each in separation.impressions if shape in each.shapes]


def test_fewer_blocks_than_colours_within_the_limit() -> None:
    separation = separated()
    found = separation.overprints
    assert found is not None
    assert len(separation.impressions) == found.blocks == separation.blocks <= INKS < COLOURS
    assert separation.max_delta_e00 <= 3.0
    assert codes(separation) == ["blocks-saved"]
    assert f"{found.blocks} blocks print these {COLOURS} colours" in separation.findings[0].message
    assert [each.blocks for each in found.curve] == sorted({each.blocks for each in found.curve})
    assert found.curve[-1].blocks == COLOURS
    taken = next(each for each in found.curve if each.blocks == found.blocks)
    assert taken.max_delta_e00 == pytest.approx(separation.max_delta_e00, abs=1e-6)
    assert taken.median_delta_e00 == pytest.approx(separation.median_delta_e00, abs=1e-6)


def test_every_shape_is_covered_and_looks_as_it_should() -> None:
    separation, design = separated(), flats()
    assert separation.paper_shapes == (COLOURS,)
    assert len({each.name for each in separation.impressions}) == len(separation.impressions)
    for number, shape in enumerate(design.shapes[:COLOURS]):
        own = [each for each in separation.impressions if number in each.shapes]
        layers = [(each.printed_ink.k, each.printed_ink.s, float(each.passes)) for each in own]
        lab = reflectance_to_lab(stack_reflectance(colour_reflectance(PAPER), layers))
        assert own
        assert sum(each.passes for each in own) <= 4
        assert delta_e00(lab, design.palette[shape.colour].lab) <= 3.0
        assert all(shape.region.difference(each.area).area < 1e-6 for each in own)
        assert all(design.palette[shape.colour].name in each.colours for each in own)
    union = shapely.union_all([each.area for each in separation.impressions])
    paper = design.shapes[COLOURS].region
    assert shapely.intersection(union, paper).area < 1e-6


def test_the_inks_are_those_that_the_overprints_were_reckoned_with() -> None:
    separation = separated()
    inks = ink_print(flats(), separation, SHELF, InksTable())
    for impression, ink in zip(separation.impressions, inks.inks, strict=True):
        assert impression.set_ink is not None
        assert ink.recipe is not None
        assert ink.recipe.parts == impression.set_ink.parts
        assert ink.recipe.paste_share >= 0.2 - 1e-9
        assert np.allclose(ink.optics.k, impression.printed_ink.k, rtol=1e-6)
        assert ink.delta_e00 < 0.01
    assert "recipe-misses" not in [each.code for each in inks.findings]


def test_a_point_of_the_curve_is_taken() -> None:
    separation = separated(block_count=INKS + 1)
    assert len(separation.impressions) == INKS + 1
    few = separated(block_count=2)
    assert "block-count-not-there" in codes(few) or len(few.impressions) == 2


def test_too_few_blocks_say_which_colours_fail() -> None:
    found = separated().overprints
    assert found is not None
    least = found.curve[0]
    assert not least.within
    separation = separated(block_count=least.blocks)
    (finding,) = [each for each in separation.findings if each.code == "overprints-miss"]
    assert finding.severity == "warn"
    assert "colour " in finding.message
    assert finding.at is not None
    assert float(dict(finding.about)["worst_delta_e00"]) >= least.max_delta_e00 - 0.1


def test_the_printmaker_puts_one_colour_over_another_or_not() -> None:
    free = separated()
    lies = next(each for each in (free.overprints.lies_over if free.overprints else ()) if each.over)
    names = [colour.name for colour in flats().palette]
    over, under = names.index(lies.colour), names.index(lies.over or "")
    edit = Overprint(at=at(over), over=at(under), lies=False)
    forbidden = separated(overprint=(edit,))
    assert not set(stack_of(forbidden, over)) >= set(stack_of(forbidden, under))
    forced = separated(overprint=(edit.model_copy(update={"lies": True}),))
    assert set(stack_of(forced, over)) > set(stack_of(forced, under))
    assert not {"overprint-misses", "overprint-contradicts"} & {*codes(forbidden), *codes(forced)}


def test_edits_that_contradict_one_another_or_miss_are_named() -> None:
    first = Overprint(at=at(0), over=at(1))
    separation = separated(
        overprint=(
            first,
            Overprint(at=at(1), over=at(0)),
            Overprint(at=(500.0, 5.0), over=at(0)),
            Overprint(at=at(2), over=at(2)),
            Overprint(at=at(2), over=at(COLOURS)),
        )
    )
    told = {each.code: each.message for each in separation.findings}
    assert "colour 1 lies over colour 0" in told["overprint-contradicts"]
    assert "colour 0 lies over colour 1" in told["overprint-contradicts"]
    misses = [each.message for each in separation.findings if each.code == "overprint-misses"]
    assert "outside the picture" in misses[0]
    assert "cannot lie over itself" in misses[1]
    assert "bare paper" in misses[2]


def test_an_empty_shelf_and_inks_mixed_to_match() -> None:
    settings = SeparationTable(blocks="fewest")
    bare = separate(flats(), settings, inks=InksTable(), shelf=Shelf())
    assert "overprints-no-inks" in codes(bare)
    matched = separate(flats(), settings, inks=InksTable(mix="to match"), shelf=SHELF)
    assert "overprints-no-inks" not in codes(matched)
    assert matched.impressions == bare.impressions
    assert all(each.set_ink is None for each in matched.impressions)
    inks = ink_print(flats(), matched, SHELF, InksTable(mix="to match"))
    assert all(ink.origin == "matched" for ink in inks.inks)
    assert matched.max_delta_e00 <= 3.0


def test_passes_traps_and_order_name_impressions() -> None:
    free = separated()
    name = free.impressions[-1].name
    separation = separated(
        passes=({"colour": name, "times": 2},), trap=({"colour": name, "mm": 1.5},), order=(name,)
    )
    first = separation.impressions[0]
    assert (first.name, first.passes, first.trap_mm) == (name, 2, 1.5)
    assert "trap-unknown-colour" in codes(separated(trap=({"colour": "nobody", "mm": 1.0},)))


def test_without_the_setting_every_colour_has_its_block() -> None:
    separation = separate(flats(), SeparationTable(), inks=InksTable(), shelf=SHELF)
    assert separation.overprints is None
    assert len(separation.impressions) == COLOURS
    assert all(each.colours == (each.name,) for each in separation.impressions)
