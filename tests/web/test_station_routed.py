"""The station Cutting with a face that is routed: what is said, offered, and sent of its relief."""

import io
import json
import re
import shutil
import struct
import zipfile
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from asked_app import AskedApp
from PIL import Image
from routed_print import CHOICES, DEEPEST_MM, FACE, GOUGED_AT, SLUG, STEP_MM, route
from test_stations_look import Opened

from blockwright import bits, history, studio
from blockwright.decisions import read_decisions
from blockwright.documents.height_png import read_heights
from blockwright.looking import look
from blockwright.model.settings import Settings
from blockwright.web import words
from blockwright.web.faces import blocks_now, faces_told
from blockwright.web.findings import FindingShown, shown
from blockwright.web.routed import face_cut, findings_at, routed_shown


@pytest.fixture(scope="module")
def _routed_once(tmp_path_factory: pytest.TempPathFactory, _made_once: Path) -> Path:
    folder = Path(shutil.copytree(_made_once, tmp_path_factory.mktemp("routed") / "tiny"))
    route(folder)
    return folder


@pytest.fixture
def routed(tmp_path: Path, _routed_once: Path) -> Any:
    folder = Path(shutil.copytree(_routed_once, tmp_path / "tiny"))
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, folder)
    asked.desk.holding.let_all_go()


def _attribute(text: str, name: str) -> str:
    found = re.search(rf"<relief-view[^>]*\s{name}=(?:\"([^\"]*)\"|'([^']*)')", text)
    assert found, name
    return unescape(found[1] if found[1] is not None else found[2])


def _within(opened: Opened, address: str) -> str:
    return address.removeprefix(f"/print/{opened.id}/")


def _shown(settings: Settings | None, opened: Opened, **changes: Any) -> Any:
    cut = face_cut(look(opened.folder), FACE)
    assert cut is not None
    assert cut.routing is not None
    assert settings is not None
    face = faces_told(look(opened.folder))[0]
    return routed_shown(replace(cut.routing, **changes), settings, face, (), tinted=False)


# --- the way of cutting -------------------------------------------------------------------------------------


def test_each_way_of_cutting_says_what_it_means_and_is_undone(tiny_to_decide: Opened) -> None:
    tiny = tiny_to_decide
    for method in ("stencil", "router", "hand"):
        assert tiny.decide(act="set-face-method", face=FACE, method=method).status_code == 204
        text = tiny.get("cutting").text
        means = re.search(r'id="method-means">(.*?)</p>', text)
        assert means
        assert unescape(re.sub("<[^>]*>", "", means[1])) == words.TEXTS[f"means_{method}"]
        assert ("Cut air first, above the work" in text) is (method == "router")
    history.undo(tiny.folder)
    assert read_decisions(tiny.folder).cutting.face[0].method == "router"
    tiny.decide(act="set-value", table="cutting", key="method", value="router")
    assert read_decisions(tiny.folder).cutting.method == "router"
    assert tiny.decide(act="set-face-method", face=FACE, method="axe").status_code == 422


@pytest.fixture
def tiny_to_decide(tmp_path: Path, made_print: Path) -> Any:
    asked = AskedApp(tmp_path / "home")
    yield Opened(asked, made_print)
    asked.desk.holding.let_all_go()


def test_a_face_of_which_no_programs_are_there_yet_says_so(tiny_to_decide: Opened) -> None:
    tiny_to_decide.decide(act="set-face-method", face=FACE, method="router")
    text = unescape(tiny_to_decide.get("cutting").text)
    assert words.router_later in text
    assert "<relief-view" not in text
    assert 'id="shop"' not in text


def test_a_face_that_is_cut_by_hand_again_shows_nothing_of_the_router(routed: Opened) -> None:
    assert "<relief-view" in routed.get("cutting").text
    routed.decide(act="set-face-method", face=FACE, method="")
    text = routed.get("cutting").text
    for gone in ("<relief-view", 'id="routed"', 'id="bit-sets"', 'id="shop"'):
        assert gone not in text


# --- what is said -------------------------------------------------------------------------------------------


def test_times_and_what_is_left_are_said(routed: Opened) -> None:
    text = unescape(routed.get("cutting").text)
    for said in (
        "The router by the window runs for 18\u00a0minutes on this face.",
        "Ground, marks and rim take 14\u00a0minutes at the very least; it runs for 1.3 times that.",
        "2 places of what prints, the narrowest 0.22\u00a0mm wide",
        "what prints is not touched; 99.4\u00a0% of the ground",
        "the marks lie within 0.02\u00a0mm of their places",
    ):
        assert said in text
    assert 'id="held-back"' not in text


def test_one_place_and_none_are_said_as_such(routed: Opened) -> None:
    settings = look(routed.folder).settings
    one = _shown(settings, routed, hand_places=1)
    assert any(said.startswith("One place of ") for said in one.said)
    none = _shown(settings, routed, hand_places=0, narrow=(), lower_bound_min=0.0)
    assert words.route_no_hand in none.said
    assert not any("narrow" in said or "times that" in said for said in none.said)


def test_the_bits_are_offered_with_both_their_minutes(routed: Opened) -> None:
    text = unescape(routed.get("cutting").text)
    table = re.search(r'<table class="bit-sets">.*?</table>', text, re.DOTALL)
    assert table
    rows = re.findall(r"<tr[^>]*><th scope=\"row\">.*?</tr>", table[0], re.DOTALL)
    assert len(rows) == len(CHOICES)
    for row, choice in zip(rows, CHOICES, strict=True):
        assert re.findall(r'class="bits">([^<,]*)', row) == list(choice.bits)
        minutes = re.findall(r"(\d+)\u00a0min", row)
        assert minutes == [f"{choice.router_min:.0f}", f"{choice.hand_min:.0f}"]
    # The bits that the programs were written for are the first set's.
    assert [words.bits_here in row for row in rows] == [True, False, False]


def test_what_holds_a_bit_back_and_a_bit_that_is_not_needed_are_said(routed: Opened) -> None:
    text = unescape(routed.get("cutting").text)
    assert "It could be fed 1900 mm a minute." in text
    assert f"<li>3 mm ball: {words.bit_idle}</li>" in text
    settings = look(routed.folder).settings
    assert settings is not None
    router = settings.cutting.router.model_copy(update={"bits": ("6 mm flat", "60 degree V", "3 mm ball")})
    chosen = settings.model_copy(update={"cutting": settings.cutting.model_copy(update={"router": router})})
    assert [row.here for row in _shown(chosen, routed).choices] == [True, False, False]


def test_chosen_bits_are_written_and_taken_back(routed: Opened) -> None:
    (table,) = re.findall(r'id="bit-sets".*?</table>', routed.get("cutting").text, re.DOTALL)
    sent = re.findall(r"hx-vals='([^']*set-router-bits[^']*)'", table)
    assert len(sent) == 2
    assert routed.decide(**json.loads(unescape(sent[0]))).status_code == 204
    assert read_decisions(routed.folder).cutting.router.bits == CHOICES[1].bits
    assert "[cutting.router]" in (routed.folder / "print.toml").read_text(encoding="utf-8")
    text = routed.get("cutting").text
    any_bits = re.search(rf"hx-vals='([^']*)'[^>]*>{words.bits_any}", text)
    assert any_bits
    assert routed.decide(**json.loads(unescape(any_bits[1]))).status_code == 204
    assert read_decisions(routed.folder).cutting.router.bits == ()
    history.undo(routed.folder)
    assert read_decisions(routed.folder).cutting.router.bits == CHOICES[1].bits
    history.undo(routed.folder)
    assert read_decisions(routed.folder).cutting.router.bits == ()


# --- machine and bits by name -------------------------------------------------------------------------------


@pytest.fixture
def with_a_shelf(routed: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Opened:
    """A shelf with a second machine."""
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "home"))
    first = bits.first_routers().machines[0]
    bits.add_machine(studio.open_studio(), replace(first, name="the big one", reach_mm=(900.0, 700.0, 90.0)))
    return routed


def _options(text: str, id: str) -> list[tuple[str, str]]:
    """Value and words of a choice, the one that holds first."""
    (found,) = re.findall(rf'<select id="{re.escape(id)}".*?</select>', text, re.DOTALL)
    options = re.findall(r'<option value="([^"]*)"( selected)?>([^<]*)', found)
    assert sum(bool(selected) for _, selected, _ in options) == 1
    return [(value, said) for value, _, said in sorted(options, key=lambda each: not each[1])]


def _ticks(text: str) -> dict[str, bool]:
    found = re.findall(r'<input type="checkbox" name="bit" [^>]*value="([^"]*)"( checked)?', text)
    return {unescape(name): bool(on) for name, on in found}


def test_the_machine_is_chosen_by_name_for_the_print_and_for_a_face(with_a_shelf: Opened) -> None:
    text = unescape(with_a_shelf.get("cutting").text)
    names = {"plain table router", "the big one"}
    assert _options(text, "set-cutting.router-machine")[0] == (
        "",
        "the first on the shelf, plain table router",
    )
    assert {value for value, _ in _options(text, "set-cutting.router-machine")} == {"", *names}
    assert _options(text, "face-machine")[0] == ("", words.machine_like)
    said = {"act": "set-value", "table": "cutting.router", "key": "machine"}
    assert with_a_shelf.decide(**said, value="THE BIG ONE").status_code == 204
    own = {"act": "set-face-router", "face": FACE, "key": "machine"}
    assert with_a_shelf.decide(**own, value="plain table router").status_code == 204
    table = read_decisions(with_a_shelf.folder).cutting
    assert table.router.machine == "THE BIG ONE"
    assert table.for_face(FACE).router.machine == "plain table router"
    text = unescape(with_a_shelf.get("cutting").text)
    assert _options(text, "set-cutting.router-machine")[0][0] == "the big one"
    assert _options(text, "face-machine")[0][0] == "plain table router"
    assert with_a_shelf.decide(**own, value="gone").status_code == 204
    assert _options(unescape(with_a_shelf.get("cutting").text), "face-machine")[0] == (
        "gone",
        "gone, which is not on the shelf",
    )
    assert with_a_shelf.decide(**own, value="").status_code == 204
    assert read_decisions(with_a_shelf.folder).cutting.for_face(FACE).router.machine == "THE BIG ONE"


def test_a_block_is_turned_by_one_choice(with_a_shelf: Opened) -> None:
    text = with_a_shelf.get("cutting").text
    assert _options(text, "set-cutting.router-quarter_turn")[0][0] == "false"
    assert _options(text, "face-quarter_turn")[0] == ("", words.lies_like)
    turned = words.fmt("lies_turned_said", face=FACE)
    assert turned not in unescape(text)
    own = {"act": "set-face-router", "face": FACE, "key": "quarter_turn"}
    for value, lies in (("true", True), ("false", False)):
        assert with_a_shelf.decide(**own, value=value).status_code == 204
        assert read_decisions(with_a_shelf.folder).cutting.for_face(FACE).router.quarter_turn is lies
        text = unescape(with_a_shelf.get("cutting").text)
        assert _options(text, "face-quarter_turn")[0][0] == value
        assert (turned in text) == lies
    assert with_a_shelf.decide(**own, value="").status_code == 204
    all_of_them = {"act": "set-value", "table": "cutting.router", "key": "quarter_turn", "value": "true"}
    assert with_a_shelf.decide(**all_of_them).status_code == 204
    assert read_decisions(with_a_shelf.folder).cutting.for_face(FACE).router.quarter_turn
    assert with_a_shelf.decide(**{**own, "key": "spindle_rpm"}, value="9").status_code == 422


def test_bits_are_ticked_for_all_faces_or_for_one(routed: Opened) -> None:
    text = unescape(routed.get("cutting").text)
    assert _ticks(text) == dict.fromkeys(["6 mm flat", "3 mm flat", "1.5 mm flat", "60 degree V"], True)
    assert words.bits_all in text
    assert routed.decide(act="set-router-bits", bit=["6 mm flat", "60 degree V"]).status_code == 204
    assert routed.decide(act="set-router-bits", bit=["3 mm flat"], face=FACE).status_code == 204
    table = read_decisions(routed.folder).cutting
    assert table.router.bits == ("6 mm flat", "60 degree V")
    assert table.for_face(FACE).router.bits == ("3 mm flat",)
    text = unescape(routed.get("cutting").text)
    assert [name for name, on in _ticks(text).items() if on] == ["3 mm flat"]
    assert words.fmt("bits_own", face=FACE, bits="3 mm flat") in text
    # The table of sets now chooses for this face alone.
    assert words.fmt("bits_said_own", face=FACE) in text
    sets = re.search(r'<table class="bit-sets">.*?</table>', text, re.DOTALL)
    assert sets
    assert sets[0].count("set-router-bits") == sets[0].count(f'"face": "{FACE}"') == len(CHOICES)
    assert routed.decide(act="set-router-bits", face=FACE).status_code == 204
    assert read_decisions(routed.folder).cutting.for_face(FACE).router.bits == ("6 mm flat", "60 degree V")
    assert words.fmt("bits_these", bits="6 mm flat and 60 degree V") in unescape(routed.get("cutting").text)


@pytest.mark.parametrize("to", [{}, {"face": FACE}])
def test_bits_of_which_none_is_flat_are_refused_in_a_sentence(routed: Opened, to: dict[str, str]) -> None:
    answer = routed.decide(act="set-router-bits", bit=["60 degree V"], **to)
    assert answer.status_code == 422
    assert words.fmt("bits_no_clearing", bits="60 degree V") in unescape(answer.text)
    assert read_decisions(routed.folder).cutting.for_face(FACE).router.bits == ()


def test_bits_that_print_toml_names_and_that_cannot_rout_are_told(routed: Opened) -> None:
    file = routed.folder / "print.toml"
    before = file.read_text(encoding="utf-8")
    assert 'id="bits-wrong"' not in routed.get("cutting").text
    for named, told in (
        ('["60 degree V"]', words.fmt("bits_none_clear", face=FACE)),
        ('["3 mm flat", "lost"]', words.fmt("bits_gone", bits="lost")),
    ):
        file.write_text(before.replace("\nbits = []", f"\nbits = {named}"), encoding="utf-8")
        text = unescape(routed.get("cutting").text)
        assert f'id="bits-wrong"><strong>{told}</strong>' in text
        assert '<details id="bits-choose" open>' in text


def test_a_face_beyond_the_machine_is_turned_by_one_press(routed: Opened) -> None:
    about = {"face": FACE, "machine": "small", "quarter_turn": 1, "x_mm": 420.0, "y_mm": 90.0, "z_mm": 9.0}
    raw = {
        "code": "program-beyond-the-machine",
        "severity": "stop",
        "message": "Turned by a quarter it fits.",
        "at": None,
        "about": about,
    }
    (found,) = shown([raw], look(routed.folder), stage="cutting")
    assert found.answers[0].said == f"Turn {FACE} by a quarter"
    assert routed.decide(**found.answers[0].fields).status_code == 204
    assert read_decisions(routed.folder).cutting.for_face(FACE).router.quarter_turn
    held = _shown(look(routed.folder).settings, routed, held_back=True)
    assert held.held_back == words.fmt("held_back_else", face=FACE)


def test_depths_and_walls_are_set_and_refused_in_a_sentence(routed: Opened) -> None:
    said = {"act": "set-value", "table": "cutting.router"}
    assert routed.decide(**said, key="wall_deg", value="65").status_code == 204
    assert routed.decide(**said, key="islands", value="true").status_code == 204
    text = routed.get("cutting").text
    assert re.search(r'id="set-cutting.router-wall_deg"[^>]*value="65"', text)
    assert re.search(rf'<option value="true" selected>{words.islands_yes}', text)
    answer = routed.decide(**said, key="least_depth_mm", value="9")
    assert answer.status_code == 422
    assert "least_depth_mm" in answer.text
    assert read_decisions(routed.folder).cutting.router.least_depth_mm == 1.5


def test_bits_that_are_no_names_are_refused(routed: Opened) -> None:
    for names in ("{", '{"a": 1', "[" * 5000):
        assert routed.decide(act="set-router-bits", bits=names).status_code == 422
    assert routed.decide(act="set-router-bits", bit="two\nlines").status_code == 422
    assert read_decisions(routed.folder).cutting.router.bits == ()


# --- what is held back --------------------------------------------------------------------------------------


def test_a_face_that_would_be_harmed_has_no_program_and_says_where(routed: Opened) -> None:
    route(routed.folder, held_back=True)
    text = unescape(routed.get("cutting").text)
    held = re.search(r'id="held-back"><strong>(.*?)</strong>', text)
    assert held
    assert held[1] == (
        f"No program is handed over for {FACE}: it would cut 0.42\u00a0mm² out of what prints, at a place "
        "24\u00a0mm from the left and 15\u00a0mm from the top of the print."
    )
    assert ".ngc" not in text
    assert "0.42\u00a0mm² of what prints would be cut away" in text
    (pin,) = json.loads(_attribute(text, "pins"))
    blocks = blocks_now(look(routed.folder))
    assert blocks is not None
    left, top, _, _ = blocks.block.bounds
    # The face is mirrored, and its places are told from the block's corner.
    assert pin["at"] == pytest.approx([60.0 - GOUGED_AT[0] - left, GOUGED_AT[1] - top], abs=0.01)
    assert f'data-show-pin="{pin["key"]}"' in text


def test_a_finding_on_another_face_leads_there(routed: Opened) -> None:
    faces = faces_told(look(routed.folder))
    about = {"face": faces[1].name}
    found = FindingShown("cutting-0", "some-code", 1, "warn", "Something.", (1.0, 2.0), about, ())
    (there,) = findings_at((found,), faces[0], faces)
    assert there.at is None
    assert there.answers[0].href == "?face=A+back"
    (here,) = findings_at((found,), faces[1], faces)
    assert here == found


# --- the relief ---------------------------------------------------------------------------------------------


def test_the_heights_are_those_of_the_file_as_the_carver_sees_them(routed: Opened) -> None:
    text = routed.get("cutting").text
    answer = routed.get(_within(routed, _attribute(text, "src")))
    assert "immutable" in answer.headers["Cache-Control"]
    columns, rows, step_mm, lowest, highest = struct.unpack_from("<IIfff", answer.content)
    levels = np.frombuffer(answer.content, "<u2", offset=20).reshape(rows, columns)
    wanted, _ = read_heights(routed.folder / "out" / "cutting" / f"{SLUG}-shop" / "height.png")
    assert step_mm == pytest.approx(STEP_MM)
    assert (rows, columns) == wanted.shape
    assert (lowest, highest) == pytest.approx((-DEEPEST_MM, 0.0), abs=1e-3)
    assert np.abs(lowest + levels * (highest - lowest) / 65535 - wanted[::-1]).max() < 2e-4
    assert columns * STEP_MM == pytest.approx(float(_attribute(text, "width-mm")), abs=STEP_MM)
    assert rows * STEP_MM == pytest.approx(float(_attribute(text, "height-mm")), abs=STEP_MM)
    # At another version it is given too, but not to be kept.
    stale = routed.get(f"relief/{SLUG}/0-0/heights")
    assert stale.content == answer.content
    assert "immutable" not in stale.headers["Cache-Control"]


def test_what_is_left_to_the_hand_lies_over_it_in_place(routed: Opened) -> None:
    told = json.loads(routed.get(_within(routed, _attribute(routed.get("cutting").text, "hand"))).text)
    cut = face_cut(look(routed.folder), FACE)
    blocks = blocks_now(look(routed.folder))
    assert cut is not None
    assert cut.routing is not None
    assert blocks is not None
    left, top, _, _ = blocks.block.bounds
    drawn = shapely.MultiPolygon([(rings[0], rings[1:]) for rings in told["areas"]])
    wanted = shapely.transform(cut.routing.hand, lambda xy: xy - (left, top))
    # Bends of up to 0.05 mm are left out along some centimetres of edge.
    assert drawn.symmetric_difference(wanted).area < 0.05 * wanted.length
    assert drawn.area == pytest.approx(wanted.area, rel=0.05)
    first = cut.routing.narrow[0].at
    assert told["narrow"][0] == pytest.approx([first[0] - left, first[1] - top], abs=0.01)


def test_which_bit_was_last_is_sent_where_it_is_told(routed: Opened) -> None:
    text = routed.get("cutting").text
    data = routed.get(_within(routed, _attribute(text, "bits"))).content
    columns, rows = struct.unpack_from("<II", data)
    last = np.frombuffer(data, np.uint8, offset=8).reshape(rows, columns)
    with Image.open(routed.folder / "out" / "cutting" / f"{SLUG}-shop" / "bits.png") as picture:
        assert (last == np.asarray(picture)).all()
    assert 'data-relief="bits"' in text
    route(routed.folder, bits=False)
    (routed.folder / "out" / "cutting" / f"{SLUG}-shop" / "bits.png").unlink()
    assert 'data-relief="bits"' not in routed.get("cutting").text
    assert routed.get(f"relief/{SLUG}/0-0/bits").status_code == 404


def test_the_picture_stands_for_those_who_cannot_turn_it(routed: Opened) -> None:
    text = routed.get("cutting").text
    address = _attribute(text, "picture")
    assert f'<img src="{address}" alt="{words.fmt("relief_alt", face=FACE)}">' in text
    answer = routed.get(_within(routed, address))
    assert answer.headers["Content-Type"] == "image/png"
    assert Image.open(io.BytesIO(answer.content)).size[0] > 100


def test_transfer_sheets_of_a_routed_face_can_still_be_seen(routed: Opened) -> None:
    text = routed.get("cutting?face=A+front&sheet=face-up").text
    assert "<relief-view" not in text
    assert 'id="kind-relief"' in text
    assert "/sheets/A-front/face-up/1.png" in text


@pytest.mark.parametrize("what", ["heights", "bits", "relief.png", "hand.json"])
@pytest.mark.parametrize("slug", ["A-back", "Z-front", "..", "%2e%2e"])
def test_what_there_is_not_is_not_found(routed: Opened, what: str, slug: str) -> None:
    assert routed.get(f"relief/{slug}/1-1/{what}").status_code == 404


def test_heights_that_cannot_be_read_are_told_in_a_sentence(routed: Opened) -> None:
    path = routed.folder / "out" / "cutting" / f"{SLUG}-shop" / "height.png"
    for content in (b"", b"no picture", path.read_bytes()[:200]):
        path.write_bytes(content)
        answer = routed.get(f"relief/{SLUG}/1-1/heights")
        assert answer.status_code == 422
        assert "height.png" in answer.text


# --- the shop's folder --------------------------------------------------------------------------------------


def test_the_shop_s_files_are_offered_and_taken(routed: Opened) -> None:
    text = routed.get("cutting").text
    names = re.findall(r'id="shop-\d+" download>([^<]*)</a>', text)
    assert names[:3] == ["1-6-mm-flat.ngc", "2-60-degree-V.ngc", "in-air.ngc"]
    assert {"job-sheet.pdf", "handwork.pdf", "outlines.dxf", "surface.3mf", "height.png"} <= set(names)
    assert "program for 60 degree V, in RS274/NGC words, mm" in text
    assert words.file_air in text
    place = routed.folder / "out" / "cutting" / f"{SLUG}-shop"
    for name in names:
        answer = routed.get(f"files/cutting/{SLUG}-shop/{name}")
        assert answer.content == (place / name).read_bytes()
        assert f'filename="{SLUG}-shop-{name}"' in answer.headers["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(routed.get(f"shop/{SLUG}.zip").content)) as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {f"{SLUG}-shop/{name}" for name in names}
    with zipfile.ZipFile(io.BytesIO(routed.get("bench.zip").content)) as archive:
        assert f"{SLUG}-shop/job-sheet.pdf" in archive.namelist()
    assert routed.get("shop/A-back.zip").status_code == 404


def test_a_list_of_files_cannot_lead_out_of_the_folder(routed: Opened) -> None:
    """A print folder may come from elsewhere, and with it the note that lists its files."""
    note = routed.folder / "out" / "cutting" / ".made.json"
    told = json.loads(note.read_text(encoding="utf-8"))
    outside = "A-front-shop/../../../print.toml"
    told["sha256"][outside] = "0"
    note.write_text(json.dumps(told), encoding="utf-8")
    assert outside in look(routed.folder).stage("cutting").files
    for asked in (outside, outside.replace("/", "%2F").replace("..", "%2e%2e")):
        assert routed.get(f"files/cutting/{asked}").status_code == 404
    with zipfile.ZipFile(io.BytesIO(routed.get(f"shop/{SLUG}.zip").content)) as archive:
        assert not any(".." in name for name in archive.namelist())


def test_after_a_change_the_relief_stays_and_no_file_is_given(routed: Opened) -> None:
    routed.decide(act="set-value", table="design", key="smoothing_mm", value="0.3")
    text = routed.get("cutting").text
    assert words.stands_stale in text
    assert "<relief-view" in text
    assert 'id="shop"' not in text
    assert routed.get(f"files/cutting/{SLUG}-shop/job-sheet.pdf").status_code == 409
