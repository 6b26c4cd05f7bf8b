"""A gradation in a browser: its sentence, its ends by numbers, by keys and by hand, and made flat."""

from pathlib import Path

import browsing
import pytest
from browsing import Visit, drawn, settled, until
from PIL import Image
from playwright.sync_api import Page, expect
from test_browser_rooms import _violations

from blockwright import project
from blockwright.decisions import read_decisions
from blockwright.model.settings import GradationAt
from blockwright.web import words
from gradated import sky
from tiny_print import set_value

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit


@pytest.fixture
def graded_print(tmp_path: Path) -> Path:
    picture = tmp_path / "sky.png"
    Image.fromarray(sky()).save(picture)
    folder = tmp_path / "sky"
    project.create(folder, picture=picture, width_mm=60.0, title="Sky")
    set_value(folder, "mix", '"to match"')
    project.make(folder)
    return folder


@pytest.fixture
def station(visit: Visit, graded_print: Path) -> Page:
    return visit.open(visit.house.lay_in(graded_print) + "/impressions?of=dark+blue+to+pale+peach,+bokashi")


def _decided(folder: Path) -> tuple[GradationAt, ...]:
    return read_decisions(folder).design.gradation


def test_a_gradation_is_told_and_set_and_made_flat(station: Page, graded_print: Path) -> None:
    drawn(station)
    told = station.locator("#gradation")
    expect(told).to_contain_text("Fukisage: full at the upper edge")
    assert _violations(station) == []

    station.get_by_label(words.TEXTS["gradation_end_y"]).fill("30")
    station.get_by_label(words.TEXTS["gradation_end_y"]).press("Tab")
    until(station, lambda: _decided(graded_print), "the end that was typed")
    settled(station, graded_print)
    (typed,) = _decided(graded_print)
    assert typed.end is not None
    assert typed.end[1] == 30.0
    expect(told).to_contain_text("gone")

    handle = station.locator("sheet-view .axis-end.end")
    expect(handle).to_have_accessible_name(
        f"{words.TEXTS['gradation_handle_end']}: {typed.end[0]:g} mm, 30 mm"
    )
    handle.focus()
    station.keyboard.press("Shift+ArrowUp")
    station.keyboard.press("Enter")
    until(station, lambda: (_decided(graded_print)[-1].end or (0, 0))[1] == 20.0, "the end moved by keys")
    settled(station, graded_print)

    box = handle.bounding_box()
    assert box
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    station.mouse.move(*middle)
    station.mouse.down()
    station.mouse.move(middle[0], middle[1] + 40.0, steps=4)
    station.mouse.up()
    until(station, lambda: (_decided(graded_print)[-1].end or (0, 0))[1] > 21.0, "the end that was dragged")
    settled(station, graded_print)
    assert len(_decided(graded_print)) == 1

    station.get_by_label(words.TEXTS["gradation_way_label"]).select_option("futa-iro")
    until(station, lambda: _decided(graded_print)[-1].printed == "futa-iro", "two inks")
    settled(station, graded_print)
    assert len(_decided(graded_print)) == 1
    way = station.get_by_label(words.TEXTS["gradation_way_label"])
    expect(way).to_have_value("futa-iro")
    assert _violations(station) == []
    way.select_option("")
    until(station, lambda: _decided(graded_print)[-1].printed is None, "as fits best")
    settled(station, graded_print)
    expect(station.locator("#gradation")).to_be_visible()

    station.get_by_role("button", name=words.TEXTS["gradation_flat"]).click()
    until(station, lambda: _decided(graded_print)[-1].flat, "flat")
    settled(station, graded_print)
    expect(station.locator("#gradation")).to_have_count(0)
    expect(station.locator("sheet-view .axis-end")).to_have_count(0)
