"""Pigments, inks, swatches, weighings and uses: kept exactly, checked, never lost."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from small_shelf import MONDAY, ONE_HOUR, a_swatch, invented_optics, invented_pigments, made_before, sea_ink
from sqlalchemy.exc import StatementError

from blockwright import ledger
from blockwright.ledger import Ledger
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Optics, Part
from blockwright.model.shelf import ShelfPigment, Swatch, Use, Weighing

ROSE = invented_pigments()[0]


@pytest.fixture
def studio(tmp_path: Path) -> Ledger:
    return made_before(tmp_path / "studio.db")


def added(studio: Ledger, ink: MixedInk) -> MixedInk:
    with studio.writing() as connection:
        return ledger.add_ink(connection, ink, at=MONDAY)


def shown(studio: Ledger, number: int = 1) -> MixedInk:
    with studio.reading() as connection:
        return ledger.ink_numbered(connection, number)


# ---- Pigments ---------------------------------------------------------------------------------------------


def test_a_pigment_is_changed_and_kept_exactly(studio: Ledger) -> None:
    changed = replace(
        ROSE,
        pigment=replace(ROSE.pigment, optics=invented_optics(9, 5), hazard=None, lightfastness="Blue Wool 1"),
        notes="",
        retired=True,
    )
    with studio.writing() as connection:
        ledger.change_pigment(connection, changed)
    with studio.reading() as connection:
        assert ledger.pigment_named(connection, "rose, deep") == changed


def test_names_of_pigments_are_taken_in_any_case(studio: Ledger) -> None:
    other = replace(ROSE, pigment=replace(ROSE.pigment, name="ÜBERBLAU"))
    told = "A pigment Überblau stands on the shelf already"
    with pytest.raises(InkError, match=told), studio.writing() as connection:
        ledger.add_pigment(connection, other)


def test_an_unknown_pigment_is_told_with_those_like_it(studio: Ledger) -> None:
    with studio.reading() as connection:
        with pytest.raises(InkError, match=r"is called Ocker; perhaps ochre\."):
            ledger.pigment_named(connection, "Ocker")
        with pytest.raises(InkError, match="is called zzz; blockwright shelf list shows"):
            ledger.pigment_named(connection, "zzz")


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("name", "", "cannot be the name of a pigment"),
        ("name", "7", "not a mere number"),
        ("name", "two\nlines", "a name is one line"),
        ("name", "a" * 101, "1 to 100 characters"),
        ("name", "a; b", "without ;"),
        ("optics", Optics((0.1,) * 35, (0.1,) * 36), "K of new has 36 bands"),
        ("optics", Optics((0.1,) * 36, (-0.1,) * 36), "S of new has 36 bands, each 0 or more"),
        ("optics", Optics((float("nan"),) * 36, (0.1,) * 36), "K of new"),
        ("optics", Optics((0.1,) * 36, (0.1,) * 36, ((0.1,) * 36,), ()), "The uncertainty of new"),
        ("origin", "heard", "The origin of new is 'heard'; it is one of literature"),
        ("lightfastness", "good", "ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8"),
        ("density_g_per_ml", 0.0, "The density of new is 0"),
        ("density_g_per_ml", float("inf"), "The density of new is inf"),
        ("transfer", (), "no transfer factor"),
        ("transfer", (1.0, -0.5), "A transfer factor of new is -0.5"),
    ],
)
def test_impossible_pigments_are_refused(studio: Ledger, field: str, value: Any, told: str) -> None:
    pigment = replace(ROSE.pigment, **{"name": "new", field: value})
    with pytest.raises(InkError, match=told), studio.writing() as connection:
        ledger.add_pigment(connection, ShelfPigment(pigment))
    with studio.reading() as connection:
        assert len(ledger.all_pigments(connection)) == 4


# ---- Mixed inks -------------------------------------------------------------------------------------------


def test_a_mixed_ink_is_kept_exactly_with_the_next_number(studio: Ledger) -> None:
    first = added(studio, sea_ink(pot_g=1.0 / 3.0, place="shelf 2", notes="a\nb", density_g_per_ml=1.05))
    lost = {"parts": (), "paste_share": 0.0, "origin": "scanned", "known_by": "own swatch"}
    second = added(studio, sea_ink(name="recipe lost", made_on=None, **lost))
    assert (first.number, second.number) == (1, 2)
    with studio.reading() as connection:
        assert ledger.all_inks(connection) == (first, second)


def test_a_recipe_keeps_its_order_and_can_be_changed(studio: Ledger) -> None:
    ink = added(studio, sea_ink())
    changed = replace(
        ink, parts=(Part("ochre", 0.5), Part("rose, deep", 0.25)), paste_share=0.25, retired=True
    )
    with studio.writing() as connection:
        ledger.change_ink(connection, changed)
    assert shown(studio) == changed


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"name": "12"}, "cannot be the name of a mixed ink"),
        ({"parts": (Part("mauve", 0.5),), "paste_share": 0.5}, "No pigment on the shelf is called mauve"),
        ({"parts": (Part("ochre", 0.5),) * 2, "paste_share": 0.0}, "a pigment stands twice"),
        ({"parts": (Part("ochre", 0.5),), "paste_share": 0.4}, "add up to 0.9"),
        ({"parts": (Part("ochre", 0.0),), "paste_share": 0.5}, "The share of ochre in sea is 0"),
        ({"parts": (), "paste_share": 1.0}, "The paste in sea is 1"),
        ({"made_on": "23.11.2026"}, "is no date of sea"),
        ({"made_on": "2026-02-30"}, "is no date of sea"),
        ({"pot_g": -1.0}, "The pot of sea weighs -1 g"),
        ({"known_by": "hearsay"}, "sea is known by 'hearsay'; it is one of recipe, own swatch"),
        ({"known_by": "own swatch"}, "its origin is scanned or measured, not literature"),
        ({"used_in": ("Tide mill: sea",)}, "it was used in no print yet"),
    ],
)
def test_impossible_inks_are_refused(studio: Ledger, fields: dict[str, Any], told: str) -> None:
    with pytest.raises(InkError, match=told):
        added(studio, sea_ink(**fields))
    with studio.reading() as connection:
        assert ledger.all_inks(connection) == ()
        assert ledger.all_weighings(connection) == ()


@pytest.mark.parametrize("number", [9, 0, -1, 10**30])
def test_an_unknown_number_is_told(studio: Ledger, number: int) -> None:
    with pytest.raises(InkError, match=f"No mixed ink has the number {number}"):
        shown(studio, number)


@pytest.mark.parametrize("number", [0, 2**31])
def test_a_number_that_no_database_holds_is_refused(studio: Ledger, number: int) -> None:
    with pytest.raises(InkError, match="it is 1 to 2147483647"), studio.writing() as connection:
        ledger.add_ink(connection, sea_ink(number=number), at=MONDAY, keep_number=True)


@pytest.mark.parametrize(("title", "impression"), [(" ", "sea"), ("Tide mill", "")])
def test_a_use_names_print_and_impression(studio: Ledger, title: str, impression: str) -> None:
    added(studio, sea_ink())
    with pytest.raises(InkError, match="which print and which impression"), studio.writing() as connection:
        ledger.add_use(connection, Use(1, "", title, impression, MONDAY))


# ---- Weighings, uses, swatches ----------------------------------------------------------------------------


def test_the_pot_is_what_was_weighed_last_whenever_it_was_noted(studio: Ledger) -> None:
    added(studio, sea_ink(pot_g=50.0))
    for hours, weight_g in ((2, 30.5), (1, 40.25)):
        with studio.writing() as connection:
            ledger.add_weighing(connection, Weighing(1, weight_g, MONDAY + hours * ONE_HOUR))
    assert shown(studio).pot_g == 30.5
    with studio.reading() as connection:
        found = ledger.all_weighings(connection, 1)
    assert [(each.weight_g, each.at) for each in found] == [
        (50.0, MONDAY),
        (40.25, MONDAY + ONE_HOUR),
        (30.5, MONDAY + 2 * ONE_HOUR),
    ]


def test_an_empty_pot_is_not_one_that_was_never_weighed(studio: Ledger) -> None:
    added(studio, sea_ink(pot_g=0.0))
    assert shown(studio).pot_g == 0.0


@pytest.mark.parametrize("weight_g", [-0.1, float("nan"), float("inf")])
def test_impossible_weights_are_refused(studio: Ledger, weight_g: float) -> None:
    added(studio, sea_ink())
    with pytest.raises(InkError, match="The pot of sea weighs"), studio.writing() as connection:
        ledger.add_weighing(connection, Weighing(1, weight_g, MONDAY))
    assert shown(studio).pot_g is None


def test_a_time_without_a_zone_is_not_kept(studio: Ledger) -> None:
    added(studio, sea_ink())
    with pytest.raises((StatementError, ValueError)), studio.writing() as connection:
        ledger.add_weighing(connection, Weighing(1, 3.0, MONDAY.replace(tzinfo=None)))


def test_uses_are_told_once_each_in_the_order_of_their_times(studio: Ledger) -> None:
    added(studio, sea_ink())
    uses = [
        Use(1, "prints/mill", "Tide mill", "sea", MONDAY + ONE_HOUR),
        Use(1, "prints/mill", "Tide mill", "sky", MONDAY),
        Use(1, "prints/mill", "Tide mill", "sea", MONDAY + 2 * ONE_HOUR),
    ]
    for use in uses:
        with studio.writing() as connection:
            ledger.add_use(connection, use)
    assert shown(studio).used_in == ("Tide mill: sky", "Tide mill: sea")
    with studio.reading() as connection:
        assert ledger.all_uses(connection) == (uses[1], uses[0], uses[2])


def test_swatches_of_pigments_and_inks_are_kept_exactly(studio: Ledger) -> None:
    added(studio, sea_ink())
    only_lab = replace(a_swatch("ochre"), reflectance=None, ground_reflectance=None, file_sha256=None)
    with studio.writing() as connection:
        kept = [
            ledger.add_swatch(connection, each) for each in (a_swatch(1), a_swatch("rose, deep"), only_lab)
        ]
    assert [each.number for each in kept] == [1, 2, 3]
    with studio.reading() as connection:
        assert ledger.all_swatches(connection) == tuple(kept)
        assert ledger.all_swatches(connection, "ochre") == (kept[2],)
        assert ledger.all_swatches(connection, 1) == (kept[0],)


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"of": "mauve"}, "No pigment on the shelf is called mauve"),
        ({"of": 4}, "No mixed ink has the number 4"),
        ({"passes": 0}, "has 0 passes"),
        ({"ground": " "}, "Say what lies under"),
        ({"lab": None, "reflectance": None}, "Give the swatch of ochre a colour"),
        ({"reflectance": (1.2,) * 36}, "36 bands of 0 to 1"),
        ({"reflectance": (0.2,) * 35}, "36 bands of 0 to 1"),
        ({"lab": (1.0, 2.0, float("nan"))}, "is three numbers"),
        ({"file_sha256": "ABC"}, "64 hexadecimal digits"),
        ({"made_on": "yesterday"}, "is no date"),
        ({"origin": "heard"}, "is one of"),
    ],
)
def test_impossible_swatches_are_refused(studio: Ledger, fields: dict[str, Any], told: str) -> None:
    swatch: Swatch = replace(a_swatch("ochre"), **fields)
    with pytest.raises(InkError, match=told), studio.writing() as connection:
        ledger.add_swatch(connection, swatch)
    with studio.reading() as connection:
        assert ledger.all_swatches(connection) == ()
