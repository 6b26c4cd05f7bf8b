"""The stations Blocks, Cutting and Proof: what they show of a print, what they offer, and by which keys."""

# ruff: noqa: F401, F811 (fixtures are imported, and named where they are asked for)

import io
import json
import re
import shutil
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from asked_app import AskedApp
from browsing import SCREENS
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from test_stations_look import (
    AS_PART,
    Opened,
    _station,
    address,
    chromium,
    house,
    page,
    tiny,
)

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.looking import look
from blockwright.web import words
from blockwright.web.findings import shown
from blockwright.web.routed import minutes_said

Mask = np.ndarray[Any, np.dtype[np.bool_]]

STATIONS = ("blocks", "cutting", "proof")


def _told(opened: Opened, stage: str) -> Any:
    return json.loads((opened.folder / "out" / stage / f"{stage}.json").read_text(encoding="utf-8"))


def _faces(text: str) -> list[str]:
    return re.findall(r'<li id="row-[^"]*" data-name="([^"]*)"', text)


def _source(text: str, pattern: str) -> str:
    """The address of the first picture that matches, relative to the print."""
    found = re.search(rf'src="/print/[^/]+/({pattern}[^"]*)"', text)
    assert found
    return found[1].replace("&amp;", "&")


# --- what stands as decided, and what does not --------------------------------------------------------------


@pytest.mark.parametrize("station", STATIONS)
def test_a_browser_gets_the_page_and_a_script_the_parts(tiny: Opened, station: str) -> None:
    whole, part = tiny.get(station), tiny.get(station, headers=AS_PART)
    assert whole.status_code == part.status_code == 200
    assert whole.text.count("<!doctype html>") == 1
    assert "<!doctype html>" not in part.text
    assert part.text.count('<main id="station"') == whole.text.count('<main id="station"') == 1
    assert 'class="stands"' not in whole.text


@pytest.mark.parametrize("station", STATIONS)
def test_after_a_change_the_last_result_is_shown_and_said_to_be_that(tiny: Opened, station: str) -> None:
    tiny.decide(act="set-value", table="design", key="smoothing_mm", value="0.3")
    asked = tiny.asked.jobs.asked_for
    asked.clear()
    text = tiny.get(station).text
    assert words.stands_stale in text
    assert words.stands_again in text
    assert 'id="place-A-front"' in text or 'id="at-1"' in text
    for offered in ("/files/", "/sheets/", "bench.zip", "packet.pdf"):
        assert offered not in text
    tiny.post("again")
    assert 'id="stands-again"' not in tiny.get(station).text


@pytest.mark.parametrize("station", STATIONS)
def test_a_new_print_says_that_nothing_is_made(tmp_path: Path, new_print: Path, station: str) -> None:
    asked = AskedApp(tmp_path / "home")
    opened = Opened(asked, new_print)
    answer = opened.get(station)
    assert answer.status_code == 200
    assert words.TEXTS[f"not_yet_{station}"] in answer.text
    opened.post("again")
    assert words.TEXTS[f"waiting_{station}"] in opened.get(station).text
    asked.close()


@pytest.mark.parametrize("station", STATIONS)
def test_a_print_that_cannot_be_read_says_so_in_place(tiny: Opened, station: str) -> None:
    (tiny.folder / "print.toml").write_text("[print\nwidth = wide", encoding="utf-8")
    answer = tiny.get(station)
    assert answer.status_code == 200
    assert words.wrong_print in answer.text
    shutil.rmtree(tiny.folder)
    assert tiny.get(station).status_code == 200


@pytest.mark.parametrize(
    "asked",
    [
        "blocks?face=Z+front&seen=sideways",
        "cutting?face=&sheet=inside-out&page=-1",
        "cutting?page=999999999999",
        "cutting?page=²",
        "proof?after=0",
        "proof?after=99",
        "proof?after=two",
    ],
)
def test_an_address_that_names_nothing_shows_the_first_thing_there_is(tiny: Opened, asked: str) -> None:
    assert tiny.get(asked).status_code == 200


# --- Blocks -------------------------------------------------------------------------------------------------


def test_every_face_is_listed_with_what_it_carries(tiny: Opened) -> None:
    text = tiny.get("blocks").text
    told = _told(tiny, "blocks")
    faces = [face for board in told["boards"] for face in board["faces"]]
    assert _faces(text) == [face["name"] for face in faces]
    names = {each["number"]: each["name"] for each in _told(tiny, "separation")["impressions"]}
    for face in faces:
        carried = ", ".join(f"{n} {names[n]}" for n in face["impressions"])
        assert f'<span class="face">{carried}</span>' in text
    bound, there = told["figures"]["faces_lower_bound"], told["figures"]["faces"]
    proven = words.faces_fewest if bound == there else words.count("faces_bound_open", bound)
    assert proven in text


def _printing(png: bytes, tint: str) -> Mask:
    """Where a picture of a face has the colour of what prints."""
    pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=np.int16)
    wanted = np.array([int(tint[k : k + 2], 16) for k in (1, 3, 5)])
    return np.asarray((np.abs(pixels - wanted).max(axis=2) < 4), dtype=np.bool_)


def test_a_face_is_mirrored_for_the_carver_and_right_reading_as_it_prints(tiny: Opened) -> None:
    """Each is the other turned over its upright middle line, and not the other as it is."""
    impressions = _told(tiny, "separation")["impressions"]
    boards = _told(tiny, "blocks")["boards"]
    carriers = {n: face["name"] for board in boards for face in board["faces"] for n in face["impressions"]}
    turned, straight = [], []
    for each in impressions:
        masks = {}
        for seen in ("carver", "print"):
            text = tiny.get("blocks", params={"face": carriers[each["number"]], "seen": seen}).text
            answer = tiny.get(_source(text, r"faces/[^\"]*\.png"))
            assert answer.headers["content-type"] == "image/png"
            masks[seen] = _printing(answer.content, each["hex"])
            assert masks[seen].sum() > 500
        turned.append(_common(masks["carver"], masks["print"][:, ::-1]))
        straight.append(_common(masks["carver"], masks["print"]))
    assert min(straight) < 0.8
    # The block stands in the middle of its picture; smoothed edges and dark words may differ.
    assert min(turned) > 0.95


def _common(one: Mask, other: Mask) -> float:
    """How much of one mask lies in another, give or take a pixel."""
    near = other | np.roll(other, 1, axis=1) | np.roll(other, -1, axis=1)
    return float((one & near).sum() / one.sum())


def test_pictures_of_faces_are_kept_by_version(tiny: Opened) -> None:
    text = tiny.get("blocks").text
    for pattern, kind in ((r"faces/[^\"]*\.png", "image/png"), (r"faces/[^\"]*\.svg", "image/svg+xml")):
        source = _source(text, pattern)
        answer = tiny.get(source)
        assert answer.headers["content-type"].startswith(kind)
        assert "immutable" in answer.headers["Cache-Control"]
        older = tiny.get(re.sub(r"v=\w+", "v=000000000000", source))
        assert older.content == answer.content
        assert "no-cache" in older.headers["Cache-Control"]
    tiny.decide(act="set-value", table="design", key="smoothing_mm", value="0.3")
    # What is from before a change is shown, and not kept under the address of what comes.
    stale = tiny.get(_source(tiny.get("blocks").text, r"faces/[^\"]*\.png"))
    assert stale.status_code == 200
    assert "no-cache" in stale.headers["Cache-Control"]


@pytest.mark.parametrize(
    "path",
    [
        "faces/Z-front.png",
        "faces/A-front.pdf",
        "faces/A-front.png?seen=upside-down",
        "faces/..%2F..%2Fprint.toml.png",
        "faces/A-front.svg?seen=",
    ],
)
def test_only_faces_that_there_are_have_pictures(tiny: Opened, path: str) -> None:
    assert tiny.get(path).status_code == 404


def test_a_value_that_cannot_be_read_leaves_the_page_whole(tiny: Opened) -> None:
    (tiny.folder / "out" / "blocks" / "value.json").write_text('{"boards": 3}', encoding="utf-8")
    text = tiny.get("blocks").text
    assert words.no_face_picture in text
    assert "/faces/" not in text
    assert tiny.get("cutting").status_code == 200


def test_what_blocks_decides_is_written(tiny: Opened) -> None:
    text = tiny.get("blocks").text
    fields = re.findall(r'id="set-blocks-(\w+)"', text)
    settings = read_decisions(tiny.folder).blocks
    lists = {"stock", "together", "apart", "masked", "on_part_block", "on_full_block"}
    assert set(fields) == set(type(settings).model_fields) - lists
    tiny.decide(act="set-value", table="blocks", key="kagi_corner", value="upper left")
    tiny.decide(act="set-value", table="blocks", key="both_faces", value="false")
    now = read_decisions(tiny.folder).blocks
    assert (now.kagi_corner, now.both_faces) == ("upper left", False)
    again = tiny.get("blocks").text
    assert '<option value="upper left" selected>' in again
    assert '<option value="false" selected>' in again


def test_a_mark_in_the_image_is_answered_with_the_margin_that_it_needs(tiny: Opened) -> None:
    """Told by the blocks themselves: one act after the other, until nothing stops the work."""
    tiny.decide(act="set-value", table="blocks", key="margin_left_mm", value="0")
    tiny.decide(act="set-value", table="blocks", key="margin_bottom_mm", value="0")
    tiny.decide(act="set-value", table="blocks", key="rim_mm", value="0")
    tiny.decide(act="set-value", table="blocks", key="block_over_mm", value="0")
    for _ in range(8):
        project.make(tiny.folder, upto="blocks")
        stops = [f for f in look(tiny.folder).open_findings("blocks") if f["severity"] == "stop"]
        if not stops:
            break
        (found,) = shown(stops[:1], look(tiny.folder), stage="blocks")
        assert words.fmt("finding_head") in tiny.get("blocks").text
        assert found.answers[0].said in tiny.get("blocks").text
        assert tiny.decide(**found.answers[0].fields).status_code == 204
    assert stops == []


# --- Cutting ------------------------------------------------------------------------------------------------


def test_every_page_is_shown_before_it_is_printed(tiny: Opened) -> None:
    for kind in ("face-down", "face-up"):
        text = tiny.get("cutting", params={"sheet": kind}).text
        with pypdfium2.PdfDocument(tiny.folder / "out" / "cutting" / f"A-front-{kind}.pdf") as document:
            total = len(document)
        pages = re.findall(rf'src="/print/[^/]+/(sheets/A-front/{kind}/\d+\.png[^"]*)"', text)
        assert len(pages) == total
        for each in pages:
            assert tiny.get(each).headers["content-type"] == "image/png"
    assert 'id="one-page"' in tiny.get("cutting", params={"page": "1"}).text


def test_files_are_offered_by_name_with_what_each_is_for(tiny: Opened) -> None:
    text = tiny.get("cutting").text
    told = _told(tiny, "cutting")["faces"][0]
    offered = re.findall(r'href="/print/[^/]+/(files/cutting/[^"]+)"', text)
    assert [each.rsplit("/", 1)[1] for each in offered] == told["files"]
    for each in offered:
        assert tiny.get(each).status_code == 200
    for key in ("file_down", "file_up", "file_dxf", "file_svg"):
        assert words.TEXTS[key] in text
    with zipfile.ZipFile(io.BytesIO(tiny.get("bench.zip").content)) as archive:
        number = len(archive.namelist())
    assert words.fmt("bench_said", number=number - 1) in text


def test_an_old_packet_is_no_part_of_the_bench(tiny: Opened) -> None:
    tiny.decide(act="set-value", table="proof", key="dpi", value="72")
    found = look(tiny.folder)
    assert found.stage("cutting").state == "fresh"
    assert not found.packet_fresh
    with zipfile.ZipFile(io.BytesIO(tiny.get("bench.zip").content)) as archive:
        assert "packet.pdf" not in archive.namelist()
        assert "A-front.svg" in archive.namelist()
    assert "packet.pdf" not in tiny.get("proof").text
    assert words.packet_writing in tiny.get("proof").text
    tiny.asked.jobs.asked_for.clear()
    assert words.packet_old in tiny.get("proof").text


def test_a_stencil_brings_its_cautions_and_no_hours_of_carving(tiny: Opened) -> None:
    by_hand = tiny.get("cutting").text
    told = _told(tiny, "cutting")
    assert minutes_said(sum(face["minutes"] for face in told["faces"])) in by_hand
    assert "Sandblasting" not in by_hand
    tiny.decide(act="set-face-method", face="A front", method="stencil")
    text = tiny.get("cutting").text
    assert "Sandblasting" in text
    assert "data sheets" in text
    assert 'id="set-cutting-oversize_mm"' in text
    assert words.TEXTS["short_stencil"] in text
    # The minutes that are there were worked out for carving by hand.
    assert words.fmt("hours_face", face="A front", time=minutes_said(told["faces"][0]["minutes"])) not in text
    tiny.decide(act="set-face-method", face="A front", method="")
    assert read_decisions(tiny.folder).cutting.face == ()


def test_the_roll_has_a_width_and_sheets_have_none(tiny: Opened) -> None:
    assert 'id="set-cutting-roll_mm"' not in tiny.get("cutting").text
    tiny.decide(act="set-value", table="cutting", key="paper", value="roll")
    assert 'id="set-cutting-roll_mm"' in tiny.get("cutting").text


def test_a_way_of_cutting_for_a_face_that_is_not_there_can_be_forgotten(tiny: Opened) -> None:
    tiny.decide(act="set-face-method", face="Z front", method="stencil")
    message = '[[cutting.face]] names the face "Z front", which does not exist; the faces are A front.'
    about = {"face": "Z front"}
    raw = {"code": "face-not-known", "severity": "warn", "message": message, "at": None, "about": about}
    (found,) = shown([raw], look(tiny.folder), stage="cutting")
    assert tiny.decide(**found.answers[0].fields).status_code == 204
    assert read_decisions(tiny.folder).cutting.face == ()


# --- Proof --------------------------------------------------------------------------------------------------


def test_the_worst_shapes_come_first_and_are_pinned(tiny: Opened) -> None:
    path = tiny.folder / "out" / "proof" / "proof.json"
    told = json.loads(path.read_text(encoding="utf-8"))
    for delta, shape in zip((0.4, 6.3, 2.2, 9.9), told["shapes"], strict=False):
        shape["delta_e00"] = delta
    path.write_text(json.dumps(told), encoding="utf-8")
    text = tiny.get("proof").text
    off = [float(each) for each in re.findall(r"differs by\s([\d.]+)\s±\s[\d.]+<br>", text)]
    far = sorted((each["delta_e00"] for each in told["shapes"] if each["delta_e00"] >= 1), reverse=True)
    assert off == pytest.approx(far, abs=0.05)
    assert len(off) >= 2
    found = re.search(r"pins='([^']*)'", text)
    assert found
    pins = json.loads(found[1])
    assert [pin["number"] for pin in pins] == [str(k + 1) for k in range(len(off))]
    worst = max(told["shapes"], key=lambda each: each["delta_e00"])
    assert pins[0]["at"] == pytest.approx(worst["at"], abs=0.001)


def test_the_figures_are_said_in_words_and_to_be_predicted(tiny: Opened) -> None:
    path = tiny.folder / "out" / "proof" / "proof.json"
    told = json.loads(path.read_text(encoding="utf-8"))
    for median, most, risk, says in (
        (1.23, 3.41, 2.5, ("within 1.2 of the design", "within 3.4", "about 2.5 %")),
        (0.0, 1.92, 12.3, ("as in the design", "within 1.9", "about 12 %")),
        (0.0, 0.01, 0.0, (words.near_all, words.risk_none)),
    ):
        told["figures"] = {
            "median_delta_e00": median,
            "p95_delta_e00": most,
            "register_risk_percent": risk,
        }
        if words.near_all in says:
            told["shapes"] = [{**each, "delta_e00": 0.0} for each in told["shapes"]]
        path.write_text(json.dumps(told), encoding="utf-8")
        text = tiny.get("proof").text
        assert words.proof_under in text
        for each in says:
            assert each in text
    assert "packet.pdf" in text


def test_the_progressive_proofs_are_stepped_through(tiny: Opened) -> None:
    total = len(_told(tiny, "separation")["impressions"])
    text = tiny.get("proof").text
    assert len(re.findall(r'<li id="step-\d+"', text)) == total
    assert '"what": "proof"' in text
    assert 'id="step-later"' not in text
    first = tiny.get("proof", params={"after": "1"}).text
    assert '"what": "after-01"' in first
    assert 'id="step-earlier"' not in first
    assert 'href="?after=2"' in first


# --- in a browser -------------------------------------------------------------------------------------------


def test_faces_are_chosen_by_arrows_and_the_other_way_of_seeing_by_enter(page: Page, address: str) -> None:
    page.goto(_station(address, "blocks"))
    page.focus("#place-A-front")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#face h2")).to_have_text("A back")
    assert page.evaluate("document.activeElement.id") == "place-A-back"
    page.focus("#seen-print")
    page.keyboard.press("Enter")
    expect(page.locator("#seen-print")).to_have_attribute("aria-current", "true")
    expect(page.locator("#face h2")).to_have_text("A back")
    expect(page.locator("#plate img")).to_have_js_property("complete", True)
    assert page.locator("#plate img").evaluate("picture => picture.naturalWidth") > 0


def test_the_picture_of_a_face_never_leaves_its_place(page: Page, address: str) -> None:
    for width, height in SCREENS.values():
        page.set_viewport_size({"width": width, "height": height})
        for place, what in (("blocks", "#plate img"), ("cutting?page=1", "#plate img")):
            page.goto(_station(address, place))
            page.wait_for_load_state("load")
            assert page.locator(what).evaluate("picture => picture.naturalWidth") > 0
            picture, plate = page.locator(what).bounding_box(), page.locator("#plate").bounding_box()
            assert picture
            assert plate
            assert picture["y"] >= plate["y"]
            assert picture["y"] + picture["height"] <= plate["y"] + plate["height"] + 0.5
            assert picture["width"] <= plate["width"]


def test_a_stencil_is_chosen_by_keys(page: Page, address: str) -> None:
    page.goto(_station(address, "cutting"))
    page.focus("#face-method")
    page.keyboard.press("End")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    expect(page.locator("#cautions-stencil")).to_contain_text("Sandblasting")
    page.keyboard.press("Tab")
    page.locator("#undo").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#cautions-stencil")).to_have_count(0)


def test_proofs_are_stepped_by_arrows_and_the_worst_is_shown(page: Page, address: str) -> None:
    page.goto(_station(address, "proof"))
    steps = page.locator("#steps a").count()
    page.focus(f"#at-{steps}")
    page.keyboard.press("ArrowLeft")
    expect(page.locator(f"#at-{steps - 1}")).to_have_attribute("aria-current", "true")
    assert page.evaluate("document.activeElement.id") == f"at-{steps - 1}"
    page.keyboard.press("Home")
    expect(page.locator("#at-1")).to_have_attribute("aria-current", "true")
    assert "after=1" in page.url
    page.keyboard.press("End")
    expect(page.locator(f"#at-{steps}")).to_have_attribute("aria-current", "true")
