"""The station Blocks where faces are shared: what shares and why, what can be decided, and the sawing."""

import json
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp
from markupsafe import escape
from PIL import Image, ImageDraw
from test_stations_look import Opened

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.looking import look
from blockwright.web import words
from blockwright.web.findings import shown
from tiny_print import BLUE, OCHRE, PAPER, set_value


@pytest.fixture(scope="module")
def _apart_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A print of 180 mm with three inks: two in opposite corners, the third along the foot of the first."""
    folder = tmp_path_factory.mktemp("apart")
    picture = Image.new("RGB", (180, 120), PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((10, 10, 50, 40), fill=OCHRE)
    draw.rectangle((10, 41, 50, 60), fill="#221e19")
    draw.rectangle((130, 70, 170, 110), fill=BLUE)
    picture.save(folder / "picture.png")
    project.create(folder / "print", picture=folder / "picture.png", width_mm=180.0)
    set_value(folder / "print", "mix", '"to match"')
    set_value(folder / "print", "half_turn", "false")
    project.make(folder / "print", upto="blocks")
    return folder / "print"


@pytest.fixture
def apart(tmp_path: Path, _apart_once: Path) -> Any:
    import shutil

    folder = Path(shutil.copytree(_apart_once, tmp_path / "print"))
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, folder)
    asked.desk.holding.let_all_go()


def told(opened: Opened) -> Any:
    return json.loads((opened.folder / "out" / "blocks" / "blocks.json").read_text(encoding="utf-8"))


def names(opened: Opened) -> dict[int, str]:
    separation = look(opened.folder).stage("separation").told or {}
    return {each["number"]: each["name"] for each in separation["impressions"]}


def shared_face(opened: Opened) -> dict[str, Any]:
    faces = [face for board in told(opened)["boards"] for face in board["faces"]]
    return next(face for face in faces if len(face["impressions"]) > 1)


def test_what_shares_a_face_and_why_is_said(apart: Opened) -> None:
    face = shared_face(apart)
    assert told(apart)["figures"]["faces"] == 2
    one, other = (names(apart)[number] for number in face["impressions"])
    text = apart.get("blocks", params={"face": face["name"]}).text
    assert str(escape(words.bound(face["why"]))) in text
    assert face["why"].startswith(f"{one[0].upper()}{one[1:]} and {other} share it, ")
    assert str(escape(words.fmt("share_apart", one=one, other=other))) in text
    assert words.faces_fewest in text


def test_inks_that_share_are_kept_apart(apart: Opened) -> None:
    face = shared_face(apart)
    pair = [names(apart)[number] for number in face["impressions"]]
    assert apart.decide(act="set-sharing", how="apart", colours=json.dumps(pair)).status_code == 204
    assert read_decisions(apart.folder).blocks.apart[0].inks == tuple(pair)
    project.make(apart.folder, upto="blocks")
    assert not any(
        set(face["impressions"]) == {n for n, name in names(apart).items() if name in pair}
        for board in told(apart)["boards"]
        for face in board["faces"]
    )
    assert str(escape(words.fmt("wish_apart", names=words.listed(pair)))) in apart.get("blocks").text


def test_a_contradiction_stops_the_work_and_either_line_can_be_taken_back(apart: Opened) -> None:
    pair = list(names(apart).values())[:2]
    for key in ("together", "apart"):
        path = apart.folder / "print.toml"
        line = f"\n[[blocks.{key}]]\ninks = {json.dumps(pair)}\n"
        path.write_text(path.read_text(encoding="utf-8") + line, encoding="utf-8")
    project.make(apart.folder, upto="blocks")
    stop = [each for each in told(apart)["findings"] if each["severity"] == "stop"]
    assert [each["code"] for each in stop] == ["sharing-contradicts"]
    assert all(name in stop[0]["message"] for name in pair)
    (finding,) = shown(stop, look(apart.folder), stage="blocks")
    assert [answer.fields["key"] for answer in finding.answers] == ["together", "apart"]
    assert apart.decide(**finding.answers[1].fields).status_code == 204
    project.make(apart.folder, upto="blocks")
    assert not [each for each in told(apart)["findings"] if each["severity"] == "stop"]


def test_masks_are_put_on_and_taken_off(apart: Opened) -> None:
    name = names(apart)[1]
    assert str(escape(words.fmt("mask_on", name=name))) in apart.get("blocks").text
    apart.decide(act="set-sharing", how="masked", colour=name)
    assert read_decisions(apart.folder).blocks.masked == (name,)
    assert str(escape(words.fmt("mask_off", name=name))) in apart.get("blocks").text
    apart.decide(act="set-sharing", how="unmasked", colour=name.upper())
    assert read_decisions(apart.folder).blocks.masked == ()


def test_how_the_boards_are_sawn_is_said_and_drawn(apart: Opened) -> None:
    (board,) = told(apart)["stock_boards"]
    text = apart.get("blocks").text
    assert words.board_grain_along in text
    assert (
        words.fmt("sawn_one", stock=board["stock"], blocks=words.count("sawn_blocks", 1, names="A")) in text
    )
    offcut = told(apart)["offcuts"][0]
    size = words.fmt(
        "sawn_size",
        width=words.figure(offcut["width_mm"], 0),
        height=words.figure(offcut["height_mm"], 0),
    )
    assert size in text
    assert f'<rect class="wood" width="{board["width_mm"]}" height="{board["height_mm"]}"/>' in text
    assert text.count('<rect class="block"') == 1
