"""Karazuri and leaf in the separation: their impressions, what runs under them, and what is refused."""

from dataclasses import replace

import pytest
import shapely
from drawn import PAPER, design_of, strips
from pydantic import ValidationError

from blockwright.model.design import Design
from blockwright.model.errors import SettingsError
from blockwright.model.finishes import Karazuri, LeafKind, LeafOn
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import SeparationTable
from blockwright.separation import separate
from blockwright.separation.finishes import metals_of
from blockwright.separation.gilding import ground_of, leaves_for

OCHRE, BLUE, DARK = "#b4935a", "#3f6f8f", "#221e19"


def design() -> Design:
    """Paper, ochre, blue, dark, ochre again: strips 20 mm wide."""
    return design_of(strips(20, 20, 20, 20, 20), (0, 1, 2, 3, 1), (PAPER, OCHRE, BLUE, DARK))


def decided(**table: object) -> Separation:
    return separate(design(), SeparationTable(**table), sheets=60)  # type: ignore[arg-type]


def named(separation: Separation) -> dict[str, Impression]:
    return {each.name: each for each in separation.impressions}


def test_karazuri_comes_after_all_inks_and_leaf_last_whatever_the_order_says() -> None:
    separation = decided(
        order=("colour 3", "colour 2"),
        leaf=(LeafOn(at=(90.0, 10.0), metal="Gold"),),
        karazuri=(Karazuri(colour="colour 0", side="back"), Karazuri(at=(30.0, 10.0))),
    )
    assert [(each.name, each.kind, each.side) for each in separation.impressions[2:]] == [
        ("colour 1", "colour", "front"),
        ("karazuri", "karazuri", "front"),
        ("karazuri from the back", "karazuri", "back"),
        ("gold leaf", "leaf", "front"),
    ]
    assert [each.number for each in separation.impressions] == [1, 2, 3, 4, 5, 6]
    assert [each.name for each in separation.inked] == ["colour 3", "colour 2", "colour 1"]
    assert [each.number for each in separation.from_blocks] == [1, 2, 3, 4, 5]
    for each in separation.impressions[3:]:
        assert each.ink is None
        with pytest.raises(ValueError, match="has no ink"):
            _ = each.printed_ink
    assert named(separation)["karazuri"].srgb_hex == PAPER


def test_embossing_over_a_printed_colour_changes_no_ink() -> None:
    plain = decided()
    embossed = decided(karazuri=(Karazuri(colour="colour 2"),))
    assert embossed.inked == plain.impressions
    assert embossed.median_delta_e00 == plain.median_delta_e00
    assert embossed.unmatched == ()
    assert embossed.paper_shapes == plain.paper_shapes == (0,)


def test_what_is_embossed_in_place_of_being_printed_is_paper() -> None:
    separation = decided(karazuri=(Karazuri(colour="colour 3", printed=False),))
    assert "colour 3" not in named(separation)
    assert separation.unmatched == (3,)
    assert separation.paper_shapes == (0, 3)
    # Nothing runs under bare paper.
    dark = shapely.box(60, 0, 80, 20)
    assert all(shapely.intersection(each.area, dark).area < 1e-9 for each in separation.inked)


def test_neighbours_run_under_bare_leaf_by_their_traps() -> None:
    separation = decided(leaf=(LeafOn(at=(70.0, 10.0), metal="copper"),))
    inks, leaf = named(separation), shapely.box(60, 0, 80, 20)
    assert "colour 3" not in inks
    for name in ("colour 1", "colour 2"):
        assert shapely.intersection(inks[name].area, leaf).area == pytest.approx(0.5 * 20, abs=0.05)
    assert separation.unmatched == (3,)
    assert inks["copper leaf"].area.equals(shapely.MultiPolygon([leaf]))
    # The light strip beside bare paper does not grow.
    assert inks["colour 1"].area.bounds[0] == 20.0


def test_a_colour_printed_beneath_leaf_stays_whole() -> None:
    separation = decided(leaf=(LeafOn(colour="colour 3", metal="gold", printed=True),))
    assert named(separation)["colour 3"].area.equals(named(decided())["colour 3"].area)
    assert separation.unmatched == (3,)


def test_leaves_are_counted_with_waste_and_books() -> None:
    """One strip of 20 x 20 mm: one leaf of 80 mm; 60 sheets and 15 % waste are 69 leaves, three books."""
    (laying,) = decided(leaf=(LeafOn(at=(90.0, 10.0), metal="gold"),)).layings
    assert (len(laying.leaves), laying.sheets, laying.leaves_needed, laying.books) == (1, 60, 69, 3)
    assert laying.proven
    assert shapely.covers(laying.leaves[0], laying.ground)
    # The ground stays 0.2 mm inside: 19.6 mm square.
    assert laying.ground.area == pytest.approx(19.6**2, abs=1e-6)


@pytest.mark.parametrize(
    ("leaves", "sheets", "waste", "needed"), [(3, 60, 15.0, 207), (1, 1, 0.0, 1), (7, 33, 10.0, 255)]
)
def test_leaves_for_an_edition(leaves: int, sheets: int, waste: float, needed: int) -> None:
    assert leaves_for(leaves, sheets=sheets, waste_percent=waste) == needed


def test_metals_of_the_trade_and_of_ones_own() -> None:
    """Gilding suppliers' data: gold 80 mm, copper and imitation 140 mm, 25 in a book; gold-beater's: 109."""
    usual = metals_of(SeparationTable())
    assert {name: each.side_mm for name, each in usual.items() if name != "silver"} == {
        "gold": 80.0,
        "japanese gold": 109.0,
        "copper": 140.0,
        "imitation gold": 140.0,
    }
    assert {usual[name].per_book for name in ("gold", "copper", "imitation gold")} == {25}
    assert {name for name, each in usual.items() if each.must_coat} == {"silver", "copper", "imitation gold"}
    own = metals_of(SeparationTable(leaf_kind=(LeafKind(name="Gold", side_mm=85.0),)))
    assert own["gold"].side_mm == 85.0
    assert len(own) == len(usual)


def test_a_ground_that_would_vanish_stays() -> None:
    area = shapely.MultiPolygon([shapely.box(0, 0, 0.3, 0.3), shapely.box(5, 5, 9, 9)])
    assert ground_of(area, -0.2).area == pytest.approx(0.09 + 3.6**2)


@pytest.mark.parametrize(
    ("table", "code", "said"),
    [
        (
            {"karazuri": (Karazuri(colour="snow"),)},
            "karazuri-unknown-colour",
            "There is no colour called snow, so that [[separation.karazuri]] does nothing. Colours: ",
        ),
        (
            {"leaf": (LeafOn(colour="moon", metal="gold"),)},
            "leaf-unknown-colour",
            "There is no colour called moon",
        ),
        (
            {"leaf": (LeafOn(colour="colour 3", metal="tin"),)},
            "leaf-unknown-metal",
            "There is no leaf called tin, so that none is laid. Known are gold, Japanese gold, ",
        ),
        (
            {"leaf": (LeafOn(at=(300.0, 2.5), metal="gold"),)},
            "leaf-misses",
            "[[separation.leaf]] at 300, 2.5 mm lies outside the image, which is 100 x 20 mm",
        ),
        ({"karazuri": (Karazuri(at=(-1.0, 2.0)),)}, "karazuri-misses", "[[separation.karazuri]] at -1, 2 mm"),
    ],
)
def test_what_does_nothing_is_told(table: dict[str, object], code: str, said: str) -> None:
    separation = decided(**table)
    (finding,) = [each for each in separation.findings if each.code == code]
    assert finding.severity == "warn"
    assert finding.message.startswith(said)
    assert separation.impressions == decided().impressions


def test_karazuri_and_leaf_on_one_shape_stop_the_work_and_both_are_named() -> None:
    separation = decided(
        karazuri=(Karazuri(colour="colour 0"), Karazuri(at=(70.0, 5.0))),
        leaf=(LeafOn(colour="colour 3", metal="gold"),),
    )
    (finding,) = [each for each in separation.findings if each.severity == "stop"]
    assert finding.code == "karazuri-and-leaf"
    assert "[[separation.karazuri]] number 2" in finding.message
    assert "[[separation.leaf]] number 1" in finding.message
    assert finding.at is not None
    assert 60 < finding.at[0] < 80


def test_leaf_smaller_than_its_lap_is_noted() -> None:
    separation = decided(leaf=(LeafOn(at=(90.0, 10.0), metal="copper"),), leaf_lap_mm=25.0)
    assert [each.code for each in separation.findings] == ["leaf-small"]


def test_a_lap_of_half_a_leaf_is_refused() -> None:
    with pytest.raises(SettingsError, match="leaf_lap_mm"):
        decided(
            leaf=(LeafOn(colour="colour 3", metal="scrap"),),
            leaf_kind=(LeafKind(name="scrap", side_mm=10.0),),
            leaf_lap_mm=5.0,
        )


def test_later_entries_hold() -> None:
    separation = decided(
        leaf=(LeafOn(colour="colour 1", metal="copper"), LeafOn(at=(90.0, 10.0), metal="gold")),
        karazuri=(Karazuri(colour="colour 2"), Karazuri(at=(50.0, 10.0), side="back")),
    )
    assert named(separation)["copper leaf"].shapes == (1,)
    assert named(separation)["gold leaf"].shapes == (4,)
    assert "karazuri" not in named(separation)


def test_a_colour_and_a_place_are_not_both_given() -> None:
    with pytest.raises(ValidationError):
        Karazuri(colour="snow", at=(1.0, 2.0))
    with pytest.raises(ValidationError):
        LeafOn(metal="gold")


def test_a_colour_that_is_called_like_a_finish_keeps_its_name() -> None:
    found = design()
    palette = (found.palette[0], replace(found.palette[1], name="Gold leaf"), *found.palette[2:])
    entry = LeafOn(at=(90.0, 10.0), metal="gold")
    separation = separate(replace(found, palette=palette), SeparationTable(leaf=(entry,)))
    assert [each.name for each in separation.impressions] == [
        "Gold leaf",
        "colour 2",
        "colour 3",
        "gold leaf (no ink)",
    ]
