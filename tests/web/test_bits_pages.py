"""Bits and machines in the app: the wall, the cards, what is changed, put back, added and refused."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp

from blockwright import bits, studio
from blockwright.ledger.router_first import first_bits, first_machines
from blockwright.model.home import DATABASE_NAME
from blockwright.model.router import Bit
from blockwright.web import words
from blockwright.web.bit_drawings import drawn_bit, half_profile

AS_PART = {"HX-Request": "true"}
V_BIT = "60 degree V"
PLAIN = first_machines()[0].machine.name
NEW = {
    "kind": "tapered",
    "name": "fine <one>",
    "diameter_mm": "3,175",
    "cutting_mm": "15 mm",
    "flutes": "2",
    "shank_mm": "6",
    "angle_deg": "10",
    "tip_mm": "0.5",
}


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


def _post(app: AskedApp, address: str, **fields: Any) -> Any:
    return app.browser.post(address, data=fields, headers=AS_PART)


def _names(text: str, kind: str) -> list[str]:
    wall = text.partition(f'id="{kind}"')[2].partition("</ul>")[0]
    return re.findall(r'<span class="name">([^<]*)</span>', wall)


def _bit(name: str = V_BIT) -> Any:
    return bits.show_bit(studio.open_studio(), name)


def _machine() -> Any:
    return bits.show_machine(studio.open_studio(), PLAIN)


def test_the_wall_shows_bits_and_machines(app: AskedApp) -> None:
    text = app.browser.get("/shelf/bits").text
    assert _names(text, "bits") == [f"{each.bit.number} · {each.bit.name}" for each in first_bits()]
    assert _names(text, "machines") == [PLAIN]
    assert "V, 6 mm, 60°" in text
    assert "600 × 400 × 80 mm" in text
    part = app.browser.get("/shelf/bits", headers=AS_PART)
    assert "<!doctype html>" not in part.text
    assert 'href="/shelf/bits"' in app.browser.get("/shelf").text, "it is reached from the shelf"


def test_a_card_shows_what_is_known(app: AskedApp) -> None:
    text = app.browser.get("/shelf/bit", params={"name": V_BIT}).text
    assert 'id="angle-deg" name="value" value="60"' in text
    assert words.bit_tip_V in text
    assert 'id="angle-deg"' not in app.browser.get("/shelf/bit", params={"name": "6 mm flat"}).text
    text = app.browser.get("/shelf/machine", params={"name": PLAIN}).text
    assert 'id="reach-y" name="value" value="400"' in text
    assert f'<option value="no" selected>{words.machine_change_no}</option>' in text


@pytest.mark.parametrize("way", ["bit?name=mud", "bit", "machine?name=mill", "machine"])
def test_what_is_not_there_is_said(app: AskedApp, way: str) -> None:
    answer = app.browser.get(f"/shelf/{way}")
    assert answer.status_code == 404
    assert words.card_none in answer.text


@pytest.mark.parametrize(
    ("field", "value", "kept"),
    [
        ("number", "12", 12),
        ("diameter_mm", "6,35 mm", 6.35),
        ("cutting_mm", "4.5", 4.5),
        ("flutes", "3", 3),
        ("shank_mm", "8", 8.0),
        ("angle_deg", "90", 90.0),
        ("tip_mm", "0", 0.0),
        ("notes", "bought in May", "bought in May"),
        ("retired", "yes", True),
    ],
)
def test_a_bit_is_changed_and_the_change_put_back(
    app: AskedApp, field: str, value: str, kept: object
) -> None:
    before = _bit()
    assert _post(app, "/shelf/bit", name=V_BIT, field=field, value=value).status_code == 204
    now = _bit()
    assert (getattr(now, field) if field in ("notes", "retired") else getattr(now.bit, field)) == kept
    for way in ("/shelf/bits", "/shelf", f"/shelf/bit?name={V_BIT}"):
        assert words.put_back in app.browser.get(way).text
    back = _post(app, "/shelf/put-back")
    assert (back.status_code, f"Put back: {V_BIT}" in back.headers["HX-Trigger"]) == (204, True)
    assert _bit() == before
    assert _post(app, "/shelf/put-back").status_code == 422


@pytest.mark.parametrize(
    ("field", "value", "name", "kept"),
    [
        ("reach_y", "350", "reach_mm", (600.0, 350.0, 80.0)),
        ("rpm_most", "18000", "rpm", (8000.0, 18000.0)),
        ("feed_mm_min", "2400", "feed_mm_min", 2400.0),
        ("arcs", "no", "arcs", False),
        ("tool_change", "yes", "tool_change", True),
        ("begin", "(vacuum)\r\nM8", "begin", ("(vacuum)", "M8")),
        ("safe_mm", "8", "safe_mm", 8.0),
        ("junction_mm", "0.05", "junction_mm", 0.05),
        ("change_s", "0", "change_s", 0.0),
        ("retired", "yes", "retired", True),
    ],
)
def test_a_machine_is_changed_and_the_change_put_back(
    app: AskedApp, field: str, value: str, name: str, kept: object
) -> None:
    before = _machine()
    assert _post(app, "/shelf/machine", name=PLAIN, field=field, value=value).status_code == 204
    now = _machine()
    assert (now.retired if name == "retired" else getattr(now.machine, name)) == kept
    assert words.put_back in app.browser.get("/shelf/bits?retired=yes").text
    assert _post(app, "/shelf/put-back").status_code == 204
    assert _machine() == before


def test_what_is_retired_is_shown_when_it_is_asked_for(app: AskedApp) -> None:
    for name, way in ((V_BIT, "bit"), (PLAIN, "machine")):
        assert _post(app, f"/shelf/{way}", name=name, field="retired", value="yes").status_code == 204
    text = app.browser.get("/shelf/bits").text
    assert (len(_names(text, "bits")), _names(text, "machines")) == (3, [])
    assert words.machines_none in text
    text = app.browser.get("/shelf/bits?retired=yes").text
    assert (len(_names(text, "bits")), _names(text, "machines")) == (4, [PLAIN])
    assert words.card_unretire in app.browser.get("/shelf/bit", params={"name": V_BIT}).text


def test_a_bit_that_was_changed_by_another_hand_is_not_put_back(app: AskedApp) -> None:
    _post(app, "/shelf/bit", name=V_BIT, field="tip_mm", value="0.2")
    bits.edit_bit(studio.open_studio(), V_BIT, tip_mm=0.3)
    answer = _post(app, "/shelf/put-back")
    assert (answer.status_code, words.put_back_other in answer.text) == (422, True)
    assert _bit().bit.tip_mm == 0.3


@pytest.mark.parametrize(
    ("way", "field", "value", "told"),
    [
        ("bit", "diameter_mm", "thin", words.bits_needs_number),
        ("bit", "diameter_mm", "", words.bits_needs_number),
        ("bit", "flutes", "1.5", words.bits_needs_whole),
        ("bit", "angle_deg", "0", "The whole angle at the tip of 60 degree V is 0 degrees"),
        ("bit", "number", "1", "which is that of 6 mm flat"),
        ("bit", "kind", "flat", words.not_a_field),
        ("bit", "name", "other", words.not_a_field),
        ("machine", "feed_mm_min", "0", "The feed of plain table router is 0"),
        ("machine", "reach_z", "-1", "along z is -1"),
        ("machine", "rpm_least", "30000", "the slowest stands first"),
        ("machine", "begin", "%", "have a %"),
        ("machine", "name", "other", words.not_a_field),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_changes(
    app: AskedApp, way: str, field: str, value: str, told: str
) -> None:
    name = V_BIT if way == "bit" else PLAIN
    answer = _post(app, f"/shelf/{way}", name=name, field=field, value=value)
    assert answer.status_code == 422
    assert told in unescape(answer.text)
    assert bits.list_bits(studio.open_studio()) == first_bits()
    assert bits.list_machines(studio.open_studio()) == first_machines()


def test_a_bit_and_a_machine_are_put_on_the_shelf(app: AskedApp) -> None:
    added = _post(app, "/shelf/bits/bit", **NEW)
    assert added.status_code == 200
    assert _bit("fine <one>").bit == Bit(5, "fine <one>", "tapered", 3.175, 2, 15.0, 10.0, 0.5, 6.0)
    card = app.browser.get(added.headers["HX-Redirect"])
    assert card.status_code == 200
    assert "<one>" not in card.text
    flat = _post(app, "/shelf/bits/bit", **{**NEW, "kind": "flat", "name": "plain"})
    assert flat.status_code == 200
    assert (_bit("plain").bit.angle_deg, _bit("plain").bit.tip_mm) == (0.0, 0.0)
    added = _post(app, "/shelf/bits/machine", name="in the cellar", like=PLAIN)
    assert app.browser.get(added.headers["HX-Redirect"]).status_code == 200
    kept = bits.show_machine(studio.open_studio(), "in the cellar").machine
    assert kept.reach_mm == first_machines()[0].machine.reach_mm


@pytest.mark.parametrize(
    ("way", "fields", "told"),
    [
        ("bit", {**NEW, "name": ""}, "cannot be the name of a bit"),
        ("bit", {**NEW, "name": "3 mm flat"}, "stands on the shelf already"),
        ("bit", {**NEW, "kind": "drill"}, "is of the kind 'drill'"),
        ("bit", {**NEW, "flutes": "two"}, words.bits_needs_number),
        ("bit", {**NEW, "cutting_mm": "40"}, "it has reached its diameter of 3.175 mm after"),
        ("machine", {"name": "", "like": PLAIN}, "cannot be the name of a machine"),
        ("machine", {"name": "new", "like": "mill"}, "No machine on the shelf is called mill"),
    ],
)
def test_what_cannot_be_put_on_the_shelf_is_said(
    app: AskedApp, way: str, fields: dict[str, str], told: str
) -> None:
    answer = _post(app, f"/shelf/bits/{way}", **fields)
    assert answer.status_code == 422
    assert told in unescape(answer.text)
    assert len(bits.list_bits(studio.open_studio())) == 4


@pytest.mark.parametrize("way", ["/shelf/bits", "/shelf/bit?name=x", "/shelf/machine?name=x"])
def test_a_damaged_database_is_a_sentence_on_the_page(app: AskedApp, home: Path, way: str) -> None:
    home.mkdir()
    (home / DATABASE_NAME).write_bytes(b"no database at all, but long enough to be one" * 40)
    answer = app.browser.get(way)
    assert (answer.status_code, words.shelf_wrong in answer.text) == (200, True)
    assert _post(app, "/shelf/bit", name="x", field="flutes", value="3").status_code == 422


# --- what is drawn -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bit",
    [
        *(each.bit for each in first_bits()),
        Bit(7, "ball", "ball", 6.0, 2, 12.0),
        Bit(8, "tapered", "tapered", 3.175, 2, 15.0, angle_deg=10.0, tip_mm=0.5),
        Bit(9, "blunt", "V", 12.0, 2, 20.0, angle_deg=120.0, tip_mm=1.0),
    ],
    ids=lambda bit: bit.name,
)
def test_the_outline_is_that_of_the_edges(bit: Bit) -> None:
    places = half_profile(bit)
    assert places[0] == (0.0, 0.0)
    assert places[-1][1] == bit.cutting_mm, "as long as the edges are"
    assert places == sorted(places)
    for away, above in places:
        assert away <= bit.radius_mm + 1e-9
        # At the rim a side stands upright above what the tip tells.
        assert bit.rise_mm(away) <= above + 1e-4
        if away < bit.radius_mm:
            assert bit.rise_mm(away) == pytest.approx(above, abs=1e-4)


def test_a_drawing_is_the_same_on_both_sides() -> None:
    drawn = drawn_bit(first_bits()[3].bit)
    places = [tuple(map(float, each.split(","))) for each in drawn.edges.split()]
    mirrored = {(round(drawn.width - x, 3), y) for x, y in places}
    assert mirrored == set(places)
    assert all(0.0 <= x <= drawn.width and 0.0 <= y <= drawn.height for x, y in places)
