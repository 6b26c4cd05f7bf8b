"""The stations: acts, parts, files and words as they are asked for, and what a browser makes of them."""

import hashlib
import io
import json
import re
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browsing
import pytest
import shapely
from asked_app import AskedApp
from markupsafe import escape
from PIL import Image
from playwright.sync_api import Browser, Page, expect

import blockwright
from blockwright.decisions import read_decisions
from blockwright.web import words
from blockwright.web.frame import STATIONS, why
from blockwright.web.words_terms import meaning_id, terms
from tiny_print import IN_BLUE, IN_OCHRE, OUTSIDE

chromium, house, address = browsing.chromium, browsing.house, browsing.address

ROOT = Path(blockwright.__file__).parents[2]
WEB = Path(blockwright.__file__).parent / "web"
TEMPLATES = sorted((WEB / "templates").rglob("*.html"))

AS_PART = {"HX-Request": "true"}


# --- words, templates, vendored files -----------------------------------------------------------------------


def _words_asked_for() -> set[str]:
    asked: set[str] = set()
    for file in [*TEMPLATES, *(each for each in WEB.glob("*.py") if each.name != "words.py")]:
        text = file.read_text(encoding="utf-8")
        asked |= set(re.findall(r"\bwords\.([a-z]\w*)\b(?!\()", text))
        asked |= set(re.findall(r"\bwords\.fmt\(\s*\"(\w+)\"\s*[,)]", text))
        asked |= set(re.findall(r"TEXTS\[\"(\w+)\"\]", text))
    return asked - {"fmt", "count", "TEXTS"} - set(dir(words))


def test_every_word_that_a_page_asks_for_is_there() -> None:
    missing = {name for name in _words_asked_for() if name not in words.TEXTS}
    assert not missing
    with pytest.raises(AttributeError):
        _ = words.no_such_word


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_no_template_has_a_style_or_script_of_its_own(template: Path) -> None:
    """The pages' policy lets only files of our own address style or run (Content Security Policy Level 3)."""
    text = template.read_text(encoding="utf-8")
    assert not re.search(r"\sstyle\s*=", text)
    assert not re.search(r"\son[a-z]+\s*=", text)
    assert not re.search(r"<style", text)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text))


def test_vendored_files_are_those_of_the_manifest() -> None:
    manifest = json.loads((ROOT / "vendor" / "manifest.json").read_text(encoding="utf-8"))
    listed = {file["path"]: file["sha256"] for package in manifest["packages"] for file in package["files"]}
    there = [path for path in (WEB / "static" / "vendor").iterdir() if path.is_file()]
    assert there
    for path in there:
        name = path.relative_to(ROOT).as_posix()
        assert listed[name] == hashlib.sha256(path.read_bytes()).hexdigest()
    licences = {package["name"]: package["licence"] for package in manifest["packages"]}
    assert {"htmx.org", "openseadragon", "axe-core"} <= set(licences)


# --- acts ---------------------------------------------------------------------------------------------------


class Opened:
    """A finished tiny print in an app."""

    def __init__(self, asked: AskedApp, folder: Path) -> None:
        self.asked, self.folder = asked, folder
        self.id = asked.desk.registry.add(folder)

    def get(self, path: str, **more: Any) -> Any:
        return self.asked.browser.get(f"/print/{self.id}/{path}", **more)

    def post(self, path: str, **more: Any) -> Any:
        return self.asked.browser.post(f"/print/{self.id}/{path}", headers=AS_PART, **more)

    def decide(self, **fields: Any) -> Any:
        return self.post("decide", data=fields)


@pytest.fixture
def tiny(tmp_path: Path, made_print: Path) -> Iterator[Opened]:
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, made_print)
    asked.desk.holding.let_all_go()


def test_a_decision_is_written_and_the_work_asked_for(tiny: Opened) -> None:
    answer = tiny.decide(act="set-value", table="separation", key="trap_mm", value="0,7 mm")
    assert answer.status_code == 204
    assert "0.7" in json.loads(answer.headers["HX-Trigger"])["print-changed"]["said"]
    assert read_decisions(tiny.folder).separation.trap_mm == 0.7
    assert tiny.asked.jobs.asked_for == [(tiny.id, tiny.folder)]


def test_acts_are_taken_as_pages_send_them(tiny: Opened) -> None:
    at, into = (",".join(map(str, place)) for place in (IN_BLUE, IN_OCHRE))
    sent: list[dict[str, Any]] = [
        {"act": "add-recolour", "at": at, "to": "#3f6f90", "here": "true"},
        {"act": "add-merge", "at": at, "into": into, "everywhere": ""},
        {"act": "add-drop", "at": at},
        {"act": "add-name", "at": at, "name": "tide"},
        {"act": "set-value", "table": "design", "key": "colours", "value": "4"},
        {"act": "set-value", "table": "blocks", "key": "both_faces", "value": "false"},
        {"act": "set-face-method", "face": "A front", "method": "stencil"},
        {"act": "set-passes", "colour": "tide", "times": "3"},
        {"act": "set-trap-of", "colour": "tide", "mm": "0.3"},
        {"act": "set-key", "colour": "tide"},
        {"act": "set-edge-trap", "at": at, "mm": "0.3", "everywhere": "true"},
        {"act": "set-take", "colour": "tide", "shelf": "12"},
        {"act": "set-take", "colour": "tide", "shelf": "12", "times": "2"},
        {"act": "set-take", "colour": "tide", "shelf": ""},
        {"act": "set-mix-from", "colour": "reed, black", "pigment": ["bone black", "viridian"]},
        {"act": "set-pigments", "pigments": '["bone black"]'},
        {"act": "set-sharing", "how": "together", "colour": ["tide", "reed, black"]},
        {"act": "set-sharing", "how": "apart", "colours": '["tide", "reed, black"]'},
        {"act": "set-sharing", "how": "masked", "colour": ["tide"]},
        {"act": "set-palette", "hex": ["#f6efdf", "#3f6f8f"]},
        {"act": "add-accept", "finding": "neck-too-narrow", "at": at},
        {"act": "add-accept", "finding": "many-impressions", "at": ""},
        {"act": "set-order", "name": ["tide", "reed, black"]},
        {"act": "set-order", "names": '["tide", "reed, black"]'},
    ]
    for fields in sent:
        assert tiny.decide(**fields).status_code == 204, fields
    told = read_decisions(tiny.folder)
    assert (told.design.recolour[0].to, told.design.recolour[0].here) == ("#3f6f90", True)
    assert (told.design.merge[0].into, told.design.merge[0].everywhere) == (IN_OCHRE, False)
    assert (told.design.drop[0].at, told.design.name[-1].name) == (IN_BLUE, "tide")
    assert (told.design.colours, told.blocks.both_faces) == (4, False)
    assert told.separation.order == ("tide", "reed, black")
    assert (told.separation.passes[0].times, told.separation.trap[0].mm) == (2, 0.3)
    assert (told.inks.take, told.inks.pigments) == ((), ("bone black",))
    assert told.inks.mix_from[0].pigments == ("bone black", "viridian")
    assert told.design.palette == ("#f6efdf", "#3f6f8f")
    assert (told.blocks.together, told.blocks.masked) == ((), ("tide",))
    assert told.blocks.apart[0].inks == ("tide", "reed, black")
    assert [(each.finding, each.at) for each in told.print.accept] == [
        ("neck-too-narrow", IN_BLUE),
        ("many-impressions", None),
    ]
    assert told.cutting.face[0].method == "stencil"
    assert tiny.decide(act="take-back", table="design", key="drop", index="0").status_code == 204
    assert read_decisions(tiny.folder).design.drop == ()


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"act": "set-value", "table": "separation", "key": "trap_mm", "value": "wide"}, "0 to 10 mm"),
        ({"act": "set-value", "table": "separation", "key": "trap_mm", "value": "12"}, "0 to 10 mm"),
        ({"act": "set-value", "table": "design", "key": "colours", "value": "2.5"}, "whole"),
        ({"act": "set-passes", "colour": "tide", "times": "five"}, "whole number"),
        ({"act": "set-trap-of", "colour": "tide", "mm": "thick"}, "number"),
        ({"act": "add-drop", "at": "here"}, "two numbers"),
        ({"act": "add-drop"}, "missing"),
        ({"act": "burn"}, "nothing that can be decided"),
        ({}, "missing"),
        ({"act": "set-face-method", "face": "A front", "method": "axe"}, "nothing that can be decided"),
        ({"act": "set-value", "table": "no", "key": "such", "value": "1"}, "no table"),
    ],
)
def test_a_refusal_is_one_sentence_and_nothing_is_written(
    tiny: Opened, fields: dict[str, str], says: str
) -> None:
    before = (tiny.folder / "print.toml").read_bytes()
    answer = tiny.decide(**fields)
    assert answer.status_code == 422
    assert says in answer.text
    assert "<html" not in answer.text
    assert (tiny.folder / "print.toml").read_bytes() == before
    assert tiny.asked.jobs.asked_for == []


def test_undo_and_redo(tiny: Opened) -> None:
    tiny.decide(act="set-value", table="separation", key="trap_mm", value="0.9")
    assert "Undo: " in tiny.get("design").text
    assert tiny.post("undo").status_code == 204
    assert read_decisions(tiny.folder).separation.trap_mm == 0.5
    assert "Redo: " in tiny.get("impressions").text
    assert tiny.post("redo").status_code == 204
    assert read_decisions(tiny.folder).separation.trap_mm == 0.9
    tiny.post("stop")
    assert tiny.asked.jobs.stopped == [tiny.id]


def test_a_print_that_another_app_holds_may_only_be_looked_at(tmp_path: Path, tiny: Opened) -> None:
    assert tiny.get("design").status_code == 200
    other = AskedApp(tmp_path / "other", port=8361)
    second = Opened(other, tiny.folder)
    page = second.get("design", params={"at": f"{IN_BLUE[0]},{IN_BLUE[1]}"}).text
    assert words.look_only in page
    assert 'id="recolour-to"' not in page
    before = (tiny.folder / "print.toml").read_bytes()
    answer = second.decide(act="add-drop", at="1,1")
    assert answer.status_code in {403, 422}
    assert (tiny.folder / "print.toml").read_bytes() == before


@pytest.mark.parametrize("station", ["impressions", "inks", "blocks", "cutting", "proof"])
def test_a_station_with_nothing_of_its_own_shows_the_picture(
    tmp_path: Path, new_print: Path, station: str
) -> None:
    asked = AskedApp(tmp_path / "home")
    page = Opened(asked, new_print).get(station).text
    assert '"what": "picture"' in page
    assert 'class="one-side"' in page
    asked.desk.holding.let_all_go()


@pytest.mark.parametrize("station", ["design", "impressions"])
def test_a_print_that_cannot_be_read_says_so_in_place(tiny: Opened, station: str) -> None:
    tiny.decide(act="set-value", table="separation", key="trap_mm", value="0.9")
    (tiny.folder / "print.toml").write_text("[print\nwidth = wide", encoding="utf-8")
    answer = tiny.get(station)
    assert answer.status_code == 200
    assert words.wrong_print in answer.text
    assert "print.toml" in answer.text
    shutil.rmtree(tiny.folder)
    answer = tiny.get(station)
    assert answer.status_code == 200
    assert "There is no folder" in answer.text


def test_a_new_print_shows_its_picture_while_shapes_are_found(tmp_path: Path, new_print: Path) -> None:
    asked = AskedApp(tmp_path / "home")
    opened = Opened(asked, new_print)
    page = opened.get("design").text
    assert words.nothing_made in page
    assert '"what": "picture"' in page
    assert 'width-mm="60' in page
    assert words.nothing_made in opened.get("impressions").text
    assert opened.post("again").status_code == 204
    assert words.waiting_design in opened.get("design").text
    asked.desk.holding.let_all_go()


# --- help beside the thing ----------------------------------------------------------------------------------


@pytest.mark.parametrize("station", STATIONS)
def test_words_of_the_trade_are_explained_where_they_stand(tiny: Opened, station: str) -> None:
    page = tiny.get(station).text
    marked = re.findall(r'<dfn class="term" tabindex="0" aria-describedby="([\w-]+)">([^<]+)</dfn>', page)
    assert marked
    assert len({id for id, _ in marked}) == len(marked), "each where it first stands"
    known = {meaning_id(word): (word, meaning) for word, meaning in terms(station)}
    for id, said in marked:
        word, meaning = known[id]
        assert said.lower().rstrip("s") in word
        assert f'<dd id="{id}">{escape(meaning)}</dd>' in page


@pytest.mark.parametrize("station", STATIONS)
def test_every_setting_can_be_asked_where_its_value_comes_from(tiny: Opened, station: str) -> None:
    """All that is set as a plain value has its description, default and source behind a "why?"."""
    page = tiny.get(station).text
    asked = " ".join(re.findall(r'<details class="why">.*?</details>', page, flags=re.DOTALL))
    settings = re.findall(r'id="set-(\w+?)-(\w+)"', page)
    assert settings or station == "impressions"
    for table, key in settings:
        side = re.fullmatch(r"margin_(left|right|top)_mm", key)
        told = why(table, "margin_bottom_mm" if side else key)
        assert str(escape(told)) in asked, key
        known = r"Common practice|Derived|Published|From memory|follows the picture|the picture decides"
        known += r"|from the pigments on the shelf"
        assert side or re.search(known, told), told


def test_what_may_stand_no_more_is_not_counted(tiny: Opened) -> None:
    """Findings of stages that are from before a change are told as such, not as things to look at."""
    fresh = tiny.get("design").text
    assert words.state_fresh in fresh
    least = read_decisions(tiny.folder).design.least_area_mm2
    tiny.decide(act="set-value", table="design", key="least_area_mm2", value=f"{least + 900:g}")
    page = tiny.get("blocks").text
    standing = re.search(r'<p id="settled".*?</p>', page, flags=re.DOTALL)
    assert standing
    assert words.fmt("stale_from", station="design") in standing[0]
    assert "to look at" not in standing[0]
    assert 'class="asks"' not in page.partition("<main")[0]
    assert page.count(f"({words.stale_one})") == len(STATIONS)


# --- parts, tiles and files ---------------------------------------------------------------------------------


def _outline(part: str) -> shapely.Polygon:
    told = re.search(r"data-outline='([^']*)'", part)
    assert told
    rings = json.loads(told[1])
    return shapely.Polygon(rings[0], rings[1:])


def test_a_shape_is_told_with_its_outline(tiny: Opened) -> None:
    part = tiny.get("shape", params={"x": IN_BLUE[0], "y": IN_BLUE[1]}, headers=AS_PART).text
    assert _outline(part).contains(shapely.Point(IN_BLUE))
    assert not _outline(part).contains(shapely.Point(IN_OCHRE))
    # The disc has a radius of 35 pixels of 0.375 mm; a quarter and more of it lies off the rectangle.
    assert 250 < _outline(part).area < 560
    assert words.no_shape in tiny.get("shape", params={"x": OUTSIDE[0], "y": OUTSIDE[1]}).text
    assert tiny.get("shape", params={"x": "near", "y": "1"}, headers=AS_PART).status_code == 422


def test_a_script_gets_the_parts_and_a_browser_the_page(tiny: Opened) -> None:
    for station in ("design", "impressions"):
        page, part = tiny.get(station).text, tiny.get(station, headers=AS_PART).text
        assert page.count("<!doctype html>") == 1
        assert "<!doctype html>" not in part
        assert part.count('<main id="station"') == page.count('<main id="station"') == 1
        assert part.count('hx-swap-oob="outerMorph"') == 3


def test_the_rack_shows_what_is_decided_before_it_is_worked_out(tiny: Opened) -> None:
    names = re.findall(r'<li id="row-[^"]*" data-name="([^"]*)"', tiny.get("impressions").text)
    assert len(names) == 3
    turned = names[::-1]
    tiny.decide(act="set-order", name=turned)
    tiny.decide(act="set-passes", colour=turned[0], times="2")
    page = tiny.get("impressions", params={"of": turned[0]}).text
    assert re.findall(r'<li id="row-[^"]*" data-name="([^"]*)"', page) == turned
    assert '<option value="2" selected>' in page


def test_tiles_come_by_version_only(tiny: Opened) -> None:
    about = tiny.get("tiles/shapes.json").json()
    address = f"tiles/shapes/{about['version']}/0/0_0.jpg"
    answer = tiny.get(address)
    assert answer.status_code == 200
    assert "immutable" in answer.headers["Cache-Control"]
    picture = Image.open(io.BytesIO(answer.content))
    assert picture.format == "JPEG"
    assert picture.width / picture.height == pytest.approx(160 / 120, rel=0.02)
    assert tiny.get(address.replace(about["version"], "0" * 16)).status_code == 404
    assert tiny.get(address.replace("0_0", "9_9")).status_code == 404
    assert tiny.get("tiles/nothing.json").status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        "files/cutting/..%2F..%2F..%2Fprint.toml",
        "files/cutting/.made.json",
        "files/cutting/cutting.json",
        "files/..%2F/print.toml",
        "files/design/%2Fetc%2Fpasswd",
        "sheets/..%2F..%2Fpacket/face-down/1.png",
        "sheets/A-front/face-sideways/1.png",
        "sheets/A-front/face-down/99.png",
    ],
)
def test_only_files_that_a_stage_lists_are_served(tiny: Opened, path: str) -> None:
    assert tiny.get(path).status_code == 404


def test_the_files_of_the_bench(tiny: Opened) -> None:
    assert tiny.get("files/cutting/A-front.svg").text.startswith("<?xml")
    assert tiny.get("packet.pdf").content.startswith(b"%PDF-")
    first, second = tiny.get("bench.zip").content, tiny.get("bench.zip").content
    assert first == second
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert archive.testzip() is None
        inside = set(archive.namelist())
    assert {"A-front.svg", "A-front.dxf", "A-front-face-down.pdf", "packet.pdf"} <= inside
    assert not any(name.endswith(".json") for name in inside)
    sheet = Image.open(io.BytesIO(tiny.get("sheets/A-front/face-down/1.png").content))
    # A4 upright or across (ISO 216), at 60 pixels to the inch.
    assert sorted(sheet.size) == pytest.approx(sorted((210 / 25.4 * 60, 297 / 25.4 * 60)), abs=1.5)


@pytest.mark.parametrize(
    ("path", "what"),
    [
        ("packet.pdf", "packet"),
        ("bench.zip", "files"),
        ("files/cutting/A-front.svg", "files"),
        ("sheets/A-front/face-down/1.png", "files"),
    ],
)
def test_what_is_older_than_the_last_change_is_not_given_out(tiny: Opened, path: str, what: str) -> None:
    assert tiny.get(path).status_code == 200
    tiny.decide(act="set-value", table="separation", key="trap_mm", value="0.7")
    assert (tiny.folder / "out" / "packet.pdf").is_file()
    answer = tiny.get(path)
    assert answer.status_code == 409
    assert words.TEXTS[f"{what}_stale"] in answer.text
    assert words.TEXTS[f"{what}_again"] in answer.text
    station = "proof" if what == "packet" else "cutting"
    assert f'href="/print/{tiny.id}/{station}"' in answer.text
    tiny.asked.jobs.asked_for.clear()
    assert words.TEXTS[f"{what}_ask"] in tiny.get(path).text
    # The same decision as before makes what lies there right again.
    tiny.post("undo")
    assert tiny.get(path).status_code == 200


def test_the_first_time_is_told_roughly_and_no_number_is_made_up(tmp_path: Path, new_print: Path) -> None:
    asked = AskedApp(tmp_path / "home")
    opened = Opened(asked, new_print)
    assert words.waiting_rough not in opened.get("design").text
    opened.post("again")
    text = opened.get("design").text
    assert words.waiting_design in text
    assert words.waiting_rough in text
    asked.close()


def test_a_packet_that_was_never_written_is_said_to_be_missing(tiny: Opened) -> None:
    (tiny.folder / "out" / "packet.pdf").unlink()
    answer = tiny.get("packet.pdf")
    assert answer.status_code == 404
    assert words.packet_missing in answer.text


# --- in a browser -------------------------------------------------------------------------------------------


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    """A page of the tiny print's Design, on a desk's screen; a request to anywhere else fails the test."""
    context = chromium.new_context(viewport={"width": 1440, "height": 900})
    opened = context.new_page()
    wrong: list[str] = []
    own = _own(address)
    opened.on(
        "request",
        lambda asked: None if asked.url.startswith((own, "data:", "blob:")) else wrong.append(asked.url),
    )
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on(
        "console", lambda said: wrong.append(said.text) if "Content Security Policy" in said.text else None
    )
    opened.goto(address)
    opened.goto(_station(address, "design"))
    opened.wait_for_selector("sheet-view .paper")
    yield opened
    context.close()
    assert wrong == []


def _own(address: str) -> str:
    return address.partition("/print")[0]


def _station(address: str, station: str) -> str:
    return re.sub(r"/\?token=.*", f"/{station}", address)


def test_a_click_chooses_the_shape_under_it(page: Page) -> None:
    box = page.locator("sheet-view .paper").bounding_box()
    assert box
    # The sheet is 60 by 45 mm with 15 mm of margin on every side.
    scale = box["width"] / 90
    page.mouse.click(box["x"] + (15 + IN_BLUE[0]) * scale, box["y"] + (15 + IN_BLUE[1]) * scale)
    page.wait_for_selector("#shape [data-outline]")
    told = page.get_attribute("#shape [data-outline]", "data-outline")
    assert _outline(f"data-outline='{told}'").contains(shapely.Point(IN_BLUE))
    assert page.locator("sheet-view svg.drawn path.line").count() == 1
    assert "at=" in page.url


def test_every_shape_is_reached_by_keys(page: Page) -> None:
    page.focus("#palette button.colour")
    page.keyboard.press("Enter")
    page.wait_for_selector("#shape [data-at]")
    first = page.get_attribute("#shape [data-at]", "data-colour")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#shape [data-at]")).not_to_have_attribute("data-colour", first or "")
    expect(page.locator(".palette [aria-current]")).to_have_count(1)


def test_the_divider_and_the_sheet_answer_to_keys(page: Page) -> None:
    page.focus("sheet-view .divider")
    before = int(page.get_attribute("sheet-view .divider", "aria-valuenow") or 0)
    page.keyboard.press("ArrowRight")
    assert int(page.get_attribute("sheet-view .divider", "aria-valuenow") or 0) > before
    page.keyboard.press("Home")
    expect(page.locator("sheet-view .divider")).to_have_attribute("aria-valuenow", "0")
    width = page.locator("sheet-view .paper").bounding_box()
    page.focus("sheet-view .canvas")
    page.keyboard.press("+")
    page.wait_for_timeout(800)
    nearer = page.locator("sheet-view .paper").bounding_box()
    assert width
    assert nearer
    assert nearer["width"] == pytest.approx(1.5 * width["width"], rel=0.02)
    page.keyboard.press("0")
    page.wait_for_timeout(800)
    whole = page.locator("sheet-view .paper").bounding_box()
    assert whole
    assert whole["width"] == pytest.approx(width["width"], rel=0.01)


def test_a_refusal_stands_beside_its_field_and_typing_outlives_a_refresh(page: Page) -> None:
    page.fill("#set-design-speck_mm2", "plenty")
    page.keyboard.press("Enter")
    expect(page.locator(".refusal:not(:empty)")).to_have_count(1)
    expect(page.locator(".refusal:not(:empty)")).to_contain_text("0 to 100 mm2")
    page.fill("#set-design-smoothing_mm", "0.2")
    page.evaluate("document.querySelector('print-stream').refresh()")
    page.wait_for_timeout(500)
    assert page.input_value("#set-design-smoothing_mm") == "0.2"
    assert page.evaluate("document.activeElement.id") == "set-design-smoothing_mm"
    assert page.locator(".refusal:not(:empty)").count() == 1
    page.keyboard.press("Escape")
    assert page.input_value("#set-design-smoothing_mm") == "0.12"


def test_the_rack_chooses_and_moves_by_keys(page: Page, address: str) -> None:
    page.goto(_station(address, "impressions"))
    names = page.locator("#rack li").evaluate_all("rows => rows.map(row => row.dataset.name)")
    page.focus("#rack .place")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#impression h2")).to_contain_text(names[1])
    page.keyboard.press("Alt+ArrowDown")
    expect(page.locator("#announce")).to_contain_text(names[1])
    moved = [names[0], names[2], names[1]]
    expect(page.locator("#rack .name")).to_have_text(moved)
    assert page.evaluate("document.activeElement.closest('li').dataset.name") == names[1]
    page.wait_for_selector("#undo")
    page.keyboard.press("Control+z")
    expect(page.locator("#rack .name")).to_have_text(names)


def test_the_room_is_kept(page: Page) -> None:
    light = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.click("[data-room-switch]")
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert light != dark
    page.reload()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == dark
    # The sheet itself has its own paper in either room.
    page.wait_for_selector("sheet-view .paper")
    assert (
        page.evaluate("document.querySelector('sheet-view .paper').style.background") == "rgb(246, 239, 223)"
    )
