"""A design separated: paper, order, inks, figures and findings."""

import numpy as np
import pytest
import shapely
from drawn import PAPER, design_of, strips, voronoi_coverage

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    reflectance_to_lab,
    stack_reflectance,
)
from blockwright.model.design import Design, PaletteColour
from blockwright.model.settings import Passes, SeparationTable, TrapOf
from blockwright.separation import separate
from blockwright.separation.paper import PaperRule

OCHRE, RUST, SLATE, INK = "#d9b26a", "#a4502f", "#5a6b78", "#221e19"


def decided(**decisions: object) -> SeparationTable:
    """The table of ``print.toml`` with these lines in it."""
    return SeparationTable.model_validate(decisions)


def three_flats() -> Design:
    """Paper, then ochre, rust, slate, ink, not in order of lightness."""
    return design_of(strips(10, 11, 12, 13, 14), [3, 0, 4, 1, 2], [RUST, INK, OCHRE, PAPER, SLATE])


def codes(design: Design, settings: SeparationTable) -> list[str]:
    return [finding.code for finding in separate(design, settings).findings]


@pytest.mark.parametrize(
    ("colour", "paper", "reason"),
    [
        (PAPER, PAPER, "near"),
        ("#f4ecda", PAPER, "near"),
        ("#ffffff", PAPER, "lighter"),
        ("#ffffff", "#c8b99a", "lighter"),
        ("#ffff40", "#d8d8d8", None),  # lighter by L*, but its blue band can be taken down
        ("#d8e4f4", "#c8b99a", "lighter"),
        (OCHRE, PAPER, None),
        ("#000000", PAPER, None),
    ],
)
def test_what_is_left_as_paper(colour: str, paper: str, reason: str | None) -> None:
    assert PaperRule(paper, 4.0).reason(PaletteColour("it", colour, hex_to_lab(colour))) == reason


def test_light_to_dark_and_paper_left_bare() -> None:
    separation = separate(three_flats(), decided())
    assert separation.impressions[0].srgb_hex == OCHRE
    assert separation.impressions[-1].srgb_hex == INK
    lightness = [i.lab[0] for i in separation.impressions]
    assert lightness == sorted(lightness, reverse=True)
    assert [i.number for i in separation.impressions] == [1, 2, 3, 4]
    assert separation.paper_shapes == (0,)
    shapes = {i.srgb_hex: i.shapes for i in separation.impressions}
    assert shapes == {RUST: (1,), SLATE: (2,), INK: (3,), OCHRE: (4,)}
    assert separation.findings == ()


def test_printmakers_order_comes_first_and_the_others_follow() -> None:
    settings = decided(order=("#221E19", "Colour 4"))
    separation = separate(three_flats(), settings)
    assert [i.srgb_hex for i in separation.impressions][:2] == [INK, SLATE]
    rest = [i.lab[0] for i in separation.impressions[2:]]
    assert rest == sorted(rest, reverse=True)
    # The light inks still run under the dark key, though it is printed first.
    by_hex = {i.srgb_hex: i for i in separation.impressions}
    assert by_hex[SLATE].area.area > 12 * 20
    assert by_hex[INK].area.area == pytest.approx(13 * 20)


def test_unknown_colours_are_findings_that_list_the_known() -> None:
    settings = decided(
        order=("nobody",),
        passes=(Passes(colour="#123456", times=2),),
        trap=(TrapOf(colour="colour 3", mm=1.0),),
    )
    findings = separate(three_flats(), settings).findings
    assert [f.code for f in findings] == [f"{s}-unknown-colour" for s in ("order", "passes", "trap")]
    assert all(f.severity == "warn" for f in findings)
    assert all("colour 0 (#a4502f)" in f.message for f in findings)
    assert "left as bare paper" in findings[2].message
    assert findings[2].about == (("colour", "colour 3"),)


def test_passes_and_traps_for_one_colour() -> None:
    settings = decided(
        passes=(Passes(colour="colour 2", times=3),), trap=(TrapOf(colour=RUST, mm=1.25),), trap_mm=0.4
    )
    by_hex = {i.srgb_hex: i for i in separate(three_flats(), settings).impressions}
    assert by_hex[OCHRE].passes == 3
    assert by_hex[OCHRE].trap_mm == 0.4
    assert by_hex[RUST].passes == 1
    assert by_hex[RUST].trap_mm == 1.25
    once = {i.srgb_hex: i for i in separate(three_flats(), decided()).impressions}
    assert all(a < b for a, b in zip(by_hex[OCHRE].printed_ink.k, once[OCHRE].printed_ink.k, strict=True))


def test_inks_give_the_colours_on_the_paper() -> None:
    separation = separate(three_flats(), decided(passes=(Passes(colour=SLATE, times=2),)))
    paper = colour_reflectance(PAPER)
    for impression in separation.impressions:
        printed = stack_reflectance(
            paper, [(impression.printed_ink.k, impression.printed_ink.s, impression.passes)]
        )
        assert float(delta_e00(reflectance_to_lab(printed), impression.lab)) < 0.01
    assert separation.median_delta_e00 < 0.5
    assert separation.max_delta_e00 < 0.5


def test_difference_figures_are_by_area() -> None:
    # A clear blue on a dull paper cannot be reached; it covers less than half.
    design = design_of(strips(60, 40), [0, 1], [OCHRE, "#7fb2ff"], paper="#d9cfb8")
    separation = separate(design, decided())
    assert separation.median_delta_e00 < 0.5
    assert separation.max_delta_e00 > 5.0
    assert codes(design, decided()) == []


def test_edges_between_impressions() -> None:
    separation = separate(three_flats(), decided())
    number = {i.srgb_hex: i.number for i in separation.impressions}
    pairs = {tuple(sorted((number[a], number[b]))) for a, b in [(RUST, SLATE), (SLATE, INK), (INK, OCHRE)]}
    assert {(a, b) for a, b, _ in separation.edges_mm} == pairs
    assert [mm for _, _, mm in separation.edges_mm] == pytest.approx([20.0] * 3)


def test_the_darkest_is_the_key_when_it_is_line_work() -> None:
    flats = separate(three_flats(), decided())
    assert {i.kind for i in flats.impressions} == {"colour"}
    lines = design_of(strips(10, 0.5, 10, 0.5, 10), [0, 1, 2, 1, 0], [OCHRE, INK, RUST])
    assert [i.kind for i in separate(lines, decided()).impressions] == ["colour", "colour", "key"]


def test_nothing_to_print_stops_the_work() -> None:
    design = design_of(strips(10, 10), [0, 1], [PAPER, "#ffffff"])
    separation = separate(design, decided())
    assert separation.impressions == ()
    assert separation.paper_shapes == (0, 1)
    found = {finding.code: finding for finding in separation.findings}
    assert found["nothing-to-print"].severity == "stop"
    assert found["lighter-than-paper"].severity == "note"
    assert found["lighter-than-paper"].at == design.shapes[1].at


def test_many_and_small_impressions_are_pointed_out() -> None:
    hexes = [f"#{200 - 8 * i:02x}6040" for i in range(21)]
    design = design_of(strips(*([5.0] * 20), 0.2), range(21), hexes)
    found = codes(design, decided())
    assert found.count("many-impressions") == 1
    assert found.count("small-impression") == 1
    assert "many-impressions" not in codes(design_of(strips(*([5.0] * 20)), range(20), hexes), decided())


def test_colours_without_shapes_are_not_printed() -> None:
    design = design_of(strips(10, 10), [0, 2], [OCHRE, RUST, SLATE])
    assert [i.srgb_hex for i in separate(design, decided()).impressions] == [OCHRE, SLATE]


@pytest.mark.parametrize("seed", [1, 2])
def test_impressions_and_paper_cover_the_design(seed: int) -> None:
    regions = voronoi_coverage(seed, 80)
    hexes = [PAPER, "#ffffff", OCHRE, RUST, SLATE, INK]
    colours = np.random.default_rng(seed).integers(0, 6, len(regions)).tolist()
    design = design_of(regions, colours, hexes)
    separation = separate(design, decided())
    paper = [design.shapes[i].region for i in separation.paper_shapes]
    whole = shapely.box(0, 0, design.width_mm, design.height_mm)
    covered = shapely.union_all([*(i.area for i in separation.impressions), *paper])
    assert whole.difference(covered).area < 1e-6
    assert separate(design, decided()) == separation
