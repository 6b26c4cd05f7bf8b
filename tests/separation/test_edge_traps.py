"""Traps by edge: least where the overlap is seen, usual where it is hidden, the printmaker's own first."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from drawn import PAPER, design_of, strips
from scipy.stats import norm

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    reflectance_to_lab,
    stack_reflectance,
)
from blockwright.geometry.drift import gape_probability
from blockwright.model.design import Design
from blockwright.model.separation import EdgeTrap, Separation
from blockwright.model.settings import SeparationTable
from blockwright.separation import separate
from blockwright.separation.across import across_mm
from blockwright.separation.edges import shared_edges

OCHRE, RUST, SLATE, INK = "#d9b26a", "#a4502f", "#5a6b78", "#100c0a"


def decided(**decisions: object) -> SeparationTable:
    return SeparationTable.model_validate(decisions)


def flats() -> Design:
    """Ochre, rust, slate and ink side by side, 20 mm each, over and over wide enough to be no lines."""
    return design_of(strips(20, 20, 20, 20), [0, 1, 2, 3], [OCHRE, RUST, SLATE, INK])


def edge(separation: Separation, one: str, other: str) -> EdgeTrap:
    number = {i.srgb_hex: i.number for i in separation.impressions}
    pair = sorted((number[one], number[other]))
    return next(e for e in separation.edges if [e.earlier, e.later] == pair)


def test_two_mid_tones_get_the_least_trap_and_one_under_black_the_usual() -> None:
    separation = separate(flats(), decided(register_mm=0.2))
    seen, hidden = edge(separation, OCHRE, RUST), edge(separation, SLATE, INK)
    assert (seen.reason, hidden.reason) == ("seen", "hidden")
    assert hidden.trap_mm == 0.5
    # The least step of 0.05 mm at which no more than 2 % of the edge gapes, by scipy's normal distribution.
    sigma = np.sqrt(2.0) * 0.2 / norm.ppf(0.975)
    assert norm.sf(seen.trap_mm, scale=sigma) <= 0.02 < norm.sf(seen.trap_mm - 0.05, scale=sigma)
    by_hex = {i.srgb_hex: i for i in separation.impressions}
    assert by_hex[OCHRE].area.bounds[2] == pytest.approx(20.0 + seen.trap_mm, abs=0.02)
    assert by_hex[SLATE].area.bounds[2] == pytest.approx(60.5, abs=0.02)


def test_the_seam_is_the_two_inks_over_each_other() -> None:
    separation = separate(flats(), decided())
    by_hex = {i.srgb_hex: i for i in separation.impressions}
    beds = [(by_hex[h].printed_ink.k, by_hex[h].printed_ink.s, 1.0) for h in (OCHRE, RUST)]
    overlap = reflectance_to_lab(stack_reflectance(colour_reflectance(PAPER), beds))
    expected = min(float(delta_e00(overlap, hex_to_lab(h))) for h in (OCHRE, RUST))
    assert edge(separation, OCHRE, RUST).seam_delta_e00 == pytest.approx(expected, abs=0.05)


def test_one_trap_for_all_is_one_trap_for_all() -> None:
    separation = separate(flats(), decided(traps="one for all", trap_mm=0.6))
    assert {(e.trap_mm, e.reason) for e in separation.edges} == {(0.6, "one for all")}


def test_a_looser_register_asks_for_no_more_than_the_usual_trap() -> None:
    assert edge(separate(flats(), decided(register_mm=1.0)), OCHRE, RUST).trap_mm == 0.5


def test_every_edge_is_told_once_with_its_length_and_who_runs_under() -> None:
    separation = separate(flats(), decided())
    assert [(e.earlier, e.later, e.length_mm) for e in separation.edges] == list(separation.edges_mm)
    lightness = {i.number: i.lab[0] for i in separation.impressions}
    for each in separation.edges:
        over = each.earlier if each.runs_under == each.later else each.later
        assert lightness[each.runs_under] > lightness[over]
        x, y = each.at
        assert min(abs(x - at) for at in (20, 40, 60)) < 1e-9
        assert 0.0 < y < 20.0


def test_a_colours_own_trap_is_obeyed_at_all_its_edges() -> None:
    separation = separate(flats(), decided(trap=({"colour": OCHRE, "mm": 0.5},), register_mm=0.2))
    own = edge(separation, OCHRE, RUST)
    assert (own.trap_mm, own.reason) == (0.5, "colour")
    assert edge(separation, RUST, SLATE).reason == "seen"


def test_a_colours_own_trap_is_obeyed_under_the_lines_of_the_key() -> None:
    design = design_of(strips(20, 2.0, 20), [0, 2, 1], [OCHRE, RUST, INK])
    separation = separate(design, decided(trap=({"colour": OCHRE, "mm": 0.3},)))
    assert edge(separation, OCHRE, INK).trap_mm == 0.3
    assert edge(separation, RUST, INK).reason == "line"
    by_hex = {i.srgb_hex: i for i in separation.impressions}
    assert by_hex[OCHRE].area.bounds[2] == pytest.approx(20.3, abs=0.02)
    assert by_hex[RUST].area.bounds[0] == pytest.approx(20.9, abs=0.04)


def twice() -> Design:
    return design_of(strips(20, 20, 20, 20), [0, 1, 0, 1], [OCHRE, RUST])


def reached(separation: Separation) -> list[float]:
    """How far the lighter ink runs into each darker strip, from left to right."""
    area = separation.impressions[0].area
    darker = [shapely.box(20 * k, 0, 20 * (k + 1), 20) for k in (1, 3)]
    return [area.intersection(each).area / 20.0 for each in darker]


def test_a_trap_for_one_edge_by_a_place_near_it() -> None:
    here = separate(twice(), decided(edge_trap=({"at": (21.0, 5.0), "mm": 0.2},), traps="one for all"))
    # The first rust strip has an edge on either side; only the left one is meant.
    assert reached(here) == pytest.approx([0.2 + 0.5, 0.5], abs=0.03)
    assert sorted((e.trap_mm, e.length_mm, e.reason) for e in here.edges) == [
        (0.2, 20.0, "edge"),
        (0.5, 40.0, "one for all"),
    ]
    all_alike = separate(twice(), decided(edge_trap=({"at": (21.0, 5.0), "mm": 0.2, "everywhere": True},)))
    assert reached(all_alike) == pytest.approx([0.4, 0.2], abs=0.03)


def test_the_last_of_two_traps_for_one_edge_holds() -> None:
    two = ({"at": (21.0, 5.0), "mm": 0.2}, {"at": (19.0, 9.0), "mm": 0.9})
    assert reached(separate(twice(), decided(edge_trap=two, traps="one for all")))[0] == pytest.approx(
        0.9 + 0.5, abs=0.03
    )


@pytest.mark.parametrize(
    ("at", "said", "place"),
    [((10.0, 10.0), "within 2 mm", (10.0, 10.0)), ((10.0, 400.0), "outside the picture", None)],
)
def test_a_trap_at_no_edge_is_pointed_out(
    at: tuple[float, float], said: str, place: tuple[float, float] | None
) -> None:
    findings = separate(twice(), decided(edge_trap=({"at": at, "mm": 0.2},))).findings
    finding = next(f for f in findings if f.code == "edge-trap-misses")
    assert said in finding.message
    assert finding.at == place


def test_an_edge_with_the_paper_has_no_trap() -> None:
    design = design_of(strips(20, 20), [0, 1], [OCHRE, PAPER])
    separation = separate(design, decided(edge_trap=({"at": (20.0, 5.0), "mm": 0.2},)))
    assert separation.edges == ()
    assert "edge-trap-misses" in [f.code for f in separation.findings]


def test_a_shape_narrower_than_its_trap_is_pointed_out() -> None:
    design = design_of(strips(20, 0.3, 20), [1, 0, 1], [OCHRE, RUST])
    finding = next(f for f in separate(design, decided()).findings if f.code == "shape-smaller-than-trap")
    assert "0.30 mm wide" in finding.message
    assert finding.at is not None
    assert 20.0 < finding.at[0] < 20.3
    assert "shape-smaller-than-trap" not in [f.code for f in separate(flats(), decided()).findings]


def test_where_a_line_is_thin_no_more_is_promised_than_it_covers() -> None:
    """The reach that is told gapes as often as drifting shapes do (Monte Carlo, measured by GEOS)."""
    design = design_of(strips(20, 0.3, 20), [0, 2, 1], [OCHRE, RUST, INK])
    separation = separate(design, decided(widest_line_mm=0.0, register_mm=0.3))
    told = edge(separation, OCHRE, INK)
    assert told.reach_mm == pytest.approx(0.25, abs=0.01)
    by_hex = {i.srgb_hex: i.area for i in separation.impressions}
    rng = np.random.default_rng(4)
    gaped, drawn = 0, 2000
    across = shapely.LineString([(15, 10), (20.3, 10)])
    for moves in rng.normal(0.0, 0.3 / norm.ppf(0.975), (drawn, 2)):
        # Only the two inks of this edge move against each other.
        light = shapely.affinity.translate(by_hex[OCHRE], moves[0])
        dark = shapely.affinity.translate(by_hex[INK], moves[1])
        bare = across.difference(shapely.union(light, dark))
        gaped += shapely.intersection(bare, shapely.box(15, 9, dark.bounds[0], 11)).length > 1e-9
    expected = gape_probability(told.reach_mm, 0.3)
    assert gaped / drawn == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / drawn))


def test_width_across_an_edge() -> None:
    regions = np.array(strips(5, 1.5, 5))
    edges = shared_edges(regions)
    assert sorted(across_mm(regions, edges, farthest_mm=3.0).ravel().tolist()) == [1.5, 1.5, np.inf, np.inf]
    assert np.isinf(across_mm(regions, edges, farthest_mm=1.0)).all()
