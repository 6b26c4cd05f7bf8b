"""The station Blocks on wood and paper that move: what it says, and what is decided there."""

# ruff: noqa: F401, F811 (fixtures are imported, and named where they are asked for)

import html
import re

from test_stations_look import Opened, tiny

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.web import words


def _text(opened: Opened) -> str:
    """The words of the part on movement, tags taken out."""
    whole = opened.get("blocks").text
    part = whole[whole.index('id="moves-said"') : whole.index('id="onward"')]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", part)).split())


def _decide(opened: Opened, **values: str) -> None:
    for key, value in values.items():
        answer = opened.decide(act="set-value", table="blocks", key=key, value=value)
        assert answer.status_code == 204, answer.text
    project.make(opened.folder, upto="blocks")


def _cherry(opened: Opened, **more: str) -> None:
    fields = {"name": "plank", "wood": "cherry", "width_mm": "200", "height_mm": "150", "thickness_mm": "20"}
    assert opened.decide(act="put-board", **fields, **more).status_code == 204
    for each in read_decisions(opened.folder).blocks.stock:
        if each.name != "plank":
            assert opened.decide(act="drop-board", name=each.name).status_code == 204


def test_by_default_the_wood_stays_and_the_sheet_is_told(tiny: Opened) -> None:
    text = _text(tiny)
    assert words.moves_none in text
    assert text.count("Wood holds 9.3 % of moisture") == 2
    assert "0.08 mm over the width, 0 mm over the height" in text
    assert words.moves_sheet_smaller in text
    assert words.moves_together in text


def test_blocks_that_move_are_told_in_a_table_and_by_corner(tiny: Opened) -> None:
    _cherry(tiny)
    _decide(tiny, printing_humidity_percent="70")
    text = _text(tiny)
    assert "all boards, black cherry, flat sawn 0 mm +0.43 mm" in text
    assert "How far the corners of A front lie off" in text
    assert words.moves_left not in text
    _decide(tiny, compensate="true")
    text = _text(tiny)
    assert re.search(r"A front is drawn 0\.08 mm wider and 0\.43 mm shorter, from the kagi", text)
    assert text.count("in place") == 4
    assert words.moves_sheet_smaller not in text


def test_a_board_says_how_it_was_sawn_and_what_it_is_known_to_do(tiny: Opened) -> None:
    _cherry(tiny, cut="quarter sawn")
    _decide(tiny, printing_moisture_percent="12", carving_moisture_percent="14")
    text = _text(tiny)
    assert text.count(words.moves_holds_measured) == 2
    assert words.moves_shrinks in text
    assert "black cherry, quarter sawn" in text
    fields = {"name": "plank", "wood": "cherry", "width_mm": "200", "height_mm": "150", "thickness_mm": "20"}
    sent = {**fields, "was": "plank", "cut": "quarter sawn", "moves_percent": "0,2 %"}
    assert tiny.decide(act="put-board", **sent).status_code == 204
    (plank,) = read_decisions(tiny.folder).blocks.stock
    assert (plank.cut, plank.moves_percent) == ("quarter sawn", 0.2)
    project.make(tiny.folder, upto="blocks")
    assert words.moves_as_own in _text(tiny)
    assert tiny.decide(act="put-board", **{**sent, "moves_percent": "lots"}).status_code == 422
    assert tiny.decide(act="put-board", **{**sent, "moves_percent": ""}).status_code == 204
    assert read_decisions(tiny.folder).blocks.stock[0].moves_percent is None


def test_plywood_is_not_asked_how_it_was_sawn(tiny: Opened) -> None:
    text = tiny.get("blocks").text
    assert 'id="board-1-moves_percent"' in text
    assert 'id="board-1-cut"' not in text
    assert 'id="board-new-cut"' in text


def test_a_wood_that_is_not_known_is_told_and_answered(tiny: Opened) -> None:
    fields = {"name": "plank", "wood": "pear", "width_mm": "60", "height_mm": "55", "thickness_mm": "20"}
    for name, size in (("plank", "400"), ("other", "300")):
        sent = {**fields, "name": name, "width_mm": size, "height_mm": size}
        assert tiny.decide(act="put-board", **sent).status_code == 204
    for each in read_decisions(tiny.folder).blocks.stock:
        if each.wood != "pear":
            tiny.decide(act="drop-board", name=each.name)
    _decide(tiny, printing_humidity_percent="60")
    assert "pear, which is not known here" in _text(tiny)
    whole = tiny.get("blocks").text
    assert words.fmt("answer_unknown_wood", percent="0.35") in whole
    _decide(tiny, unknown_wood_percent="0.35")
    assert words.fmt("answer_unknown_wood", percent="0.35") not in tiny.get("blocks").text


def test_a_folder_that_an_earlier_version_made_is_shown_without_figures(tiny: Opened) -> None:
    path = tiny.folder / "out" / "blocks" / "blocks.json"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('"movement":', '"moved":', 1), encoding="utf-8")
    text = _text(tiny)
    assert words.moves_drawn_lead in text
    assert words.moves_together not in text
