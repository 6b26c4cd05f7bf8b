"""Tables for a spreadsheet: out and in again exactly, and refused with a place when they cannot be."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_shelf import (
    MONDAY,
    ONE_HOUR,
    a_machine,
    a_swatch,
    a_tapered_bit,
    invented_optics,
    invented_pigments,
    made_before,
    opened,
    sea_ink,
)

from blockwright import ledger
from blockwright.colour.mixed_optics import mixed_film
from blockwright.ledger import Ledger, TakenIn
from blockwright.ledger.router_bits import add_bit, add_machine, all_bits, all_machines, change_bit
from blockwright.ledger.router_first import first_bits
from blockwright.ledger.sheets import INKS, PIGMENTS, TABLES, WEIGHINGS, read_sheet, write_sheet
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Part
from blockwright.model.shelf import Use, Weighing

BANDS = [f"{letter}_{nm}" for letter in "ks" for nm in range(380, 731, 10)]


@pytest.fixture
def studio(tmp_path: Path) -> Ledger:
    return made_before(tmp_path / "studio.db")


def swatched() -> MixedInk:
    """A pot with a recipe that is known by its own swatch."""
    return sea_ink(name="dusk", origin="measured", transfer=(0.75, 0.5), known_by="own swatch")


def full(studio: Ledger) -> None:
    """Some of everything."""
    with studio.writing() as connection:
        ledger.add_ink(connection, sea_ink(pot_g=1.0 / 3.0, notes='say "sea";\nand no more'), at=MONDAY)
        lost = sea_ink(name="recipe lost", parts=(), paste_share=0.0, made_on=None, retired=True)
        ledger.add_ink(connection, lost, at=MONDAY)
        ledger.add_ink(connection, swatched(), at=MONDAY)
        ledger.add_weighing(connection, Weighing(1, 0.1 + 0.2, MONDAY + ONE_HOUR))
        ledger.add_use(connection, Use(1, "prints/mill", "Tide; mill", "sea, | sky", MONDAY))
        for of in (1, "rose, deep"):
            ledger.add_swatch(connection, a_swatch(of))
        only_lab = replace(a_swatch("ochre"), reflectance=None, ground_reflectance=None, file_name=None)
        ledger.add_swatch(connection, only_lab)
        add_bit(connection, a_tapered_bit())
        add_bit(connection, replace(a_tapered_bit(), bit=replace(a_tapered_bit().bit, name="worn, ball")))
        change_bit(connection, replace(first_bits()[0], notes="left drawer", retired=True))
        add_machine(connection, a_machine())


def everything(studio: Ledger) -> tuple[Any, ...]:
    asked: tuple[Callable[..., Any], ...] = (
        ledger.all_pigments,
        ledger.all_inks,
        ledger.all_swatches,
        ledger.all_weighings,
        ledger.all_uses,
        all_bits,
        all_machines,
    )
    with studio.reading() as connection:
        return tuple(ask(connection) for ask in asked)


def written(studio: Ledger) -> dict[str, str]:
    with studio.reading() as connection:
        return ledger.written_sheets(connection)


def taken(studio: Ledger, *files: str | bytes, name: str = "list.csv") -> tuple[TakenIn, ...]:
    contents = [each if isinstance(each, bytes) else each.encode() for each in files]
    sheets = [read_sheet(name, each) for each in contents]
    with studio.writing() as connection:
        return ledger.take_in(connection, sheets, mix=mixed_film, at=MONDAY)


def refused(studio: Ledger, file: str | bytes) -> str:
    """The sentence for a file that is not taken in; nothing of it is."""
    before = everything(studio)
    with pytest.raises(InkError) as caught:
        taken(studio, file)
    assert everything(studio) == before
    sentence = str(caught.value)
    assert sentence.startswith("list.csv")
    assert "\n" not in sentence
    return sentence


def respelt(text: str, **options: Any) -> str:
    """A table as another spreadsheet would write it."""
    out = io.StringIO()
    csv.writer(out, **options).writerows(csv.reader(io.StringIO(text, newline="")))
    return out.getvalue()


# ---- Round trip -------------------------------------------------------------------------------------------


def test_everything_comes_back_exactly(studio: Ledger, tmp_path: Path) -> None:
    full(studio)
    other = opened(tmp_path / "other.db", [])
    told = taken(other, *written(studio).values())
    assert everything(other) == everything(studio)
    assert told == (
        TakenIn("pigments", 4, 0, 0),
        TakenIn("inks", 3, 0, 0),
        TakenIn("swatches", 3, 0, 0),
        TakenIn("weighings", 2, 0, 0),
        TakenIn("uses", 1, 0, 0),
        TakenIn("bits", 2, 1, 3),
        TakenIn("machines", 1, 0, 1),
    )
    assert written(other) == written(studio)


def test_taking_in_what_is_there_changes_nothing(studio: Ledger) -> None:
    full(studio)
    before = everything(studio)
    told = taken(studio, *written(studio).values())
    assert [(each.added, each.changed) for each in told] == [(0, 0)] * 7
    assert everything(studio) == before


def test_tables_in_any_order_are_taken_in_in_theirs(studio: Ledger, tmp_path: Path) -> None:
    full(studio)
    other = opened(tmp_path / "other.db", [])
    taken(other, *reversed(written(studio).values()))
    assert everything(other) == everything(studio)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_what_spreadsheets_write_is_read(studio: Ledger, tmp_path: Path, delimiter: str, mark: bytes) -> None:
    full(studio)
    other = opened(tmp_path / "other.db", [])
    files = [
        mark + respelt(text, delimiter=delimiter, lineterminator="\n").encode()
        for text in written(studio).values()
    ]
    taken(other, *files)
    assert everything(other) == everything(studio)


def test_a_decimal_comma_is_read_where_no_comma_parts_the_cells(studio: Ledger) -> None:
    head = ";".join(["Pigment", "Density_g_per_ml", "transfer", *BANDS])
    taken(studio, f"{head}\r\nnew;1,25;0,9 0,7;" + ";".join(["0,125"] * 72) + "\r\n")
    with studio.reading() as connection:
        new = ledger.pigment_named(connection, "new").pigment
    assert (new.density_g_per_ml, new.transfer) == (1.25, (0.9, 0.7))
    assert set(new.optics.k + new.optics.s) == {0.125}
    taken(
        studio,
        'ink;parts\nmoss;"0,25 new; 0,5 ochre"\n',
    )
    assert everything(studio)[1][0].parts == (Part("new", 0.25), Part("ochre", 0.5))


@given(
    st.lists(
        st.tuples(
            st.integers(1, 2**31 - 1),
            st.floats(0.0, 1e5),
            st.datetimes(min_value=MONDAY.replace(year=1970, tzinfo=None)).map(
                lambda at: at.replace(tzinfo=MONDAY.tzinfo)
            ),
        )
    )
)
def test_numbers_and_times_are_written_exactly(records: list[tuple[int, float, Any]]) -> None:
    rows = [dict(zip(WEIGHINGS.columns, record, strict=True)) for record in records]
    sheet = read_sheet("w.csv", write_sheet(WEIGHINGS, rows).encode())
    assert [dict(row.values) for row in sheet.rows] == rows


# ---- What a line does -------------------------------------------------------------------------------------


def test_columns_that_are_left_out_leave_what_is_there(studio: Ledger) -> None:
    told = taken(studio, "pigment,lightfastness,on_shelf\nochre,ASTM I,yes\n")
    assert told == (TakenIn("pigments", 0, 1, 0),)
    ochre = invented_pigments()[2]
    expected = replace(ochre, pigment=replace(ochre.pigment, lightfastness="ASTM I"), on_shelf=True)
    with studio.reading() as connection:
        assert ledger.pigment_named(connection, "ochre") == expected


def test_an_empty_cell_empties_what_can_be_empty(studio: Ledger) -> None:
    taken(studio, 'pigment,hazard,colour_index,notes\n"rose, deep",,,\n')
    with studio.reading() as connection:
        rose = ledger.pigment_named(connection, "rose, deep")
    assert (rose.pigment.hazard, rose.pigment.colour_index, rose.notes) == (None, None, "")


def test_the_transfer_of_the_ink_itself_stands_before_that_of_its_pigments(studio: Ledger) -> None:
    taken(studio, "ink,parts,transfer\nmoss,0.25 ochre,0.5 0.25\nstone,0.25 ochre,\n")
    moss, stone = everything(studio)[1]
    ochre = next(each.pigment for each in everything(studio)[0] if each.pigment.name == "ochre")
    assert (moss.transfer, stone.transfer) == ((0.5, 0.25), mixed_film([ochre], [0.25])[1])


def test_a_list_of_recipes_is_enough_for_mixed_inks(studio: Ledger) -> None:
    told = taken(studio, 'ink,parts,pot_g\nmoss,"0.25 ochre; 0.15 Überblau",41.5\nstone,1 ochre,\n')
    assert told == (TakenIn("inks", 2, 0, 0),)
    moss, stone = everything(studio)[1]
    known = {each.pigment.name: each.pigment for each in everything(studio)[0]}
    film = mixed_film([known["ochre"], known["Überblau"]], [0.25, 0.15])
    assert (moss.optics, moss.transfer) == film
    assert (moss.paste_share, moss.pot_g, moss.origin) == (pytest.approx(0.6), 41.5, "literature")
    assert (stone.paste_share, stone.pot_g, stone.origin) == (0.0, None, "scanned")


def test_the_same_list_again_adds_nothing_and_weighs_what_changed(studio: Ledger) -> None:
    taken(studio, "ink,parts,pot_g\nmoss,0.25 ochre,41.5\n")
    assert taken(studio, "ink,parts,pot_g\nmoss,0.25 ochre,40\n") == (TakenIn("inks", 0, 0, 1),)
    _, inks, _, weighings, *_ = everything(studio)
    assert inks[0].pot_g == 40.0
    assert sorted(each.weight_g for each in weighings) == [40.0, 41.5]


def test_a_recipe_that_changes_is_computed_anew(studio: Ledger) -> None:
    taken(studio, "ink,parts\nmoss,0.25 ochre\n")
    taken(studio, "ink,number,parts\nmoss green,1,0.5 ochre\n")
    moss = everything(studio)[1][0]
    assert (moss.name, moss.parts, moss.paste_share) == ("moss green", (Part("ochre", 0.5),), 0.5)
    assert moss.optics.k[0] == pytest.approx(0.5 * invented_optics(3).k[0])


# ---- What makes an ink known ------------------------------------------------------------------------------


def one(studio: Ledger) -> MixedInk:
    """The only mixed ink."""
    (ink,) = everything(studio)[1]
    assert isinstance(ink, MixedInk)
    return ink


@pytest.fixture
def dusk(studio: Ledger) -> MixedInk:
    with studio.writing() as connection:
        return ledger.add_ink(connection, swatched(), at=MONDAY)


def without(text: str, *columns: str) -> str:
    """A table as an older program wrote it."""
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    out = io.StringIO()
    left = [name for name in rows[0] if name not in columns]
    table = csv.DictWriter(out, left, extrasaction="ignore")
    table.writeheader()
    table.writerows(rows)
    return out.getvalue()


def test_tables_without_the_column_are_still_taken_in(studio: Ledger, tmp_path: Path) -> None:
    """An ink without a recipe that was scanned is known by its swatch; of others nobody says so."""
    lost = replace(swatched(), name="lost", parts=(), paste_share=0.0, origin="scanned")
    by_hand = replace(lost, name="by hand", origin="literature", known_by="recipe")
    with studio.writing() as connection:
        for ink in (swatched(), lost, by_hand):
            ledger.add_ink(connection, ink, at=MONDAY)
    old = without(written(studio)["inks.csv"], "known_by")
    other = opened(tmp_path / "other.db")
    taken(other, old)
    assert [each.known_by for each in everything(other)[1]] == ["recipe", "own swatch", "recipe"]
    assert taken(studio, old) == (TakenIn("inks", 0, 0, 3),), "where it is known it stays"


def test_another_recipe_leaves_what_its_own_swatch_told(studio: Ledger, dusk: MixedInk) -> None:
    taken(studio, "ink,parts\ndusk,0.5 ochre\n")
    assert one(studio) == replace(dusk, parts=(Part("ochre", 0.5),), paste_share=0.5)


def test_a_line_can_have_it_reckoned_from_the_recipe(studio: Ledger, dusk: MixedInk) -> None:
    taken(studio, "ink,parts,known_by\ndusk,0.5 ochre,recipe\n")
    ochre = next(each.pigment for each in everything(studio)[0] if each.pigment.name == "ochre")
    found = one(studio)
    assert (found.optics, found.transfer) == mixed_film([ochre], [0.5])
    assert (found.known_by, found.origin) == ("recipe", "scanned")


def test_the_figures_of_a_swatch_come_by_table(studio: Ledger) -> None:
    taken(studio, "ink,parts\ndusk,0.5 ochre\n")
    head = ",".join(["ink", "known_by", "origin", *BANDS])
    taken(studio, f"{head}\ndusk,own swatch,measured," + ",".join(["0.25"] * 72) + "\n")
    found = one(studio)
    assert (found.known_by, found.origin, found.parts) == ("own swatch", "measured", (Part("ochre", 0.5),))
    assert set(found.optics.k + found.optics.s) == {0.25}


def test_what_cannot_make_an_ink_known_is_refused(studio: Ledger, dusk: MixedInk) -> None:
    head = "list.csv, line 2, column"
    assert refused(studio, "ink,known_by\ndusk,hearsay\n") == (
        f"{head} known_by: hearsay cannot be; it is recipe or own swatch."
    )
    assert refused(studio, "ink,parts,known_by\nmoss,0.5 ochre,own swatch\n") == (
        f"{head} known_by: moss is not known by its own swatch yet, so that its K and S are needed."
    )
    assert refused(studio, "ink,parts,known_by\ndusk,,recipe\n") == (
        f"{head} known_by: dusk has no recipe from which it could be reckoned."
    )
    assert refused(studio, "ink,origin\ndusk,literature\n") == (
        f"{head} ink: dusk is known by its own swatch, so that its origin is scanned or measured, not "
        "literature."
    )


def test_two_new_inks_may_bear_one_name(studio: Ledger) -> None:
    taken(studio, "ink,parts,pot_g\nmoss,0.25 ochre,1\nmoss,0.5 ochre,2\n")
    assert [(each.number, each.pot_g) for each in everything(studio)[1]] == [(1, 1.0), (2, 2.0)]
    told = refused(studio, "ink,notes\nmoss,which\n")
    assert told == "list.csv, line 2, column number: moss is the name of 1 and 2; give the number."


# ---- Refusals ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "told"),
    [
        (b"\xff\xfe\x00p", "list.csv is no text in UTF-8; save it as CSV in UTF-8."),
        ("", "line 1: exactly one of these columns says what the table is of: pigment, ink, swatch_of,"),
        ("name,parts\n", "line 1: exactly one of these columns"),
        ("pigment,ink\n", "line 1: exactly one of these columns"),
        (
            "pigment,price\nochre,3\n",
            "line 1, column price: pigments.csv has no such column; it has",
        ),
        ("pigment,notes,notes\n", "line 1, column notes: it stands there twice"),
        ('pigment,notes\nochre,"open\n', "line 2: the cells cannot be told apart"),
        ("pigment,notes\nochre,a,b\n", "line 2: cell 3 (b) has no column."),
        ("pigment,notes\n\nochre,a\n,b\n", "line 4, column pigment: it is empty; every line needs it."),
        (
            'pigment,notes,on_shelf\nochre,"two\nlines",yes\nochre,,perhaps\n',
            "line 4, column on_shelf: perhaps cannot be; it is yes or no.",
        ),
        (
            "pigment,density_g_per_ml\nochre,-1\n",
            "density_g_per_ml: -1 cannot be; it is a number above 0.",
        ),
        ("pigment,density_g_per_ml\nochre,heavy\n", "heavy cannot be"),
        ("pigment,transfer\nochre,0.9 0\n", "column transfer: 0.9 0 cannot be"),
        ("pigment,lightfastness\nochre,good\n", "it is ASTM I to ASTM V or Blue Wool 1 to Blue Wool 8."),
        ("pigment,origin\nochre,heard\n", "it is one of literature, scanned, measured, matched."),
        ("pigment,log_spread\nochre,1 2\n", "column log_spread: 1 2 cannot be; it is rows of 72 numbers"),
        ("pigment,k_380\nochre,1\n", "column k_390: it is empty; give all of k_380 to k_730, or none."),
        ("pigment,notes\nmauve,x\n", "line 2, column k_380: mauve is not on the shelf yet"),
        ("pigment,notes\n3,x\n", "line 2, column k_380"),
        ("ink,notes\nmoss,x\n", "line 2, column parts: moss needs a recipe"),
        ("ink,parts\nmoss,0.5 mauve\n", "line 2, column parts: no pigment on the shelf is called mauve"),
        (
            "ink,parts\nmoss,ochre\n",
            "column parts: ochre cannot be; it is shares with their pigments",
        ),
        ("ink,parts\nmoss,1.5 ochre\n", "line 2, column parts"),
        ("ink,parts\nmoss,1e400 ochre\n", "line 2, column parts"),
        ('ink,parts\nmoss,"0.7 ochre; 0.7 Überblau"\n', "line 2, column parts: The shares of a recipe"),
        (
            "ink,parts,pot_g\nmoss,0.5 ochre,1e300\n",
            "line 2, column pot_g: 1e300 cannot be; it is grams, 0 to 100000",
        ),
        (
            "ink,parts,paste_share\nmoss,0.5 ochre,0.1\n",
            "column ink: The parts and the paste of moss",
        ),
        ("ink,parts,made_on\nmoss,1 ochre,1.2.2026\n", "column made_on: 1.2.2026 cannot be; it is a date"),
        ("ink,parts,number\nmoss,1 ochre,0\n", "column number: 0 cannot be; it is a whole number from 1."),
        ("ink,parts,pot_g\nfine,1 ochre,3\nmoss,1 ochre,-3\n", "line 3, column pot_g: -3 cannot be"),
        ("swatch_of,passes,ground\nochre,1,white\n", "column origin: it is empty or left out"),
        ("swatch_of,passes,ground,origin\nochre,1,white,scanned\n", "column swatch_of: Give the swatch of"),
        ("weighed_ink,weight_g,at\n7,3,2026-11-27T10:00:00Z\n", "No mixed ink has the number 7"),
        ("weighed_ink,weight_g,at\n1,3,2026-11-27 10:00\n", "it is a time with its zone"),
        ("weighed_ink,weight_g,at\n1,nan,2026-11-27T10:00:00Z\n", "column weight_g: nan cannot be"),
        ("used_ink,title,impression,at\nsea,a,b,c\n", "column used_ink: sea cannot be"),
    ],
)
def test_a_file_that_cannot_be_is_told_and_nothing_is_taken(
    studio: Ledger, file: str | bytes, told: str
) -> None:
    assert told in refused(studio, file)


def test_one_bad_line_keeps_every_good_one_out(studio: Ledger) -> None:
    good = "".join(f"ink {number},0.5 ochre\n" for number in range(50))
    assert "line 52, column parts" in refused(studio, f"ink,parts\n{good}last,0.5 mauve\n")


def test_a_reflectance_above_one_is_told_with_its_band(studio: Ledger) -> None:
    head = ",".join(["swatch_of", "passes", "ground", "origin", *(f"r_{nm}" for nm in range(380, 731, 10))])
    values = ",".join(["0.5"] * 35 + ["50"])
    told = refused(studio, f"{head}\nochre,1,white,measured,{values}\n")
    assert "line 2, column r_730: 50 cannot be; it is a reflectance, 0 to 1." in told


def test_a_very_long_cell_is_told(studio: Ledger) -> None:
    assert "line 2: the cells cannot be told apart" in refused(
        studio, "pigment,notes\nochre," + "a" * 200_000
    )


def test_as_many_directions_as_are_kept_can_be_read_again(tmp_path: Path) -> None:
    """72 directions are the most that optics need; the cell must stay below what the reader takes."""
    long = invented_optics(7, 72)
    kept = replace(invented_pigments()[0], pigment=replace(invented_pigments()[0].pigment, optics=long))
    studio = opened(tmp_path / "studio.db", [kept])
    other = opened(tmp_path / "other.db", [])
    taken(other, written(studio)["pigments.csv"])
    assert everything(other) == everything(studio)


def test_no_two_tables_have_the_same_mark() -> None:
    assert len({table.mark for table in TABLES}) == len(TABLES)
    for table in TABLES:
        assert sum(other.mark in table.columns for other in TABLES) == 1
    assert set(BANDS) <= set(PIGMENTS.columns) & set(INKS.columns)
