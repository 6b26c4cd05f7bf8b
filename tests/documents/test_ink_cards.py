"""Ink cards and tables of recipes, read back by other programs."""

import csv
import json
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from sample_print import impression, multi, print_ink
from shapely.geometry import box
from test_packet import assert_well_set

from blockwright.documents import InkCards, write_ink_cards
from blockwright.documents.recipe_tables import HEAD, write_recipe_csv, write_recipe_json
from blockwright.model.errors import FolderError
from blockwright.model.inks import PrintInks

A4 = (210.0, 297.0)


def cards(count: int = 7, name: str = "ochre") -> InkCards:
    area = multi(box(0, 0, 40, 20))
    impressions = tuple(impression(n, f"{name} {n}", "#b4935a", area, n % 4 + 1) for n in range(1, count + 1))
    return InkCards("Mill", impressions, tuple(print_ink(each) for each in impressions), 60)


def text_of(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    text = " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)
    document.close()
    return text


def test_every_ink_has_a_card(tmp_path: Path) -> None:
    path = tmp_path / "cards.pdf"
    pages = write_ink_cards(path, cards(), size_mm=A4)
    assert pages >= 2
    text = text_of(path)
    for number in range(1, 8):
        assert f"ochre {number}" in text
    assert "3 times, wanted #b4935a" in text
    assert f"page 1 of {pages}" in text
    # 1, 4 and 7 are taken from the shelf.
    assert text.count("known by its own swatch, measured") == 3
    assert_well_set(path)


def test_a_scanned_swatch_says_what_it_cannot_tell(tmp_path: Path) -> None:
    made = cards(1)
    scanned = replace(made, inks=tuple(replace(ink, origin="scanned") for ink in made.inks))
    write_ink_cards(tmp_path / "cards.pdf", scanned, size_mm=A4)
    text = text_of(tmp_path / "cards.pdf")
    assert "known by its own swatch, a scan of which cannot tell how it looks in other light" in text


@pytest.mark.parametrize(
    "name", ["a name that is so long that it has to be broken over several lines", "W" * 60]
)
def test_long_names_keep_their_places(tmp_path: Path, name: str) -> None:
    path = tmp_path / "cards.pdf"
    write_ink_cards(path, cards(3, name), size_mm=A4)
    assert_well_set(path)


def test_what_the_scale_spoils_stands_on_the_card(tmp_path: Path) -> None:
    told = cards(1)
    (ink,) = told.inks
    assert ink.batch is not None
    spoilt = replace(ink.batch, rounding_delta_e00=0.83, too_small=("Hansa yellow",))
    write_ink_cards(tmp_path / "cards.pdf", replace(told, inks=(replace(ink, batch=spoilt),)), size_mm=A4)
    text = " ".join(text_of(tmp_path / "cards.pdf").split())
    assert "Rounding to the scale moves the colour by 0.8" in text
    assert "So little Hansa yellow is hard to weigh. Mix more at once, or take a finer scale." in text
    write_ink_cards(tmp_path / "cards.pdf", told, size_mm=A4)
    assert "finer scale" not in text_of(tmp_path / "cards.pdf")


def test_no_inks_are_a_page_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "cards.pdf"
    assert write_ink_cards(path, cards(0), size_mm=A4) == 1
    assert "0 impressions" in text_of(path)


def test_recipes_come_back_from_the_table(tmp_path: Path) -> None:
    write_recipe_csv(tmp_path / "recipes.csv", PrintInks(tuple(cards(3).inks)))
    with (tmp_path / "recipes.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == HEAD
    mixed = [row for row in rows if row["impression"] == "3"]
    assert [(row["component"], float(row["mass_g"])) for row in mixed] == [
        ("burnt umber", 3.2),
        ("Hansa yellow", 1.1),
        ("rice paste", 21.4),
        ("glycerin", 0.8),
    ]
    assert [row["shelf_number"] for row in rows if row["impression"] == "1"] == ["12"]
    known = {row["impression"]: (row["known_from"], row["known_by"]) for row in rows}
    assert known == {"1": ("measured", "own swatch"), "2": ("matched", ""), "3": ("literature", "recipe")}


def test_recipes_are_told_to_programs(tmp_path: Path) -> None:
    write_recipe_json(tmp_path / "recipes.json", [{"name": "潮", "parts": 1}])
    assert json.loads((tmp_path / "recipes.json").read_text("utf-8")) == {
        "inks": [{"name": "潮", "parts": 1}]
    }


def test_a_place_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"recipes\.csv cannot be written"):
        write_recipe_csv(tmp_path / "nowhere" / "recipes.csv", PrintInks(()))
    with pytest.raises(FolderError, match=r"cards\.pdf cannot be written"):
        write_ink_cards(tmp_path / "nowhere" / "cards.pdf", cards(1), size_mm=A4)
