"""The station Inks: what its cards say, what is decided there, and how an ink gets onto the shelf."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp
from locked_studio import held_by_another
from markupsafe import escape
from test_stations_look import AS_PART, Opened

from blockwright import project, studio
from blockwright.colour.optics import MIXTURE_DELTA_E00
from blockwright.decisions import read_decisions
from blockwright.ledger import opening, place
from blockwright.looking import look
from blockwright.model.home import DATABASE_NAME
from blockwright.model.inks import MixedInk, Part
from blockwright.web import words
from blockwright.web.ink_cards import delta, grams


@pytest.fixture
def inked(tmp_path: Path, mixed_print: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opened]:
    """A finished tiny print in an app with a studio of its own, which has no database yet."""
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "studio"))
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, mixed_print)
    asked.close()


def _told(opened: Opened) -> list[dict[str, Any]]:
    text = (opened.folder / "out" / "inks" / "inks.json").read_text(encoding="utf-8")
    told: list[dict[str, Any]] = json.loads(text)["inks"]
    return told


def _impression(opened: Opened, number: int) -> dict[str, Any]:
    text = (opened.folder / "out" / "separation" / "separation.json").read_text(encoding="utf-8")
    told: dict[str, Any] = next(e for e in json.loads(text)["impressions"] if e["number"] == number)
    return told


def _kept(opened: Opened, *, pot_g: float | None = None) -> MixedInk:
    """The first ink of the print, kept on the shelf by command, and the print made anew."""
    ink = _told(opened)[0]
    optics = json.loads((opened.folder / "out" / "inks" / "value.json").read_text(encoding="utf-8"))
    found = next(each for each in optics["inks"] if each["impression"] == ink["impression"])["optics"]
    from pydantic import TypeAdapter

    from blockwright.model.inks import Optics

    known = TypeAdapter(Optics).validate_python(found)
    kept = studio.add_ink(
        studio.open_studio(), MixedInk(0, "left over", (), 0.0, known, "measured", pot_g=pot_g)
    )
    project.make(opened.folder, upto="inks")
    return kept


def test_every_ink_has_its_card_with_passes_recipe_and_batch(inked: Opened) -> None:
    for ink in _told(inked):
        of = _impression(inked, ink["impression"])
        text = inked.get("inks", params={"of": ink["impression"]}).text
        assert f"{ink['impression']} · {of['name']}" in text
        seen = ink["swatches"][0]
        for hex, off in zip(seen["hex"], seen["uncertainty_delta_e00"], strict=True):
            assert f'fill="{hex}"' in text
            assert words.fmt("plus_minus", delta=delta(off)) in text
        # The planned pass is told in words, once.
        assert text.count(f'<span class="plan">{words.ink_planned}</span>') == 1
        pressed = re.findall(r'id="times-(\d)"[^>]*aria-pressed="true"', text, flags=re.DOTALL)
        assert pressed == [str(of["passes"])]
        for each in ink["batch"]["measures"]:
            assert grams(each["mass_g"]) in text
            assert str(escape(each["name"])) in text
        assert (
            words.count("recipe_for", 60, grams=grams(ink["batch"]["needed_g"]), ml="").split(",")[0] in text
        )
        for caution in ink["cautions"]:
            assert str(escape(words.opening(caution))) in text
        assert words.TEXTS[f"origin_{ink['origin']}"] in text


def test_a_script_gets_the_part_and_a_strange_number_the_first(inked: Opened) -> None:
    part = inked.get("inks", headers=AS_PART)
    assert "<!doctype html>" not in part.text
    for of in ("0", "999", "two", "²", "9" * 40):
        answer = inked.get("inks", params={"of": of})
        assert answer.status_code == 200
        assert 'id="place-1"' in answer.text


def test_looking_at_inks_makes_no_database(inked: Opened, tmp_path: Path) -> None:
    assert inked.get("inks").status_code == 200
    assert not (tmp_path / "studio" / DATABASE_NAME).exists()


def test_what_inks_decides_is_written(inked: Opened) -> None:
    fields = set(re.findall(r'id="set-inks-(\w+)"', inked.get("inks").text))
    settings = read_decisions(inked.folder).inks
    assert fields == set(type(settings).model_fields) - {"take", "mix_from", "pigments"}
    inked.decide(act="set-value", table="inks", key="sheets", value="120")
    inked.decide(act="set-value", table="inks", key="laydown_g_per_m2", value="9,5 g/m²")
    inked.decide(act="set-value", table="inks", key="mix", value="to match")
    inked.decide(act="set-pigments", pigment=["bone black", "viridian"])
    now = read_decisions(inked.folder).inks
    assert (now.sheets, now.laydown_g_per_m2, now.mix) == (120, 9.5, "to match")
    assert now.pigments == ("bone black", "viridian")
    refused = inked.decide(act="set-value", table="inks", key="sheets", value="many")
    assert refused.status_code == 422
    assert "sheets" in refused.text


def test_an_ink_is_mixed_from_chosen_pigments_and_from_all_again(inked: Opened) -> None:
    name = _impression(inked, 1)["name"]
    inked.decide(act="set-mix-from", colour=name, pigment=["bone black", "Hansa yellow"])
    project.make(inked.folder, upto="inks")
    text = inked.get("inks").text
    assert words.fmt("mix_own", names="bone black and Hansa yellow") in text
    assert {each["name"] for each in _told(inked)[0]["recipe"]["components"]} <= {
        "bone black",
        "Hansa yellow",
        "rice paste",
    }
    assert words.mix_own_all in text
    inked.decide(act="set-mix-from", colour=name)
    assert read_decisions(inked.folder).inks.mix_from == ()


def test_an_ink_that_is_known_by_its_own_swatch_says_so(inked: Opened) -> None:
    name, kept = _impression(inked, 1)["name"], _kept(inked)
    shelf = studio.open_studio()
    parts = (Part("bone black", 0.1), Part("viridian", 0.2))
    told = []
    for known_by in ("recipe", "own swatch"):
        studio.edit_ink(shelf, kept.number, parts=parts, paste_share=0.7, known_by=known_by)
        inked.decide(act="set-take", colour=name, shelf=str(kept.number))
        project.make(inked.folder, upto="inks")
        text = inked.get("inks").text
        assert (words.own_swatch_measured in text) == (known_by == "own swatch")
        assert (words.origin_measured in text) == (known_by == "recipe")
        told.append(_told(inked)[0])
    assert [each["known_by"] for each in told] == ["recipe", "own swatch"]
    doubts = [each["uncertainty_delta_e00"] for each in told]
    assert doubts[0] ** 2 == pytest.approx(doubts[1] ** 2 + MIXTURE_DELTA_E00**2)


def test_a_near_ink_is_taken_and_taken_back(inked: Opened) -> None:
    kept = _kept(inked, pot_g=0.0)
    text = inked.get("inks").text
    assert words.near_head in text
    assert f'href="/shelf/ink/{kept.number}"' in text
    name = _impression(inked, 1)["name"]
    inked.decide(act="set-take", colour=name, shelf=str(kept.number))
    project.make(inked.folder, upto="inks")
    text = inked.get("inks").text
    assert words.fmt("ink_shelf_name", number=kept.number, name="left over") in text
    assert words.fmt("pot_holds", grams=grams(0.0)) in text
    # An empty pot prints no edition, which is pointed at with the acts that answer it.
    assert words.answer_anew in text
    assert words.fmt("answer_pot", number=kept.number) in text
    inked.post("undo")
    assert read_decisions(inked.folder).inks.take == ()
    project.make(inked.folder, upto="inks")
    assert words.ink_by_recipe in inked.get("inks").text


def test_a_recipe_that_was_mixed_is_put_on_the_shelf_and_printed_with(inked: Opened) -> None:
    name = _impression(inked, 1)["name"]
    answer = inked.post(
        "keep-ink", data={"colour": name, "name": "first pot", "pot_g": "84,5 g", "place": "left shelf"}
    )
    assert answer.status_code == 204
    shelf = studio.open_studio()
    (kept,) = studio.list_inks(shelf)
    recipe = {e["name"]: e["parts"] / 100.0 for e in _told(inked)[0]["recipe"]["components"]}
    assert {part.pigment: pytest.approx(part.share) for part in kept.parts} == {
        pigment: share for pigment, share in recipe.items() if pigment != "rice paste"
    }
    assert (kept.name, kept.pot_g, kept.place) == ("first pot", 84.5, "left shelf")
    (use,) = studio.uses(shelf, kept.number)
    assert (use.folder, use.impression) == (str(inked.folder), name)
    assert read_decisions(inked.folder).inks.take[0].shelf == kept.number
    project.make(inked.folder, upto="inks")
    text = inked.get("inks").text
    assert words.ink_used_done in text
    assert 'id="note-use"' not in text


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"name": "pot", "pot_g": "a lot"}, words.card_pot_number),
        ({"name": "pot", "pot_g": "-3"}, "-3"),
        ({"name": "", "pot_g": ""}, "name"),
        ({"colour": "no such colour", "name": "pot"}, words.keep_gone),
    ],
)
def test_what_cannot_be_put_on_the_shelf_is_refused(inked: Opened, fields: dict[str, str], says: str) -> None:
    answer = inked.post("keep-ink", data={"colour": _impression(inked, 1)["name"], **fields})
    assert answer.status_code == 422
    assert says in answer.text
    assert studio.list_inks(studio.open_studio()) == ()
    assert read_decisions(inked.folder).inks.take == ()


def test_the_use_of_a_pot_is_noted_once(inked: Opened) -> None:
    kept, name = _kept(inked), _impression(inked, 1)["name"]
    assert inked.post("note-use", data={"colour": name}).status_code == 422
    inked.decide(act="set-take", colour=name, shelf=str(kept.number))
    project.make(inked.folder, upto="inks")
    assert 'id="note-use"' in inked.get("inks").text
    for _ in range(2):
        assert inked.post("note-use", data={"colour": name}).status_code == 204
    assert len(studio.uses(studio.open_studio(), kept.number)) == 1


def test_cards_and_recipes_may_be_taken_along(inked: Opened) -> None:
    text = inked.get("inks").text
    for name, kind in (
        ("cards.pdf", "application/pdf"),
        ("recipes.csv", "text/csv"),
        ("recipes.json", "json"),
    ):
        assert f"/files/inks/{name}" in text
        answer = inked.get(f"files/inks/{name}")
        assert answer.status_code == 200
        assert kind in answer.headers["content-type"]
    assert inked.get("files/inks/value.json").status_code == 404
    inked.decide(act="set-value", table="inks", key="sheets", value="90")
    assert "/files/inks/" not in inked.get("inks").text
    older = inked.get("files/inks/cards.pdf")
    assert older.status_code == 409
    assert words.fmt("back_to", station=words.on_inks) in older.text


def test_the_parts_of_a_recipe_are_parts_in_a_hundred(inked: Opened) -> None:
    """As ``mix --json`` tells them: by volume, paste last; the card says the same in percent."""
    inks = json.loads(inked.get("files/inks/recipes.json").text)["inks"]
    assert [each["recipe"] for each in inks] == [each["recipe"] for each in _told(inked)]
    for ink in inks:
        components = ink["recipe"]["components"]
        assert sum(each["parts"] for each in components) == pytest.approx(100.0)
        assert components[-1]["name"] == "rice paste"
        assert components[-1]["parts"] >= 20.0
    first = inks[0]["recipe"]["components"][-1]
    assert f"{first['parts']:.0f}\u00a0%" in inked.get("inks").text


@pytest.mark.parametrize("how", ["for writing", "wholly"])
def test_while_another_process_holds_the_shelf_nothing_is_put_on_it_and_nothing_is_lost(
    inked: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    for room in (place, opening):
        monkeypatch.setattr(room, "BUSY_S", 0.1)
    studio.open_studio()
    before = (inked.folder / "print.toml").read_bytes()
    fields = {"colour": _impression(inked, 1)["name"], "name": "first pot", "pot_g": "84.5"}
    with held_by_another(tmp_path / "studio" / DATABASE_NAME, how):
        answer = inked.post("keep-ink", data=fields)
        assert answer.status_code == 422
        assert answer.text.count("is being written by another program; try again in a moment.") == 1
        assert inked.get("inks").status_code == 200
    assert studio.list_inks(studio.open_studio()) == ()
    assert (inked.folder / "print.toml").read_bytes() == before
    assert inked.post("keep-ink", data=fields).status_code == 204
    assert [each.name for each in studio.list_inks(studio.open_studio())] == ["first pot"]


def test_a_shelf_that_cannot_be_read_is_a_sentence_in_place(inked: Opened, tmp_path: Path) -> None:
    (tmp_path / "studio").mkdir()
    (tmp_path / "studio" / DATABASE_NAME).write_bytes(b"no database at all, but long enough to be one" * 40)
    for station in ("design", "inks", "proof"):
        text = inked.get(station).text
        assert str(escape(words.wrong_shelf)) in text
        assert words.wrong_print not in text
    assert look(inked.folder).wrong_shelf
