"""The studio: where its database lies, what a recipe's ink is, what is near a colour, tables on the disk."""

import os
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from blockwright import studio as house
from blockwright.colour.films import mixed, overprinted
from blockwright.colour.inks import to_arrays
from blockwright.colour.matched import colour_reflectance
from blockwright.colour.mixed_optics import condensed, mixed_optics
from blockwright.colour.nearby import nearest_inks
from blockwright.colour.optics import uncertainty_delta_e00
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.ledger import Ledger
from blockwright.model.errors import InkError, SettingsError, StudioError
from blockwright.model.inks import MixedInk, Optics, Part, Pigment
from blockwright.model.shelf import ShelfPigment, Swatch

NOON = datetime(2026, 11, 27, 12, 0, tzinfo=UTC)
PAPER = "#f6efdf"


def banded(low: float, high: float, *, spread: float = 0.0) -> Optics:
    """An ink that absorbs ``low`` in short waves and ``high`` in long ones."""
    k = tuple(np.linspace(low, high, 36).tolist())
    rows = ((spread,) * 36,) if spread else ()
    return Optics(k, (0.05,) * 36, rows, rows)


def pigments() -> tuple[Pigment, ...]:
    return (
        Pigment("rose", "PV19", banded(0.6, 0.1, spread=0.2), "measured", "invented", transfer=(0.5,)),
        Pigment("blue", "PB15:3", banded(0.1, 1.0, spread=0.3), "literature", "invented"),
        Pigment("amber", None, banded(2.0, 0.1), "measured", "invented"),
    )


@pytest.fixture
def studio(tmp_path: Path) -> Ledger:
    return house.open_studio(tmp_path / "studio.db", pigments=pigments)


# ---- Where it lies ----------------------------------------------------------------------------------------


def test_the_database_lies_in_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "not yet" / "home"
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(home))
    monkeypatch.setattr(house, "_shipped", lambda: house.seed(pigments()))
    assert [each.name for each in house.shelf_pigments()] == ["amber", "blue", "rose"]
    assert not home.exists(), "looking makes nothing"
    studio = house.open_studio()
    assert studio.name == str(home / "studio.db")
    assert [each.pigment.name for each in house.list_pigments(studio)] == ["amber", "blue", "rose"]


def test_a_home_that_cannot_be_made_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "file" / "home"))
    with pytest.raises(StudioError, match=r"The folder .* cannot be made"):
        house.open_studio()


def test_the_pigments_of_the_shelf_are_exact_and_the_same_before_and_after_it_is_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(house, "_shipped", lambda: house.seed(pigments()))
    path = tmp_path / "studio.db"
    before = house.shelf_pigments(path)
    assert before == tuple(sorted(pigments(), key=lambda each: each.name))
    studio = house.open_studio(path)
    assert house.shelf_pigments(path) == before
    house.edit_pigment(studio, "rose", on_shelf=False)
    house.edit_pigment(studio, "blue", retired=True)
    assert [each.name for each in house.shelf_pigments(path)] == ["amber"]
    assert os.listdir(tmp_path) == ["studio.db"]  # noqa: PTH208


def test_a_new_shelf_has_the_programs_own_pigments_and_the_starter_set_at_hand(tmp_path: Path) -> None:
    from blockwright.colour.pigments import shipped_pigments, starter_pigments

    path = tmp_path / "studio.db"
    before = house.shelf_pigments(path)
    assert before == tuple(sorted(starter_pigments(), key=lambda each: each.name))
    studio = house.open_studio(path)
    assert house.shelf_pigments(path) == before
    kept = {each.pigment.name: each for each in house.list_pigments(studio)}
    assert {name: each.pigment for name, each in kept.items()} == {p.name: p for p in shipped_pigments()}
    assert 0 < len(before) < len(kept)


# ---- Mixtures ---------------------------------------------------------------------------------------------


def test_a_recipe_is_the_sum_of_its_shares(studio: Ledger) -> None:
    """Duncan 1940: K and S add by amount; the films' own function is the witness."""
    ink = house.add_recipe(studio, "plum", [Part("rose", 0.3), Part("blue", 0.2)])
    rose, blue, _ = (each.optics for each in pigments())
    k, s = mixed([rose.k, blue.k], [rose.s, blue.s], [0.3, 0.2])
    np.testing.assert_allclose(ink.optics.k, k, rtol=1e-15)
    np.testing.assert_allclose(ink.optics.s, s, rtol=1e-15)
    assert (ink.number, ink.paste_share, ink.origin) == (1, 0.5, "literature")
    assert ink.transfer == pytest.approx((0.7,)), "0.5 of three parts, 1 of two"
    assert house.show_ink(studio, 1) == ink


def test_the_uncertainty_of_a_mixture_is_that_of_its_pigments(studio: Ledger) -> None:
    """The same figure as for the pigments themselves, mixed within the prediction."""
    ink = house.add_recipe(studio, "plum", [Part("rose", 0.3), Part("blue", 0.2)])
    rose, blue, _ = (each.optics for each in pigments())

    def from_pigments(k: np.ndarray, s: np.ndarray) -> np.ndarray:
        return overprinted(*mixed(k, s, [0.3, 0.2]), 0.8)

    def from_mixture(k: np.ndarray, s: np.ndarray) -> np.ndarray:
        return overprinted(k[..., 0, :], s[..., 0, :], 0.8)

    wanted = uncertainty_delta_e00(to_arrays(["rose", "blue"], [rose, blue]), from_pigments)
    found = uncertainty_delta_e00(to_arrays(["plum"], [ink.optics]), from_mixture)
    assert wanted > 1.0
    assert found == pytest.approx(wanted, rel=0.05)


def test_many_directions_become_few_with_the_same_covariance() -> None:
    rows = np.random.default_rng(4).normal(0.0, 0.1, (2, 100, 36))
    long = Optics((1.0,) * 36, (0.1,) * 36, *(tuple(map(tuple, each.tolist())) for each in rows))
    few = condensed(long)
    assert len(few.log_k_spread) == 72
    for one, two in (("log_k_spread", "log_k_spread"), ("log_k_spread", "log_s_spread")):
        wanted = np.array(getattr(long, one)).T @ np.array(getattr(long, two))
        found = np.array(getattr(few, one)).T @ np.array(getattr(few, two))
        np.testing.assert_allclose(found, wanted, atol=1e-12)
    assert condensed(few) == few


def test_a_band_in_which_nothing_absorbs_stays_certain() -> None:
    clear = Optics((0.0,) * 36, (0.0,) * 36, ((0.5,) * 36,), ((0.5,) * 36,))
    assert mixed_optics([clear], [0.5]).log_k_spread == ((0.0,) * 36,)


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        ([], "at least one pigment"),
        ([Part("mauve", 0.5)], "No pigment on the shelf is called mauve"),
        ([Part("rose", 0.0)], "above 0"),
        ([Part("rose", 0.6), Part("blue", 0.6)], "together at most 1"),
        ([Part("rose", 0.3), Part("rose", 0.3)], "a pigment stands twice"),
    ],
)
def test_recipes_that_cannot_be_are_refused(studio: Ledger, parts: list[Part], told: str) -> None:
    with pytest.raises(InkError, match=told):
        house.add_recipe(studio, "plum", parts)
    assert house.list_inks(studio) == ()


# ---- Finding ----------------------------------------------------------------------------------------------


def test_inks_are_found_by_words_numbers_and_names(studio: Ledger) -> None:
    for name, pigment in (("Sea", "blue"), ("sea", "rose"), ("plum", "blue")):
        house.add_recipe(studio, name, [Part(pigment, 0.5)], notes=f"for the {name} block")
    assert [each.name for each in house.list_inks(studio, "SEA rose")] == ["sea"]
    assert [each.number for each in house.list_inks(studio, "for block")] == [1, 2, 3]
    assert house.find_ink(studio, "2").name == "sea"
    assert house.find_ink(studio, "Plum").number == 3
    found = house.find(studio, "ROSE")
    assert isinstance(found, ShelfPigment)
    with pytest.raises(InkError, match="Several mixed inks are called sea: give the number, 1 and 2"):
        house.find(studio, "sea")
    house.edit_ink(studio, 1, retired=True)
    assert house.find_ink(studio, "sea").number == 2, "what is retired gives way"
    assert [each.number for each in house.list_inks(studio)] == [2, 3]
    with pytest.raises(InkError, match="rose is a pigment"):
        house.find_ink(studio, "rose")
    with pytest.raises(InkError, match=r"is called ros; perhaps rose\."):
        house.find(studio, "ros")


def test_the_nearest_ink_is_the_one_that_makes_the_colour(studio: Ledger) -> None:
    """Each ink, printed by the films' own function, is found again at its own number of passes."""
    for name, share in (("thin", 0.1), ("plum", 0.37), ("deep", 0.9)):
        house.add_recipe(studio, name, [Part("blue", share / 2), Part("rose", share / 2)])
    inks = house.list_inks(studio)
    ground = colour_reflectance(PAPER)
    for ink in inks:
        for passes in (1, 2, 3, 4):
            seen = overprinted(ink.optics.k, ink.optics.s, ground, passes=passes, transfer=ink.transfer)
            lightness, a, b = reflectance_to_lab(seen).tolist()
            near = nearest_inks(inks, (lightness, a, b), ground)
            assert [each.delta_e00 for each in near] == sorted(each.delta_e00 for each in near)
            assert (near[0].ink, near[0].passes) == (ink, passes)
            assert near[0].delta_e00 == pytest.approx(0.0, abs=1e-6)
    only = house.nearest_on(
        inks, house.passes_on(inks[0].optics, PAPER, transfer=inks[0].transfer)[3], paper=PAPER
    )
    assert (only[0].ink.name, only[0].passes) == ("thin", 4)
    assert only[0].delta_e00 < 0.5, "hexadecimal digits round"
    assert nearest_inks([], (50.0, 0.0, 0.0), ground) == ()


def test_later_passes_lay_down_what_the_transfer_says() -> None:
    rose = pigments()[0]
    one, two, *_ = house.passes_on(rose.optics, PAPER, transfer=rose.transfer)
    assert (
        two
        == house.passes_on(
            replace(
                rose.optics, k=tuple(1.5 * k for k in rose.optics.k), s=tuple(1.5 * s for s in rose.optics.s)
            ),
            PAPER,
        )[0]
    )
    assert one != two


@pytest.mark.parametrize("colour", ["sea", "#12345", "50,1", "50,1,2,3", "101,0,0", "nan,0,0", "50,0,1e9"])
def test_colours_that_are_none_are_told(colour: str) -> None:
    with pytest.raises(SettingsError, match="a colour is written #rrggbb"):
        house.nearest_on([], colour, paper=PAPER)


# ---- Records ----------------------------------------------------------------------------------------------


def test_weighings_and_uses_are_noted(studio: Ledger) -> None:
    number = house.add_recipe(studio, "plum", [Part("rose", 0.5)], pot_g=60.0).number
    assert house.weigh(studio, number, 45.5).pot_g == 45.5
    assert [each.weight_g for each in house.weighings(studio, number)] == [60.0, 45.5]
    used = house.note_use(studio, number, folder="mill", title="Tide mill", impression="sea", at=NOON)
    assert used.used_in == ("Tide mill: sea",)
    assert house.uses(studio, number)[0].at == NOON


def test_a_pigment_and_its_swatches_are_kept(studio: Ledger) -> None:
    kept = house.add_pigment(studio, replace(pigments()[0], name="my rose"), notes="tube 2", on_shelf=False)
    assert house.show_pigment(studio, "my rose") == kept
    swatch = house.add_swatch(studio, Swatch("my rose", 1, "white", "scanned", lab=(60.0, 40.0, 5.0)))
    assert house.swatches_of(studio, "my rose") == (swatch,)
    edited = house.edit_pigment(studio, "my rose", hazard="gloves", density_g_per_ml=1.2, notes="")
    assert (edited.pigment.hazard, edited.pigment.density_g_per_ml, edited.notes) == ("gloves", 1.2, "")


# ---- Tables on the disk -----------------------------------------------------------------------------------


def everything(studio: Ledger) -> tuple[tuple[ShelfPigment, ...], tuple[MixedInk, ...]]:
    return house.list_pigments(studio, retired=True), house.list_inks(studio, retired=True)


def test_tables_go_out_and_come_in(studio: Ledger, tmp_path: Path) -> None:
    house.add_recipe(studio, "plum", [Part("rose", 1.0 / 3.0)], pot_g=12.5, made_on="2026-11-27")
    files = house.export_tables(studio, tmp_path / "tables")
    assert [file.name for file in files] == [
        "pigments.csv",
        "inks.csv",
        "swatches.csv",
        "weighings.csv",
        "uses.csv",
        "bits.csv",
        "machines.csv",
    ]
    assert files[0].read_bytes().startswith(b"\xef\xbb\xbfpigment,"), "the mark by which UTF-8 is known"
    other = house.open_studio(tmp_path / "other.db", pigments=tuple)
    house.import_tables(other, tmp_path / "tables")
    assert everything(other) == everything(studio)


def test_no_table_is_overwritten(studio: Ledger, tmp_path: Path) -> None:
    (tmp_path / "uses.csv").write_text("mine")
    with pytest.raises(StudioError, match=r"uses\.csv is there already"):
        house.export_tables(studio, tmp_path)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["studio.db", "uses.csv"]


@pytest.mark.parametrize("name", ["not there.csv", "empty"])
def test_tables_that_are_not_there_are_told(studio: Ledger, tmp_path: Path, name: str) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(StudioError, match=r"cannot be read|has none of the tables"):
        house.import_tables(studio, tmp_path / name)


def test_a_file_that_is_no_table_for_its_size_is_told(
    studio: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(house, "LARGEST_SHEET_BYTES", 10)
    (tmp_path / "list.csv").write_text("pigment,notes\n")
    with pytest.raises(StudioError, match="too large"):
        house.import_tables(studio, tmp_path / "list.csv")
