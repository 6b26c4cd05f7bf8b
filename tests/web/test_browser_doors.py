"""At the door: an empty drawer, the demo, files too large, folders that are no print, fingers, the room."""

from pathlib import Path

import browsing
import pytest
from browsing import House, Visit, click_mm, drawn, housed, on_screen, visiting
from playwright.sync_api import Browser, expect

from blockwright.web import words
from blockwright.web.guard import PICTURE_BYTES, TOO_LARGE
from tiny_print import IN_BLUE

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

COPIED = """
import shutil
from blockwright.web import demo_print
async def copy_in(folder):
    shutil.copytree({made!r}, folder)
demo_print._paint_apart = copy_in
"""
"""The demo print takes half a minute to paint and to make; one that is made already stands for it."""


def test_an_empty_drawer_says_how_to_begin_and_opens_the_demo(
    chromium: Browser, tmp_path: Path, made_print: Path
) -> None:
    before = COPIED.format(made=str(made_print))
    with (
        housed(tmp_path / "home", None, before=before) as house,
        visiting(chromium, house) as visit,
    ):
        page = visit.open("/")
        expect(page.locator(".prints")).to_have_count(0)
        expect(page.locator(".begin")).to_contain_text(words.drawer_lead)
        page.get_by_role("button", name=words.demo_open, exact=True).click()
        expect(page.locator("#settled")).to_be_visible()
        assert page.url.startswith(house.own + "/print/")
        page.goto(house.own + "/")
        expect(page.locator(".prints > li")).to_have_count(1)
        expect(page.locator(".prints h3")).to_have_text("Tiny")


def test_a_picture_of_more_than_200_mb_is_refused_in_place(visit: Visit, tmp_path: Path) -> None:
    """It is not even sent."""
    large = tmp_path / "scan.tif"
    with large.open("wb") as file:
        file.truncate(PICTURE_BYTES + 1)  # no block of it is on the disk
    page = visit.open("/")
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.method))
    page.locator("#picture").set_input_files(large)
    expect(page.locator(".begin [role='alert']").first).to_have_text(TOO_LARGE)
    assert "POST" not in sent
    assert page.locator("#picture").input_value() == ""


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [(None, "print.toml"), ("\n[edition]\nsheets = 40\n", "newer blockwright")],
    ids=["no print.toml", "from a newer version"],
)
def test_a_folder_that_is_no_print_of_this_version_says_so_and_is_left_alone(
    visit: Visit, made_print: Path, spoilt: str | None, said: str
) -> None:
    url = visit.house.lay_in(made_print)
    toml = made_print / "print.toml"
    if spoilt is None:
        toml.unlink()
    else:
        toml.write_text(toml.read_text(encoding="utf-8") + spoilt, encoding="utf-8")
    before = sorted(path.name for path in made_print.iterdir() if not path.name.startswith("."))
    text = toml.read_bytes() if toml.exists() else None
    for station in ("design", "proof"):
        page = visit.open(f"{url}/{station}")
        expect(page.locator("#station")).to_contain_text(words.wrong_print)
        expect(page.locator("#station")).to_contain_text(said)
        page.close()
    page = visit.open("/")
    row = page.locator(".prints > li").filter(has=page.locator(f"a[href*='{url.rsplit('/', 1)[1]}']"))
    expect(row.locator(".asks")).to_contain_text(said)
    assert sorted(path.name for path in made_print.iterdir() if not path.name.startswith(".")) == before
    assert (toml.read_bytes() if toml.exists() else None) == text


def test_a_tap_chooses_a_shape(chromium: Browser, house: House, made_print: Path) -> None:
    url = house.lay_in(made_print)
    with visiting(chromium, house, has_touch=True, viewport={"width": 820, "height": 1180}) as visit:
        page = visit.open(url + "/design")
        drawn(page)
        page.touchscreen.tap(*on_screen(page, IN_BLUE))
        expect(page.locator("#shape h2")).to_be_visible()
        tapped = page.locator("#shape h2").inner_text()
        page.reload()
        click_mm(page, IN_BLUE)
        expect(page.locator("#shape h2")).to_have_text(tapped)


def test_switching_the_room_leaves_the_focus_where_it_is(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")

    def ground() -> str:
        return str(page.evaluate("() => getComputedStyle(document.body).backgroundColor"))

    switch = page.locator("[data-room-switch]")
    light = ground()
    switch.focus()
    for key, dark in (("Enter", True), ("Space", False)):
        page.keyboard.press(key)
        expect(switch).to_be_focused()
        assert (ground() != light) is dark
    # It stays there when the page fills itself anew.
    page.evaluate("() => document.querySelector('print-stream').refresh()")
    expect(switch).to_be_focused()
