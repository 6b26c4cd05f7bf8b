"""The edges of leaf: colours run beneath it, or it runs over them. Areas by shapely."""

from dataclasses import replace

import pytest
import shapely
from drawn import PAPER, design_of, strips
from pydantic import ValidationError
from scipy.stats import norm

from blockwright.model.design import Design
from blockwright.model.finishes import LeafOn
from blockwright.model.separation import EdgeTrap, Impression, Separation
from blockwright.model.settings import EdgeTrapAt, SeparationTable, TrapOf
from blockwright.separation import separate

OCHRE, BLUE, DARK = "#b4935a", "#3f6f8f", "#221e19"
GOLD = {"leaf": (LeafOn(colour="colour 2", metal="gold"),)}


def design() -> Design:
    """Paper, ochre, blue, dark, ochre again, blue again: strips 20 mm wide and 20 mm high."""
    return design_of(strips(20, 20, 20, 20, 20, 20), (0, 1, 2, 3, 1, 2), (PAPER, OCHRE, BLUE, DARK))


def decided(**table: object) -> Separation:
    return separate(design(), SeparationTable(**{**GOLD, **table}))  # type: ignore[arg-type]


def at(x_mm: float, mm: float, *, everywhere: bool = False) -> dict[str, object]:
    """A trap for the edge at a place."""
    return {"edge_trap": (EdgeTrapAt(at=(x_mm, 10.0), mm=mm, everywhere=everywhere),)}


def named(separation: Separation) -> dict[str, Impression]:
    return {each.name: each for each in separation.impressions}


def under_mm(separation: Separation, name: str, strip: int) -> float:
    """How far an ink goes on into a strip, mm."""
    area = named(separation)[name].area
    return float(shapely.intersection(area, design().shapes[strip].region).area / 20.0)


def of_leaf(separation: Separation) -> list[EdgeTrap]:
    number = named(separation)["gold leaf"].number
    return [each for each in separation.edges if each.later == number]


def codes(separation: Separation) -> list[str]:
    return [each.code for each in separation.findings if each.code != "small-impression"]


def test_colours_run_under_leaf_as_far_as_register_and_ground_ask_for() -> None:
    """The usual trap, and at least the register and what the ground stays inside."""
    assert under_mm(decided(), "colour 1", 2) == pytest.approx(0.5, abs=0.01)
    small = decided(trap_mm=0.2)
    assert under_mm(small, "colour 1", 2) == pytest.approx(0.5, abs=0.01)
    assert under_mm(small, "colour 3", 2) == pytest.approx(0.5, abs=0.01), "the dark one, too"
    assert under_mm(small, "colour 1", 3) == pytest.approx(0.2, abs=0.01), "other edges keep their trap"
    loose = decided(trap_mm=0.2, register_mm=0.6, ground_beyond_mm=-0.3)
    assert under_mm(loose, "colour 1", 2) == pytest.approx(0.9, abs=0.01)
    assert under_mm(decided(trap_mm=0.2, ground_beyond_mm=0.4), "colour 1", 2) == pytest.approx(0.3, abs=0.01)


def test_what_is_decided_for_a_colour_holds_at_leaf_and_no_traps_are_none() -> None:
    own = decided(trap=(TrapOf(colour="colour 1", mm=0.1),))
    assert under_mm(own, "colour 1", 2) == pytest.approx(0.1, abs=0.01)
    assert under_mm(decided(trap_mm=0.0), "colour 1", 2) == 0.0


@pytest.mark.parametrize(("place", "name"), [(40.0, "colour 1"), (61.5, "colour 3")])
def test_an_edge_of_leaf_gets_the_trap_that_is_set_by_hand(place: float, name: str) -> None:
    usual, separation = decided(), decided(**at(place, 1.4))
    assert codes(separation) == codes(usual)
    assert under_mm(separation, name, 2) == pytest.approx(1.4, abs=0.02)
    others = {"colour 1", "colour 3"} - {name}
    assert all(under_mm(separation, each, 2) == pytest.approx(0.5, abs=0.01) for each in others)
    assert under_mm(decided(**at(place, 0.0)), name, 2) == 0.0
    leaf, before = named(separation)["gold leaf"], named(usual)["gold leaf"]
    assert leaf.area.equals(before.area)


def test_less_than_nothing_lets_the_leaf_run_over_its_neighbour() -> None:
    usual, separation = decided(), decided(**at(40.0, -0.8))
    assert codes(separation) == codes(usual)
    assert under_mm(separation, "colour 1", 2) == 0.0, "no colour lies under the leaf's own shape there"
    leaf = named(separation)["gold leaf"].area
    assert leaf.area - named(usual)["gold leaf"].area.area == pytest.approx(0.8 * 20.0, abs=0.05)
    over = shapely.intersection(leaf, design().shapes[1].region)
    assert over.bounds == pytest.approx((39.2, 0.0, 40.0, 20.0), abs=1e-6)
    # The ground stays inside the leaf as everywhere: 0.2 mm.
    (laying,) = separation.layings
    assert laying.ground.bounds[0] == pytest.approx(39.4, abs=1e-6)
    assert separation.inked[0].area.contains(shapely.box(20.1, 0.1, 39.9, 19.9)), "the colour stays whole"


def test_everywhere_takes_all_edges_of_the_two_colours() -> None:
    one, all_of_them = decided(**at(40.0, 1.0)), decided(**at(40.0, 1.0, everywhere=True))
    assert under_mm(one, "colour 1", 5) == pytest.approx(0.5, abs=0.01)
    assert under_mm(all_of_them, "colour 1", 5) == pytest.approx(1.0, abs=0.02)
    assert under_mm(all_of_them, "colour 3", 2) == pytest.approx(0.5, abs=0.01)


def test_the_last_of_two_entries_for_one_edge_of_leaf_holds() -> None:
    both = (EdgeTrapAt(at=(40.0, 10.0), mm=-0.5), EdgeTrapAt(at=(40.0, 5.0), mm=0.7))
    separation = decided(edge_trap=both)
    assert under_mm(separation, "colour 1", 2) == pytest.approx(0.7, abs=0.02)
    assert named(separation)["gold leaf"].area.equals(named(decided())["gold leaf"].area)
    assert under_mm(decided(edge_trap=both[::-1]), "colour 1", 2) == 0.0


def test_edges_of_leaf_are_told_with_what_they_leave_to_chance() -> None:
    """The paper to expect: drift normal about nothing with the register as its deviation (scipy)."""
    usual = of_leaf(decided())
    assert {(each.runs_under, each.reason, each.trap_mm) for each in usual} == {
        (1, "leaf", 0.5),
        (2, "leaf", 0.5),
    }
    assert sum(each.length_mm for each in usual) == pytest.approx(60.0), "not the one with the paper"
    assert {each.seam_delta_e00 for each in usual} == {0.0}
    told = {each.reason: each for each in of_leaf(decided(**at(40.0, 0.1)))}
    assert told["edge"].trap_mm == 0.1
    assert told["edge"].length_mm == pytest.approx(20.0)
    assert told["edge"].gap_mm2 > 20.0 * told["leaf"].gap_mm2 / told["leaf"].length_mm
    assert told["edge"].at[0] == 40.0
    again = decided(edge_trap=(EdgeTrapAt(at=told["edge"].at, mm=0.9),))
    assert under_mm(again, "colour 1", 2) == pytest.approx(0.9, abs=0.02), "the place told is on the edge"
    over = {each.reason: each for each in of_leaf(decided(**at(40.0, -0.8)))}["leaf over"]
    assert (over.trap_mm, over.runs_under) == (0.8, 1)
    assert over.gap_mm2 / 20.0 == pytest.approx(_mean_gap_mm(0.8, SeparationTable().register_mm), abs=1e-3)


def _mean_gap_mm(trap_mm: float, drift_mm: float) -> float:
    """The mean of what a drift across the edge goes beyond the trap."""
    # Either side lies within the drift nineteen times of twenty.
    deviation = 2.0**0.5 * drift_mm / norm.ppf(0.975)
    share = trap_mm / deviation
    return float(deviation * (norm.pdf(share) - share * norm.sf(share)))


def test_beside_a_printed_colour_under_leaf_the_edge_is_an_ordinary_one() -> None:
    printed = {"leaf": (LeafOn(colour="colour 2", metal="gold", printed=True),)}
    assert of_leaf(decided(**printed)) == []
    separation = decided(**printed, **at(40.0, 0.3))
    assert under_mm(separation, "colour 1", 2) == pytest.approx(0.3, abs=0.01)
    over = decided(**printed, **at(40.0, -0.6))
    assert codes(over) == []
    grown = shapely.intersection(named(over)["gold leaf"].area, design().shapes[1].region)
    assert grown.area == pytest.approx(0.6 * 20.0, abs=0.05)
    (told,) = of_leaf(over)
    assert (told.reason, told.gap_mm2) == ("leaf over", 0.0), "the colour beneath shows, not paper"
    assert under_mm(over, "colour 1", 2) == pytest.approx(under_mm(decided(**printed), "colour 1", 2))


def test_less_than_nothing_away_from_leaf_is_pointed_out() -> None:
    for table in (at(80.0, -0.3), {**at(40.0, -0.3), "leaf": ()}):
        separation = decided(**table)
        (finding,) = (each for each in separation.findings if each.code == "edge-trap-misses")
        assert "less than 0 is for leaf" in finding.message
        assert replace(separation, findings=()) == replace(decided(**{**table, "edge_trap": ()}), findings=())


def test_leaf_may_run_over_bare_paper_but_paper_does_not_run_under() -> None:
    beside_paper = {"leaf": (LeafOn(colour="colour 1", metal="gold"),)}
    over = decided(**beside_paper, **at(20.0, -0.4))
    assert shapely.intersection(
        named(over)["gold leaf"].area, design().shapes[0].region
    ).area == pytest.approx(8.0, abs=0.05)
    assert all(each.runs_under != 0 for each in over.edges)
    assert codes(decided(**beside_paper, **at(20.0, 0.4))) == ["edge-trap-misses"]


def test_a_trap_is_a_centimetre_at_most_either_way() -> None:
    for mm in (-10.5, 10.5):
        with pytest.raises(ValidationError):
            EdgeTrapAt(at=(1.0, 1.0), mm=mm)
