"""The shelf in the app: the wall, the cards, what is changed there, and a database that refuses."""

import re
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp
from markupsafe import escape

from blockwright import paints, studio
from blockwright.model.home import DATABASE_NAME
from blockwright.model.inks import MixedInk, Part
from blockwright.web import words
from blockwright.web.watching import Watched, asked_of

AS_PART = {"HX-Request": "true"}


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "studio"
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(place))
    return place


@pytest.fixture
def app(tmp_path: Path, home: Path) -> Iterator[AskedApp]:
    asked = AskedApp(tmp_path / "home")
    yield asked
    asked.close()


@pytest.fixture
def grey(home: Path) -> MixedInk:
    """A mixed ink on the shelf, never weighed."""
    parts = [Part("bone black", 0.1), Part("cerulean blue", 0.2)]
    return studio.add_recipe(studio.open_studio(), "sea grey", parts, made_on="2026-11-01", place="left")


def _post(app: AskedApp, address: str, **fields: Any) -> Any:
    return app.browser.post(address, data=fields, headers=AS_PART)


def _names(text: str, kind: str) -> list[str]:
    """What the wall shows of a kind, in its order."""
    wall = text.partition(f'id="{kind}"')[2].partition("</ul>")[0]
    return re.findall(r'<span class="name">([^<]*)</span>', wall)


def test_the_wall_shows_pigments_and_mixed_inks(app: AskedApp, grey: MixedInk) -> None:
    text = app.browser.get("/shelf").text
    assert _names(text, "inks") == [f"{grey.number} · sea grey"]
    kept = studio.list_pigments(studio.open_studio())
    assert sorted(_names(text, "pigments")) == sorted(str(escape(each.pigment.name)) for each in kept)
    assert words.tile_not_weighed in text
    assert words.tile_not_at_hand in text
    for hex in studio.passes_on(grey.optics, "#f6efdf"):
        assert f'fill="{hex}"' in text
    part = app.browser.get("/shelf", headers=AS_PART)
    assert "<!doctype html>" not in part.text


def test_it_is_reached_from_the_drawer(app: AskedApp) -> None:
    assert 'href="/shelf"' in app.browser.get("/").text


def test_words_find_what_bears_them(app: AskedApp, grey: MixedInk) -> None:
    text = app.browser.get("/shelf", params={"find": "SEA left"}).text
    assert len(_names(text, "inks")) == 1
    assert words.find_none in text
    assert _names(app.browser.get("/shelf", params={"find": "viridian"}).text, "pigments") == ["viridian"]


def test_a_colour_brings_the_nearest_first_and_says_how_near(app: AskedApp, grey: MixedInk) -> None:
    wanted = studio.passes_on(grey.optics, "#f6efdf")[1]
    studio.add_recipe(studio.open_studio(), "a rose", [Part("quinacridone rose", 0.3)])
    text = app.browser.get("/shelf", params={"near": wanted}).text
    assert _names(text, "inks")[0] == f"{grey.number} · sea grey"
    assert re.search(rf"0(\.\d)? from it, {words.in_passes_2}", text)
    off = [
        float(each) for each in re.findall(r'class="face">([\d.]+) from it', text.partition("Pigments")[2])
    ]
    assert len(off) > 20
    assert off == sorted(off)


def test_a_colour_that_is_none_is_said_beside_its_field(app: AskedApp, grey: MixedInk) -> None:
    answer = app.browser.get("/shelf", params={"near": "reddish <b>"})
    assert answer.status_code == 200
    assert "a colour is written #rrggbb" in answer.text
    assert "<b>" not in answer.text
    assert _names(answer.text, "inks") == ["1 · sea grey"]


def test_a_pot_is_weighed(app: AskedApp, grey: MixedInk) -> None:
    assert _post(app, f"/shelf/ink/{grey.number}/weigh", value="84,5 g").status_code == 204
    assert _post(app, f"/shelf/ink/{grey.number}/weigh", value="80").status_code == 204
    assert studio.show_ink(studio.open_studio(), grey.number).pot_g == 80.0
    text = app.browser.get(f"/shelf/ink/{grey.number}").text
    assert 'id="pot-g" name="value" value="80"' in text
    assert "84.5\u00a0g on " in text


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        (None, "heavy", words.card_pot_number),
        (None, "-1", "it is 0 g to"),
        ("made_on", "yesterday", "no date"),
        ("name", "12", "cannot be the name"),
        ("optics", "0", words.not_a_field),
        ("number", "3", words.not_a_field),
        ("on_shelf", "yes", words.not_a_field),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(
    app: AskedApp, grey: MixedInk, field: str | None, value: str, says: str
) -> None:
    way = "weigh" if field is None else "edit"
    answer = _post(app, f"/shelf/ink/{grey.number}/{way}", field=field or "", value=value)
    assert answer.status_code == 422
    assert says in answer.text
    assert studio.show_ink(studio.open_studio(), grey.number) == grey


def test_the_card_of_an_ink_is_edited_retired_and_taken_back(app: AskedApp, grey: MixedInk) -> None:
    way = f"/shelf/ink/{grey.number}/edit"
    for field, value in (("name", "storm grey"), ("place", ""), ("notes", "dries fast"), ("made_on", "")):
        assert _post(app, way, field=field, value=value).status_code == 204
    now = studio.show_ink(studio.open_studio(), grey.number)
    assert (now.name, now.place, now.notes, now.made_on) == ("storm grey", "", "dries fast", None)
    card = app.browser.get(f"/shelf/ink/{grey.number}").text
    assert "10\u00a0% bone black, 20\u00a0% cerulean blue and 70\u00a0% rice paste" in card
    _post(app, way, field="retired", value="yes")
    assert words.card_unretire in app.browser.get(f"/shelf/ink/{grey.number}").text
    assert _names(app.browser.get("/shelf").text, "inks") == []
    assert len(_names(app.browser.get("/shelf", params={"retired": "yes"}).text, "inks")) == 1
    _post(app, way, field="retired", value="")
    assert len(_names(app.browser.get("/shelf").text, "inks")) == 1


def test_a_pigment_is_put_at_hand_and_described(app: AskedApp) -> None:
    for field, value in (
        ("on_shelf", "yes"),
        ("colour_index", "PR 90"),
        ("lightfastness", "Blue Wool 2"),
        ("hazard", "no food near"),
        ("density_g_per_ml", "1,3"),
        ("notes", "from the old tin"),
    ):
        assert _post(app, "/shelf/pigment", name="eosin", field=field, value=value).status_code == 204
    kept = studio.show_pigment(studio.open_studio(), "eosin")
    told = (kept.pigment.colour_index, kept.pigment.lightfastness, kept.pigment.hazard)
    assert told == ("PR 90", "Blue Wool 2", "no food near")
    assert (kept.on_shelf, kept.pigment.density_g_per_ml, kept.notes) == (True, 1.3, "from the old tin")
    card = app.browser.get("/shelf/pigment", params={"name": "eosin"}).text
    assert '<option value="Blue Wool 2" selected>' in card
    answer = _post(app, "/shelf/pigment", name="eosin", field="lightfastness", value="ASTM IX")
    assert answer.status_code == 422
    assert "ASTM I to ASTM V" in answer.text
    assert _post(app, "/shelf/pigment", name="eosin", field="lightfastness", value="").status_code == 204
    assert studio.show_pigment(studio.open_studio(), "eosin").pigment.lightfastness is None


@pytest.mark.parametrize(
    ("field", "value"),
    [("retired", "yes"), ("name", "storm grey"), ("place", ""), ("made_on", ""), ("notes", "dries fast")],
)
def test_a_change_of_an_ink_can_be_put_back_at_once(
    app: AskedApp, grey: MixedInk, field: str, value: str
) -> None:
    assert words.put_back not in app.browser.get("/shelf").text
    assert _post(app, f"/shelf/ink/{grey.number}/edit", field=field, value=value).status_code == 204
    assert studio.show_ink(studio.open_studio(), grey.number) != grey
    # On the card, and on the wall, which shows a retired ink no more.
    for way in ("/shelf", f"/shelf/ink/{grey.number}"):
        assert words.put_back in app.browser.get(way).text
    back = _post(app, "/shelf/put-back")
    assert back.status_code == 204
    assert "Put back: sea grey" in back.headers["HX-Trigger"]
    assert studio.show_ink(studio.open_studio(), grey.number) == grey
    assert words.put_back not in app.browser.get("/shelf").text
    assert _post(app, "/shelf/put-back").status_code == 422


@pytest.mark.parametrize(("field", "value"), [("retired", "yes"), ("on_shelf", "yes"), ("hazard", "none")])
def test_a_change_of_a_pigment_can_be_put_back_at_once(app: AskedApp, field: str, value: str) -> None:
    before = studio.show_pigment(studio.open_studio(), "eosin")
    assert _post(app, "/shelf/pigment", name="eosin", field=field, value=value).status_code == 204
    assert words.put_back in app.browser.get("/shelf/pigment", params={"name": "eosin"}).text
    assert _post(app, "/shelf/put-back").status_code == 204
    assert studio.show_pigment(studio.open_studio(), "eosin") == before


def test_a_wrong_weight_is_followed_by_the_one_before(app: AskedApp, grey: MixedInk) -> None:
    """The record of weighings only grows; a first weighing is mended by another."""
    _post(app, f"/shelf/ink/{grey.number}/weigh", value="84.5")
    assert words.put_back not in app.browser.get("/shelf").text
    _post(app, f"/shelf/ink/{grey.number}/weigh", value="845")
    assert words.put_back in app.browser.get(f"/shelf/ink/{grey.number}").text
    assert _post(app, "/shelf/put-back").status_code == 204
    shelf = studio.open_studio()
    assert [each.weight_g for each in studio.weighings(shelf, grey.number)] == [84.5, 845.0, 84.5]
    assert studio.show_ink(shelf, grey.number).pot_g == 84.5


def test_what_was_changed_by_another_hand_is_not_put_back(app: AskedApp, grey: MixedInk) -> None:
    _post(app, f"/shelf/ink/{grey.number}/edit", field="place", value="cellar")
    studio.edit_ink(studio.open_studio(), grey.number, place="attic")
    answer = _post(app, "/shelf/put-back")
    assert (answer.status_code, words.put_back_other in answer.text) == (422, True)
    assert studio.show_ink(studio.open_studio(), grey.number).place == "attic"


@pytest.mark.parametrize("way", ["ink/99", "ink/0", "pigment?name=mud", "pigment", "paints/5/sheet.pdf"])
def test_what_is_not_there_is_said(app: AskedApp, way: str) -> None:
    answer = app.browser.get(f"/shelf/{way}")
    assert answer.status_code == 404
    assert words.card_none in answer.text or words.own_gone in answer.text


@pytest.mark.parametrize("way", ["/shelf", "/shelf/ink/1", "/shelf/pigment?name=viridian"])
def test_a_damaged_database_is_a_sentence_on_the_page(app: AskedApp, home: Path, way: str) -> None:
    home.mkdir()
    damaged = b"no database at all, but long enough to be one" * 40
    (home / DATABASE_NAME).write_bytes(damaged)
    answer = app.browser.get(way)
    assert answer.status_code == 200
    assert words.shelf_wrong in answer.text
    assert 'class="find"' not in answer.text
    assert (home / DATABASE_NAME).read_bytes() == damaged
    assert _post(app, "/shelf/ink/1/weigh", value="3").status_code == 422
    assert app.browser.get("/shelf/paints").status_code == 200


def test_a_newer_database_is_a_sentence_on_the_page(app: AskedApp, home: Path, grey: MixedInk) -> None:
    with sqlite3.connect(home / DATABASE_NAME) as database:
        database.execute("UPDATE alembic_version SET version_num = '9999'")
    database.close()
    answer = app.browser.get("/shelf")
    assert "newer" in answer.text
    assert words.shelf_wrong_do in answer.text


def test_what_is_written_to_the_shelf_makes_open_prints_anew(home: Path, made_print: Path) -> None:
    shelf = studio.open_studio()
    watched = Watched(made_print, may_write=True)
    before = asked_of(made_print)
    assert not watched.look(at_work=False).shelf
    studio.list_inks(shelf)
    studio.read_shelf()
    assert not watched.look(at_work=False).shelf, "reading is no news"
    studio.edit_pigment(shelf, "eosin", on_shelf=True)
    assert watched.look(at_work=False).shelf
    assert not watched.look(at_work=False).shelf
    assert asked_of(made_print) != before


# --- one's own paints ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[str], bytes]:
    """Two paints, and a computed scan of the sheet on which they were printed."""
    import cv2
    from bench.sheets import drawn_page, filled, ink_colours, photographed

    from blockwright.inks import lay_out_sheet, plan_sheet

    names = ["my rose", "viridian"]
    (page,) = lay_out_sheet(plan_sheet(names, size_mm=(210.0, 297.0), passes=2))
    scene = filled(page, drawn_page(page, pixels_per_mm=4.0), ink_colours(page), pixels_per_mm=4.0)
    pixels = photographed(scene, turn_deg=0.3, tilt=0.0, light_fall=0.0)
    return names, cv2.imencode(".png", pixels[..., ::-1])[1].tobytes()


def test_a_sheet_is_drawn_its_scan_read_and_its_paints_kept(
    app: AskedApp, scan: tuple[list[str], bytes]
) -> None:
    names, picture = scan
    drawn = _post(app, "/shelf/paints/sheet", inks="\n".join(names), paper="A4", passes="2", black="yes")
    assert drawn.status_code == 200
    way = drawn.headers["HX-Redirect"]
    (sheet,) = paints.kept_sheets()
    assert sheet.inks == tuple(names)
    pdf = app.browser.get(f"/shelf/paints/{sheet.number}/sheet.pdf")
    assert pdf.content.startswith(b"%PDF")
    sent = app.browser.post(
        "/shelf/paints/scan",
        data={"sheet": str(sheet.number)},
        files={"scan": ("../my scan.png", picture, "image/png")},
        headers=AS_PART,
    )
    assert sent.headers["HX-Redirect"] == way
    text = app.browser.get(way).text
    assert f'<option value="pigment" selected>{words.own_as_pigment}<' in text
    assert f'<option value="pigment" selected>{words.own_as_known}<' in text
    shelf = studio.open_studio()
    for name in names:
        assert _post(app, "/shelf/paints/keep", sheet=str(sheet.number), name=name).status_code == 204
        kept = studio.show_pigment(shelf, name)
        assert (kept.pigment.origin, kept.on_shelf) == ("scanned", True)
        # Two passes on paper and on black.
        assert len(studio.swatches_of(shelf, name)) == 4
    assert studio.show_pigment(shelf, "viridian").pigment.colour_index == "PG18"
    text = app.browser.get(way).text
    assert words.fmt("own_kept", name="my rose") in text
    assert 'id="keep-1"' not in text
    _post(app, "/shelf/paints/keep", sheet=str(sheet.number), name="my rose")
    assert len(studio.swatches_of(shelf, "my rose")) == 4
    assert _post(app, "/shelf/paints/keep", sheet=str(sheet.number), name="mud").status_code == 422


def _scanned(app: AskedApp, scan: tuple[list[str], bytes]) -> tuple[paints.KeptSheet, str]:
    """A sheet whose scan was dropped, and the way to its page."""
    names, picture = scan
    drawn = _post(app, "/shelf/paints/sheet", inks="\n".join(names), paper="A4", passes="2", black="yes")
    (sheet,) = paints.kept_sheets()
    files = {"scan": ("scan.png", picture, "image/png")}
    app.browser.post("/shelf/paints/scan", data={"sheet": str(sheet.number)}, files=files, headers=AS_PART)
    return sheet, drawn.headers["HX-Redirect"]


def test_a_paint_is_kept_as_what_a_pot_holds_or_as_a_new_mixed_ink(
    app: AskedApp, grey: MixedInk, scan: tuple[list[str], bytes]
) -> None:
    sheet, way = _scanned(app, scan)
    text = app.browser.get(way).text
    assert f'<option value="{grey.number}">{words.fmt("own_as_pot", number=1, name="sea grey")}<' in text
    keep = {"sheet": str(sheet.number)}
    taken = _post(app, "/shelf/paints/keep", name="my rose", **{"as": str(grey.number)}, **keep)
    assert taken.status_code == 204
    assert _post(app, "/shelf/paints/keep", name="viridian", **{"as": "new ink"}, **keep).status_code == 204
    shelf = studio.open_studio()
    pot, new = studio.list_inks(shelf)
    assert (pot.name, pot.known_by, pot.origin, pot.parts) == (
        "sea grey",
        "own swatch",
        "scanned",
        grey.parts,
    )
    assert pot.optics != grey.optics
    assert (new.name, new.known_by, new.parts) == ("viridian", "own swatch", ())
    assert [len(studio.swatches_of(shelf, each.number)) for each in (pot, new)] == [4, 4]
    assert studio.show_pigment(shelf, "viridian").pigment.origin == "literature", "the pigment is as it was"
    text = app.browser.get(way).text
    assert f'<a href="/shelf/ink/{grey.number}">{words.fmt("own_kept", name="my rose")}</a>' in text
    assert f'<a href="/shelf/ink/{new.number}">' in text
    assert 'id="keep-1"' not in text
    assert words.tile_own_swatch in app.browser.get("/shelf").text
    text = app.browser.get(f"/shelf/ink/{pot.number}").text
    assert words.card_own_scanned in text
    assert 'id="reckon"' in text
    assert 'id="reckon"' not in app.browser.get(f"/shelf/ink/{new.number}").text
    anew = {"field": "known_by", "value": "recipe"}
    assert _post(app, f"/shelf/ink/{pot.number}/edit", **anew).status_code == 204
    assert studio.show_ink(shelf, pot.number) == grey
    assert _post(app, f"/shelf/ink/{new.number}/edit", **anew).status_code == 422


def test_what_a_paint_cannot_be_kept_as_is_refused(
    app: AskedApp, grey: MixedInk, scan: tuple[list[str], bytes]
) -> None:
    sheet, way = _scanned(app, scan)
    shelf = studio.open_studio()
    for _ in range(2):
        studio.add_recipe(shelf, "my rose", grey.parts)
    studio.edit_ink(shelf, grey.number, retired=True)
    text = app.browser.get(way).text
    assert "Several mixed inks are called my rose: say which is meant, #2 or #3." in text
    assert f'<option value="" selected>{words.own_as_open}<' in text
    assert "sea grey" not in text
    for way_to_keep, told in (
        ("", "say which is meant"),
        ("1", "is retired"),
        ("99", "number 99"),
        ("x", ""),
    ):
        fields = {"sheet": str(sheet.number), "name": "my rose", "as": way_to_keep}
        answer = _post(app, "/shelf/paints/keep", **fields)
        assert answer.status_code == 422
        assert told in answer.text
    assert {each.known_by for each in studio.list_inks(shelf, retired=True)} == {"recipe"}


def test_a_sheet_names_the_pots_that_are_printed_on_it(app: AskedApp, grey: MixedInk) -> None:
    fields = {"paper": "A4", "passes": "1", "black": ""}
    drawn = _post(app, "/shelf/paints/sheet", inks="#1\nmy rose", mixes="#1 30 + my rose", **fields)
    assert drawn.status_code == 200
    (sheet,) = paints.kept_sheets()
    assert sheet.inks == ("#1 sea grey", "my rose")
    assert sheet.pages[0].plan.rows[2].parts == (("#1 sea grey", 0.3), ("my rose", 0.7))
    assert "number 7" in _post(app, "/shelf/paints/sheet", inks="#7", **fields).text


def test_the_card_of_a_pot_says_that_it_is_reckoned(app: AskedApp, grey: MixedInk) -> None:
    assert "Reckoned from its recipe. The pigments: from the literature" in (
        app.browser.get(f"/shelf/ink/{grey.number}").text
    )
    assert words.tile_own_swatch not in app.browser.get("/shelf").text


def test_a_picture_without_marks_is_refused_by_the_name_it_came_with(
    app: AskedApp, tiny_picture: Path
) -> None:
    sheet = paints.draw_kept(["rose"])
    files = {"scan": ("holiday.png", tiny_picture.read_bytes(), "image/png")}
    sent = app.browser.post(
        "/shelf/paints/scan", data={"sheet": str(sheet.number)}, files=files, headers=AS_PART
    )
    assert sent.status_code == 422
    assert "holiday.png" in sent.text
    assert paints.kept_sheet(sheet.number).scans == ()


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"inks": "\n \n"}, "Name one paint"),
        ({"inks": "rose\nrose"}, None),
        ({"inks": "rose", "mixes": "rose + blue"}, "blue"),
        ({"inks": "rose", "paper": "B9"}, "paper"),
    ],
)
def test_a_sheet_that_cannot_be_drawn_is_refused(
    app: AskedApp, fields: dict[str, str], says: str | None
) -> None:
    answer = _post(app, "/shelf/paints/sheet", **{"paper": "A4", "passes": "3", "black": "yes", **fields})
    if says is None:
        # Ticked and typed as well: one row will do.
        assert answer.status_code == 200
        return
    assert answer.status_code == 422
    assert says in answer.text
    assert paints.kept_sheets() == ()
