"""The station Blocks with part blocks: what is said, shown and decided; and the whole job with one."""

import json
from pathlib import Path
from typing import Any

import pytest
from asked_app import AskedApp
from markupsafe import escape
from PIL import Image, ImageDraw
from test_stations_look import Opened
from typer.testing import CliRunner

from blockwright import project
from blockwright.cli import app
from blockwright.decisions import read_decisions
from blockwright.web import words
from tiny_print import OCHRE, PAPER, set_value


@pytest.fixture(scope="module")
def _sealed_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A print of 120 mm: one colour all over, and a seal upon it."""
    folder = tmp_path_factory.mktemp("sealed")
    picture = Image.new("RGB", (240, 160), PAPER)
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 0, 240, 159), fill=OCHRE)
    draw.rectangle((180, 60, 210, 110), fill="#7a1f1a")
    picture.save(folder / "picture.png")
    project.create(folder / "print", picture=folder / "picture.png", width_mm=120.0)
    set_value(folder / "print", "mix", '"to match"')
    set_value(folder / "print", "part_blocks", "true")
    project.make(folder / "print")
    return folder / "print"


@pytest.fixture
def sealed(tmp_path: Path, _sealed_once: Path) -> Any:
    import shutil

    folder = Path(shutil.copytree(_sealed_once, tmp_path / "print"))
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, folder)
    asked.desk.holding.let_all_go()


def told(opened: Opened) -> Any:
    return json.loads((opened.folder / "out" / "blocks" / "blocks.json").read_text(encoding="utf-8"))


def part_face(opened: Opened) -> dict[str, Any]:
    (face,) = (f for board in told(opened)["boards"] for f in board["faces"] if f["part_block"])
    return dict(face)


def test_the_summary_tells_the_part_block_and_its_seat(sealed: Opened) -> None:
    figures, face = told(sealed)["figures"], part_face(sealed)
    assert figures["part_blocks"] == 1
    assert figures["full_faces"] == figures["faces"] - 1
    (seat,) = told(sealed)["registration_board"]["seats"]
    left, top, right, bottom = face["part_block"]
    board = next(each for each in told(sealed)["boards"] if each["name"] == seat["board"])
    assert (board["width_mm"], board["height_mm"]) == (right - left, bottom - top)
    # The kagi is at the lower right: the stops hold that corner.
    assert seat["corner"] == [seat["lower_left"][0] + right - left, seat["lower_left"][1]]
    sawn = [piece["name"] for each in told(sealed)["stock_boards"] for piece in each["blocks"]]
    assert {"registration board", "kagi pad", "hikitsuke pad", seat["board"]} <= set(sawn)


def test_the_board_is_made_for_the_bench_and_stands_in_the_packet(sealed: Opened) -> None:
    import pdfplumber

    made = sealed.folder / "out" / "cutting"
    assert {"registration-board.pdf", "registration-board.svg"} <= {path.name for path in made.iterdir()}
    with pdfplumber.open(sealed.folder / "out" / "packet.pdf") as packet:
        pages = [page.extract_text() for page in packet.pages]
    (page,) = (text for text in pages if text.startswith("Registration board"))
    assert "lower right corner" in page
    assert "1 part block on a registration board" in pages[0].replace("\n", " ")
    text = sealed.get("cutting").text
    assert 'id="board-files"' in text
    assert "registration-board.pdf" in text


def test_the_command_names_the_part_blocks(sealed: Opened) -> None:
    found = CliRunner().invoke(app, ["make", str(sealed.folder)])
    assert "1 part block on a registration board." in found.stdout


def test_the_station_says_where_it_lies_and_shows_the_board(sealed: Opened) -> None:
    face = part_face(sealed)
    text = sealed.get("blocks", params={"face": face["name"]}).text
    assert str(escape(words.bound(face["why"]))) in text
    assert 'id="seat"' in text
    assert 'id="registration-board"' in text
    assert words.full_faces_fewest in text
    picture = sealed.get("registration-board.svg")
    assert picture.headers["content-type"].startswith("image/svg+xml")
    assert f'id="part-block-{face["name"].split()[0]}"' in picture.text


def test_a_colour_is_kept_off_part_blocks_and_let_go_again(sealed: Opened) -> None:
    face = part_face(sealed)
    separation = json.loads((sealed.folder / "out" / "separation" / "separation.json").read_text())
    name = next(e["name"] for e in separation["impressions"] if e["number"] == face["impressions"][0])
    assert sealed.decide(act="set-sharing", how="on-full", colours=json.dumps([name])).status_code == 204
    assert read_decisions(sealed.folder).blocks.on_full_block == (name,)
    project.make(sealed.folder, upto="cutting")
    assert told(sealed)["registration_board"] is None
    assert not (sealed.folder / "out" / "cutting" / "registration-board.pdf").exists()
    text = sealed.get("blocks").text
    assert str(escape(words.fmt("wish_on_full_block", names=name))) in text
    assert words.parts_none in text
    assert sealed.get("registration-board.svg").status_code == 404
    assert sealed.decide(act="set-sharing", how="on-part", colours=json.dumps([name])).status_code == 204
    blocks = read_decisions(sealed.folder).blocks
    assert (blocks.on_part_block, blocks.on_full_block) == ((name,), ())
    assert sealed.decide(act="set-sharing", how="on-either", colours=json.dumps([name])).status_code == 204
    assert read_decisions(sealed.folder).blocks.on_part_block == ()
    assert sealed.decide(act="set-sharing", how="on-air", colours=json.dumps([name])).status_code >= 400
