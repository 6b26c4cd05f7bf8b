"""What swatches tell is kept: which pot or pigment a name means, what is written there, what is said."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from blockwright import studio as house
from blockwright.colour import colour_reflectance, delta_e00, layer_reflectance, reflectance_to_lab
from blockwright.colour.nearby import nearest_inks
from blockwright.keeping import Kept, keep_swatches, kept_said, meant_by, tell_kept
from blockwright.ledger import Ledger
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Optics, Part, Pigment
from blockwright.model.shelf import ShelfPigment, Swatch

NOON = datetime(2026, 11, 27, 12, 0, tzinfo=UTC)
PAPER = tuple(colour_reflectance("#f6efdf").tolist())


def banded(low: float, high: float) -> Optics:
    return Optics(tuple(np.linspace(low, high, 36).tolist()), (0.05,) * 36)


def read(name: str, low: float = 0.3, high: float = 0.9) -> Pigment:
    """An ink as a sheet tells it."""
    return Pigment(name, None, banded(low, high), "scanned", "calibration sheet", transfer=(0.8,))


def patch(of: str, passes: int = 1) -> Swatch:
    return Swatch(
        of, passes, "white", "scanned", lab=(50.0, 1.0, 2.0), file_name="a.png", file_sha256="0a" * 32
    )


@pytest.fixture
def studio(tmp_path: Path) -> Ledger:
    """Two pigments, and the pot of a mixture of them, weighed and used."""
    known = (
        Pigment("rose", "PV19", banded(0.6, 0.1), "measured", "invented"),
        Pigment("blue", "PB15:3", banded(0.1, 1.0), "literature", "invented"),
    )
    shelf = house.open_studio(tmp_path / "studio.db", pigments=lambda: known)
    parts = (Part("rose", 0.3), Part("blue", 0.2))
    house.add_recipe(shelf, "evening sea", parts, pot_g=80.0, place="shelf 2", notes="of May")
    house.note_use(shelf, 1, folder="mill", title="Mill", impression="sky", at=NOON)
    return shelf


def everything(shelf: Ledger) -> tuple[object, ...]:
    return (
        house.list_pigments(shelf, retired=True),
        house.list_inks(shelf, retired=True),
        house.swatches_of(shelf),
        house.weighings(shelf, 1),
    )


# ---- Which is meant ---------------------------------------------------------------------------------------


def ink(number: int, name: str, *, retired: bool = False) -> MixedInk:
    return MixedInk(number, name, (), 0.0, banded(0.1, 0.2), "scanned", retired=retired)


INKS = (
    ink(1, "Sea"),
    ink(2, "sky"),
    ink(3, "sky"),
    ink(4, "sky", retired=True),
    ink(5, "old", retired=True),
    ink(6, "mist"),
    ink(7, "mist", retired=True),
    ink(8, "rose"),
)
PIGMENTS = tuple(ShelfPigment(read(name)) for name in ("rose", "Blue", "#9 chrome"))


@pytest.mark.parametrize(
    ("called", "meant"),
    [
        ("sea", INKS[0]),
        ("#2", INKS[1]),
        ("#3 sky", INKS[2]),
        ("#3 as it was called once", INKS[2]),
        ("mist", INKS[5]),
        ("blue", PIGMENTS[1]),
        ("#9 chrome", PIGMENTS[2]),
        ("#8", INKS[7]),
        ("green", None),
        ("# without", None),
    ],
)
def test_a_name_on_a_sheet_means_one_thing_of_the_shelf(
    called: str, meant: MixedInk | ShelfPigment | None
) -> None:
    assert meant_by(called, PIGMENTS, INKS) is meant


@pytest.mark.parametrize(
    ("called", "told"),
    [
        ("sky", "Several mixed inks are called sky: say which is meant, #2 or #3."),
        ("rose", "rose is the name of a pigment and of the mixed ink #8: say which is meant."),
        ("old", "Ink 5, old, is retired; blockwright shelf retire 5 --back takes it into use again."),
        ("#4", "Ink 4, sky, is retired; "),
        ("#12 gone", "No mixed ink has the number 12; "),
    ],
)
def test_a_name_that_means_none_or_several_is_refused(called: str, told: str) -> None:
    with pytest.raises(InkError) as caught:
        meant_by(called, PIGMENTS, INKS)
    assert str(caught.value).startswith(told)
    assert "\n" not in str(caught.value)


# ---- What is kept -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("called", ["#1", "#1 evening sea", "Evening Sea"])
def test_a_pot_is_known_by_its_own_swatch_and_keeps_all_else(studio: Ledger, called: str) -> None:
    before, reading = house.show_ink(studio, 1), read(called)
    (kept,) = keep_swatches(studio, [reading], PAPER, [patch(called), patch(called, 2)])
    after = house.show_ink(studio, 1)
    assert after == replace(
        before, optics=reading.optics, origin="scanned", transfer=(0.8,), known_by="own swatch"
    )
    assert (after.pot_g, after.used_in) == (80.0, ("Mill: sky",))
    assert [(each.of, each.passes) for each in house.swatches_of(studio, 1)] == [(1, 1), (1, 2)]
    assert len(house.list_pigments(studio, retired=True)) == 2, "no pigment is made of it"
    # How far the swatch lies from what was reckoned: one pass of each on the paper of the sheet.
    labs = [
        reflectance_to_lab(layer_reflectance(each.optics.k, each.optics.s, 1.0, PAPER))
        for each in (before, after)
    ]
    assert kept.before is not None
    assert kept.before.delta_e00 == pytest.approx(float(delta_e00(*labs)))
    assert kept_said(kept) == (
        "Ink 1, evening sea, was reckoned from its recipe (literature) and is known by its own swatch "
        f"(scanned) now; one pass on this paper lies {kept.before.delta_e00:.1f} from what was reckoned "
        "(CIEDE2000). The recipe stays as it is written."
    )


def test_a_pot_that_is_read_again_says_what_its_last_swatch_told(studio: Ledger) -> None:
    keep_swatches(studio, [read("#1")], PAPER, [patch("#1")])
    again = replace(read("#1", high=0.4), origin="measured")
    (kept,) = keep_swatches(studio, [again], PAPER, [patch("#1")])
    assert len(house.swatches_of(studio, 1)) == 1, "the same patch of the same file is kept once"
    assert kept_said(kept).startswith(
        "Ink 1, evening sea, was known by its own swatch (scanned) and is by this one (measured); one pass"
    )
    assert tell_kept(kept) == {
        "called": "#1",
        "kind": "ink",
        "number": 1,
        "name": "evening sea",
        "origin": "measured",
        "known_by": "own swatch",
        "before": {"origin": "scanned", "known_by": "own swatch", "delta_e00": kept.before.delta_e00},  # type: ignore[union-attr]
    }


def test_what_is_new_is_a_pigment_or_on_demand_a_mixed_ink_without_a_recipe(studio: Ledger) -> None:
    (first,) = keep_swatches(studio, [read("moss")], PAPER)
    assert (first, kept_said(first)) == (
        Kept("moss", "moss", None, "scanned", False, None),
        "moss: a new pigment, scanned.",
    )
    (second,) = keep_swatches(studio, [read("dusk")], PAPER, [patch("dusk")], new_as="new ink")
    assert kept_said(second) == (
        "Ink 2, dusk: new on the shelf, without a recipe, known by its own swatch (scanned)."
    )
    dusk = house.show_ink(studio, 2)
    assert (dusk.parts, dusk.known_by, dusk.transfer) == ((), "own swatch", (0.8,))
    assert [each.of for each in house.swatches_of(studio, 2)] == [2]
    # The same sheet once more: it is on the shelf now.
    (third,) = keep_swatches(studio, [read("dusk")], PAPER, [patch("dusk")], new_as="new ink")
    assert third.number == 2
    assert len(house.list_inks(studio)) == 2


def test_it_can_be_said_what_a_name_is_kept_as(studio: Ledger) -> None:
    house.add_recipe(studio, "rose", (Part("rose", 0.5),))
    found = [read("rose"), read("evening sea"), read("puddle")]
    ways = {"rose": "pigment", "evening sea": "new ink", "puddle": 1}
    kept = keep_swatches(studio, found, PAPER, keep_as=ways)  # type: ignore[arg-type]
    assert [(each.name, each.number) for each in kept] == [
        ("rose", None),
        ("evening sea", 3),
        ("evening sea", 1),
    ]
    assert [each.known_by for each in house.list_inks(studio)] == ["own swatch", "recipe", "own swatch"]
    assert house.show_pigment(studio, "rose").pigment.colour_index == "PV19"
    assert "rose: its origin was measured and is scanned now" in kept_said(kept[0])


@pytest.mark.parametrize(
    ("found", "ways", "told"),
    [
        (["moss", "evening sea", "#1"], {}, "evening sea and #1 are both to be kept as ink 1; one pot holds"),
        (["moss", "#7"], {}, "No mixed ink has the number 7"),
        (["moss"], {"fern": "pigment"}, "fern is no ink that was found on the sheet; found: moss."),
        (["moss", "fern"], {"fern": 9}, "No mixed ink has the number 9"),
        (["moss", "fern"], {"fern": 2}, "Ink 2, put away, is retired"),
    ],
)
def test_what_cannot_be_kept_leaves_everything_as_it_was(
    studio: Ledger, found: list[str], ways: dict[str, object], told: str
) -> None:
    house.add_recipe(studio, "put away", (Part("rose", 0.5),))
    house.edit_ink(studio, 2, retired=True)
    before = everything(studio)
    with pytest.raises(InkError, match=told):
        keep_swatches(studio, [read(name) for name in found], PAPER, [patch("moss")], keep_as=ways)  # type: ignore[arg-type]
    assert everything(studio) == before


# ---- Its recipe -------------------------------------------------------------------------------------------


def test_another_recipe_leaves_what_the_swatch_told_until_it_is_reckoned(studio: Ledger) -> None:
    reckoned = house.show_ink(studio, 1)
    keep_swatches(studio, [read("#1")], PAPER, [patch("#1")])
    known = house.show_ink(studio, 1)
    house.edit_ink(studio, 1, parts=(Part("blue", 0.5),))
    other = house.show_ink(studio, 1)
    assert (other.optics, other.known_by, other.parts) == (
        known.optics,
        "own swatch",
        (Part("blue", 0.5),),
    )
    house.edit_ink(studio, 1, parts=reckoned.parts)
    back = house.edit_ink(studio, 1, **house.by_recipe(studio, house.show_ink(studio, 1)))
    assert back == reckoned
    assert len(house.swatches_of(studio, 1)) == 1, "its swatch is still there"


def test_an_ink_without_a_recipe_cannot_be_reckoned(studio: Ledger) -> None:
    keep_swatches(studio, [read("dusk")], PAPER, new_as="new ink")
    with pytest.raises(InkError, match="dusk has no recipe"):
        house.by_recipe(studio, house.show_ink(studio, 2))


def test_a_pot_is_found_by_the_colour_of_its_swatch(studio: Ledger) -> None:
    reading = read("#1")
    keep_swatches(studio, [reading], PAPER)
    seen = reflectance_to_lab(layer_reflectance(reading.optics.k, reading.optics.s, 1.8, PAPER))
    (near,) = nearest_inks(house.list_inks(studio), tuple(seen.tolist()), PAPER)
    assert near.passes == 2
    assert near.delta_e00 == pytest.approx(0.0, abs=1e-6)
