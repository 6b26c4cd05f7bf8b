"""The shelf in the app while another process holds its database: one sentence, and nothing is lost."""

from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp
from locked_studio import held_by_another

from blockwright import bits, studio
from blockwright.ledger import opening, place
from blockwright.model.home import DATABASE_NAME
from blockwright.model.inks import MixedInk, Part
from blockwright.web import words

AS_PART = {"HX-Request": "true"}
LOCKED = f"{DATABASE_NAME} is being written by another program; try again in a moment."


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    at = tmp_path / "studio"
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(at))
    monkeypatch.setattr(place, "BUSY_S", 0.1)
    monkeypatch.setattr(opening, "BUSY_S", 0.1)
    return at


@pytest.fixture
def app(tmp_path: Path, home: Path) -> Iterator[AskedApp]:
    asked = AskedApp(tmp_path / "home")
    yield asked
    asked.close()


@pytest.fixture
def grey(home: Path) -> MixedInk:
    parts = [Part("bone black", 0.1), Part("cerulean blue", 0.2)]
    return studio.add_recipe(studio.open_studio(), "sea grey", parts, pot_g=84.5)


def _post(app: AskedApp, address: str, **fields: Any) -> Any:
    return app.browser.post(address, data=fields, headers=AS_PART)


WRITES: list[tuple[str, dict[str, str]]] = [
    ("/shelf/ink/1/weigh", {"value": "80"}),
    ("/shelf/ink/1/edit", {"field": "retired", "value": "yes"}),
    ("/shelf/pigment", {"name": "eosin", "field": "on_shelf", "value": "yes"}),
    ("/shelf/bit", {"name": "6 mm flat", "field": "flutes", "value": "3"}),
    ("/shelf/machine", {"name": "plain table router", "field": "retired", "value": "yes"}),
    ("/shelf/put-back", {}),
]


def _all(shelf: Any) -> tuple[Any, ...]:
    inks = studio.list_inks(shelf, retired=True)
    weighed = [studio.weighings(shelf, each.number) for each in inks]
    routers = bits.list_bits(shelf, retired=True), bits.list_machines(shelf, retired=True)
    return inks, weighed, studio.list_pigments(shelf, retired=True), routers


def test_what_is_written_while_another_process_writes_is_refused_and_nothing_is_lost(
    app: AskedApp, home: Path, grey: MixedInk
) -> None:
    assert _post(app, "/shelf/ink/1/edit", field="place", value="cellar").status_code == 204
    before = _all(studio.open_studio())
    with held_by_another(home / DATABASE_NAME, "for writing"):
        for address, fields in WRITES:
            answer = _post(app, address, **fields)
            assert answer.status_code == 422, address
            assert unescape(answer.text).count(LOCKED) == 1, address
            assert answer.text.count("said-back") == 1
        # Who only reads need not wait, and sees what was there before.
        text = app.browser.get("/shelf/ink/1").text
        assert 'value="84.5"' in text
        assert words.shelf_wrong not in text
    assert _all(studio.open_studio()) == before
    # What was offered before is still offered, and what was refused can be done again.
    assert _post(app, "/shelf/put-back").status_code == 204
    for address, fields in WRITES[:5]:
        assert _post(app, address, **fields).status_code == 204, address
    now = studio.show_ink(studio.open_studio(), grey.number)
    assert (now.place, now.pot_g, now.retired) == ("", 80.0, True)


@pytest.mark.parametrize("way", ["/shelf", "/shelf/ink/1", "/shelf/pigment?name=viridian", "/shelf/paints"])
def test_a_database_that_is_wholly_held_is_a_sentence_on_the_page(
    app: AskedApp, home: Path, grey: MixedInk, way: str
) -> None:
    before = _all(studio.open_studio())
    with held_by_another(home / DATABASE_NAME, "wholly"):
        answer = app.browser.get(way)
        assert answer.status_code == 200
        assert unescape(answer.text).count(LOCKED) == 1
        assert 'class="find"' not in answer.text
    assert _all(studio.open_studio()) == before
    assert LOCKED not in unescape(app.browser.get(way).text)
