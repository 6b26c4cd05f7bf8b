"""Karazuri and leaf where they meet the rest of the separation: fewest blocks, gradations, key, traps."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from bench.known_inks import known
from drawn import PAPER, design_of, strips

from blockwright.colour import hex_to_lab, lab_to_hex
from blockwright.colour.pigments import starter_pigments
from blockwright.model.axis import Axis
from blockwright.model.design import Design, Run
from blockwright.model.finishes import Karazuri, LeafOn
from blockwright.model.inks import Shelf
from blockwright.model.separation import Separation
from blockwright.model.settings import InksTable, Overprint, SeparationTable
from blockwright.separation import separate

SHELF = Shelf(tuple(sorted(starter_pigments(), key=lambda each: each.name)))
COLOURS, INKS = 7, 4


def flats() -> Design:
    """Strips of colours that four inks print, one of bare paper, and the first colour again."""
    regions = strips(*[10.0 + i for i in range(COLOURS + 2)])
    hexes = [*known(1, inks=INKS, colours=COLOURS).hexes, PAPER]
    return design_of(regions, [*range(COLOURS + 1), 0], hexes)


def fewest(**decisions: object) -> Separation:
    settings = SeparationTable.model_validate({"blocks": "fewest", **decisions})
    return separate(flats(), settings, inks=InksTable(), shelf=SHELF)


def codes(separation: Separation) -> list[str]:
    return [each.code for each in separation.findings]


def printing(separation: Separation, shape: int) -> list[str]:
    return [each.name for each in separation.inked if shape in each.shapes]


def test_leaf_takes_a_colour_out_of_the_search_of_overprints() -> None:
    separation = fewest(leaf=(LeafOn(colour="colour 2", metal="gold"),))
    found = separation.overprints
    assert found is not None
    assert found.colours == COLOURS - 1
    assert len(separation.inked) == found.blocks <= INKS
    assert printing(separation, 2) == []
    assert separation.unmatched == (2,)
    assert "colour 2" not in {name for each in separation.inked for name in each.colours}
    assert separation.impressions[-1].kind == "leaf"
    assert separation.max_delta_e00 <= 3.0
    assert codes(separation) == ["blocks-saved"]
    # Its neighbours run under it, as they would under the darkest colour.
    leaf = flats().shapes[2].region
    assert any(shapely.intersection(each.area, leaf).area > 1.0 for each in separation.inked)


def test_leaf_on_one_shape_leaves_its_colour_to_the_others() -> None:
    separation = fewest(leaf=(LeafOn(at=flats().shapes[0].at, metal="gold"),))
    assert separation.overprints is not None
    assert separation.overprints.colours == COLOURS
    assert printing(separation, 0) == []
    assert printing(separation, COLOURS + 1)


def test_a_colour_beneath_leaf_or_embossed_is_searched_for() -> None:
    plain = fewest()
    for decision in (
        {"leaf": (LeafOn(colour="colour 2", metal="gold", printed=True),)},
        {"karazuri": (Karazuri(colour="colour 2"),)},
    ):
        separation = fewest(**decision)
        assert separation.overprints is not None
        assert separation.overprints.colours == COLOURS
        assert [each.shapes for each in separation.inked] == [each.shapes for each in plain.inked]


def test_an_overprint_that_points_at_leaf_is_told() -> None:
    at = [flats().shapes[k].at for k in (2, 0)]
    separation = fewest(
        leaf=(LeafOn(colour="colour 2", metal="gold"),),
        overprint=(Overprint(at=at[0], over=at[1]),),
    )
    (finding,) = [each for each in separation.findings if each.code == "overprint-misses"]
    assert "gets leaf or is embossed, and no colour is printed there" in finding.message


def test_what_was_decided_of_a_colour_under_leaf_is_no_mistake() -> None:
    """It holds again when the leaf is taken off."""
    decided = {
        "order": ("colour 2", "colour 1"),
        "passes": ({"colour": "colour 2", "times": 2},),
        "trap": ({"colour": "colour 2", "mm": 0.2},),
        "leaf": (LeafOn(colour="colour 2", metal="gold"),),
    }
    separation = separate(flats(), SeparationTable.model_validate(decided))
    assert codes(separation) == []
    assert separation.impressions[0].name == "colour 1"
    wrong = SeparationTable.model_validate({**decided, "order": ("colour 2", "mauve")})
    assert codes(separate(flats(), wrong)) == ["order-unknown-colour"]


def runs() -> Design:
    """Two skies that run down to the paper, over flat land."""
    ends = np.array([hex_to_lab("#2f5f96"), hex_to_lab(PAPER)])
    steps = ends[0] + np.linspace(0.0, 1.0, 5)[:, None] * (ends[1] - ends[0])
    lab = tuple((float(a), float(b), float(c)) for a, b, c in steps)
    run = Run(Axis((50.0, 0.0), (50.0, 60.0)), lab, tuple(lab_to_hex(each) for each in lab))
    regions = [shapely.box(0, 0, 50, 60), shapely.box(50, 0, 60, 60), shapely.box(60, 0, 100, 60)]
    design = design_of([*regions, shapely.box(0, 60, 100, 80)], [0, 1, 0, 1], ["#9090a0", "#503020"])
    one, bar, other, land = design.shapes
    return replace(design, shapes=(replace(one, run=run), bar, replace(other, run=run), land))


@pytest.mark.parametrize("blocks", ["one a colour", "fewest"])
def test_leaf_over_part_of_a_gradation_leaves_the_rest_of_it(blocks: str) -> None:
    settings = {"blocks": blocks, "leaf": (LeafOn(at=runs().shapes[0].at, metal="silver"),)}
    separation = separate(runs(), SeparationTable.model_validate(settings), shelf=SHELF)
    (sky,) = [each for each in separation.inked if each.gradation is not None]
    assert sky.shapes == (2,)
    assert sky.area.bounds[0] >= 50.0
    assert separation.unmatched == (0,)
    assert separation.impressions[-1].shapes == (0,)
    all_of_it = {"blocks": blocks, "leaf": (LeafOn(colour="colour 0", metal="silver"),)}
    covered = separate(runs(), SeparationTable.model_validate(all_of_it), shelf=SHELF)
    assert [each.gradation for each in covered.inked] == [None]
    assert covered.impressions[-1].shapes == (0, 2)


def lined() -> Design:
    """Fields with lines of ink between them, and a leaf's field beside one."""
    return design_of(
        strips(20, 1, 19, 1, 20, 1, 10),
        [0, 1, 2, 1, 3, 1, 0],
        ["#d9b26a", "#16120f", "#5a6b78", "#2a231d"],
    )


def test_the_key_goes_on_beside_leaf_and_is_found_without_what_leaf_covers() -> None:
    plain = separate(lined(), SeparationTable())
    assert plain.key is not None
    separation = separate(lined(), SeparationTable(leaf=(LeafOn(at=(30.0, 10.0), metal="gold"),)))
    assert separation.key is not None
    assert separation.key.line_mm == pytest.approx(plain.key.line_mm)
    key = separation.impressions[separation.key.impression - 1]
    # Nothing is darker than the key but leaf, under which its lines run by their trap.
    assert shapely.intersection(key.area, lined().shapes[2].region).area == pytest.approx(20.0, abs=0.1)
    (under,) = (each for each in separation.edges if each.runs_under == separation.key.impression)
    assert under.reason == "leaf"
    # The other colours close up to the middle of its lines as before.
    assert "line" in {each.reason for each in separation.edges}


def test_leaf_over_part_of_the_key_is_not_closed_up_to() -> None:
    separation = separate(lined(), SeparationTable(leaf=(LeafOn(at=(20.5, 10.0), metal="gold"),)))
    assert separation.key is not None
    key = separation.impressions[separation.key.impression - 1]
    assert key.shapes == (3, 5)
    assert separation.key.line_mm == pytest.approx(2 * 20.0, abs=0.2)
    leafed = lined().shapes[1].region
    assert all(
        shapely.covers(each.area, lined().shapes[k].region) for each in separation.inked for k in each.shapes
    )
    assert shapely.intersection(key.area, leafed).area == pytest.approx(0.0, abs=1e-9)
