"""Every page for everyone: by keys alone, read aloud, enlarged, on a tablet, on paper, in the dark."""

import json
import re
from pathlib import Path

import browsing
import numpy as np
import pypdfium2
import pytest
from browsing import ROOMS, SCREENS, STATIONS, House, Visit, drawn, visiting
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from blockwright.decisions import read_decisions
from blockwright.web import words
from tiny_print import IN_BLUE, tiny_pixels

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

AXE = Path(__file__).parent / "axe" / "axe.min.js"

PLACES = ("", *STATIONS)
"""The drawer and the stations."""

SIGHTS = (
    "",
    "design",
    f"design?at={IN_BLUE[0]},{IN_BLUE[1]}",
    "impressions",
    "inks",
    "blocks",
    "blocks?seen=print",
    "cutting",
    "cutting?page=1",
    "proof",
    "proof?after=1",
    "/shelf",
)
"""What is to be seen: the drawer, each station in its different ways, and the shelf."""

MOST_TABS = 150


def _go(page: Page, url: str, place: str) -> None:
    aside = not place or place.startswith("/")
    page.goto(re.sub(r"/print/.*", place or "/", url) if aside else f"{url}/{place}")
    page.wait_for_load_state("load")
    if page.locator("sheet-view").count():
        drawn(page)


def _violations(page: Page) -> list[str]:
    """What axe-core finds; it is put in by the inspector's door, which the pages' policy leaves open."""
    door = page.context.new_cdp_session(page)
    if not page.evaluate("'axe' in window"):
        door.send("Runtime.evaluate", {"expression": AXE.read_text(encoding="utf-8")})
    # Only what is wrong is worked out in full, which takes half the time.
    options = {"resultTypes": ["violations"]}
    run = (
        f"axe.run(document, {json.dumps(options)})"
        ".then(t => JSON.stringify(t.violations.map(v => v.id + ': ' + v.nodes[0].html)))"
    )
    told = door.send("Runtime.evaluate", {"expression": run, "awaitPromise": True})
    found: list[str] = json.loads(told["result"]["value"])
    return found


def _sideways(page: Page, width: int) -> list[str]:
    """What lies outside of the page, where one would have to scroll sideways."""
    found: list[str] = page.evaluate(
        """width => [...document.querySelectorAll(
          "#station :is(a, button, input, select, summary), header :is(a, button)")]
          .filter((each) => each.checkVisibility())
          .filter((each) => !each.closest("ol, sheet-view, .skip, label.file"))
          .map((each) => [each.outerHTML.slice(0, 80), each.getBoundingClientRect()])
          .filter(([, box]) => box.width > 1 && (box.left < -1 || box.right > width + 1))
          .map(([html]) => html)""",
        width,
    )
    if page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth"):
        found.append("the page")
    return found


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_is_open_to_everyone(
    chromium: Browser, house: House, made_print: Path, screen: str
) -> None:
    """axe-core finds nothing by its rules for WCAG 2.2 A and AA and its best practices, in either room; and
    one direction of scrolling is enough (WCAG 2.2, 1.4.10)."""
    width, height = SCREENS[screen]
    url = house.lay_in(made_print)
    with visiting(
        chromium,
        house,
        viewport={"width": width, "height": height},
        device_scale_factor=1440 / width if screen == "at 200 %" else 1,
    ) as visit:
        page = visit.context.new_page()
        for place in SIGHTS:
            _go(page, url, place)
            if "?at=" in place:
                expect(page.locator("#recolour-to")).to_be_visible()
            for room in ROOMS:
                page.emulate_media(color_scheme=room)
                seen = f"{place or 'drawer'}, {room}"
                assert page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches") == (room == "dark")
                assert _violations(page) == [], seen
                assert _sideways(page, width) == [], seen
            assert page.evaluate("scrollY") == 0, place


def test_the_switch_of_the_room_is_as_open_to_everyone(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.get_by_role("button", name=words.dark_room).click()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != ground
    assert _violations(page) == []
    page.reload()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != ground
    page.get_by_role("button", name=words.light_room).click()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == ground


def test_a_word_of_the_trade_tells_its_meaning_to_hand_and_key(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/blocks")
    word, note = page.locator(".term", has_text="kagi"), page.locator(".meaning")
    meaning = page.locator("#means-kagi").text_content() or ""
    word.hover()
    expect(note).to_be_visible()
    expect(note).to_contain_text(meaning)
    page.mouse.move(2, 2)
    expect(note).to_be_hidden()
    word.focus()
    expect(note).to_be_visible()
    box = note.bounding_box()
    assert box
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 1440
    page.keyboard.press("Escape")
    expect(note).to_be_hidden()
    assert word.evaluate("each => each === document.activeElement")


def test_with_less_motion_nothing_moves_by_itself(chromium: Browser, visit: Visit, made_print: Path) -> None:
    url = visit.house.lay_in(made_print)
    with visiting(chromium, visit.house, reduced_motion="reduce") as own:
        page = own.open("/")
        for place in PLACES:
            _go(page, url, place)
            moving = page.evaluate(
                """() => [document.documentElement, ...document.querySelectorAll("body *")].filter((each) => {
                  const seen = getComputedStyle(each);
                  const longest = (told) => Math.max(...told.split(",").map(parseFloat));
                  return longest(seen.transitionDuration) > 0.01 || longest(seen.animationDuration) > 0.01
                    || seen.scrollBehavior === "smooth";
                }).map((each) => each.outerHTML.slice(0, 80))"""
            )
            assert moving == [], place or "drawer"
        _go(page, url, "design")
        where = "document.querySelector('sheet-view .drawn g').getAttribute('transform')"
        before = page.evaluate(where)
        page.locator("[data-view='nearer']").click()
        page.wait_for_function(f"before => {where} !== before", arg=before)
        there = page.evaluate(where)
        frames = (
            f"new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done({where}))))"
        )
        assert page.evaluate(frames) == there


def test_on_paper_there_is_the_sheet_and_no_control(visit: Visit, made_print: Path) -> None:
    url = visit.house.lay_in(made_print)
    page = visit.open("/")
    for station in STATIONS:
        page.emulate_media(media="screen")
        _go(page, url, station)
        page.emulate_media(media="print")
        shown = page.locator("sheet-view, #plate, #pages").first
        box = shown.bounding_box()
        assert box, station
        assert box["width"] > 200, station
        assert box["height"] > 100, station
        for hidden in ("#stations", "[data-room-switch]", "[data-view]", "#undo", "#again"):
            for each in page.locator(hidden).all():
                assert not each.is_visible(), f"{station}: {hidden}"
        with pypdfium2.PdfDocument(page.pdf(format="A4", print_background=True)) as document:
            assert len(document) >= 1
            drawing = np.asarray(document[0].render(scale=1).to_pil().convert("L"))
            assert (drawing < 200).mean() > 0.01, station


# --- by keys alone ------------------------------------------------------------------------------------------

FOCUSED = """
() => {
  const here = document.activeElement;
  if (!here || here === document.body) return null;
  const seen = [here, here.parentElement, here.firstElementChild].filter(Boolean).map((each) => {
    const style = getComputedStyle(each);
    return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1;
  });
  const box = here.getBoundingClientRect();
  const frame = here.closest("label") ? here.closest("label").getBoundingClientRect() : box;
  return {
    name: here.id || here.outerHTML.slice(0, 70),
    marked: seen.some(Boolean),
    onScreen: frame.bottom > 0 && frame.top < innerHeight && frame.right > 0 && frame.left < innerWidth,
  };
}
"""


def _tab_through(page: Page) -> list[str]:
    """Every stop of the Tab key, from the page's beginning until it leaves the page."""
    page.evaluate("document.activeElement.blur?.(); scrollTo(0, 0)")
    stops: list[str] = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        here = page.evaluate(FOCUSED)
        if here is None or here["name"] in stops[:1]:
            return stops
        assert here["marked"], f"no mark of the focus: {here['name']}"
        assert here["onScreen"], f"focus out of sight: {here['name']}"
        stops.append(here["name"])
    raise AssertionError(f"no end after {MOST_TABS} presses of Tab; the last: {stops[-4:]}")


def _tab_to(page: Page, selector: str) -> None:
    """Press Tab until the focus is there; what is still being made is waited for."""
    page.wait_for_selector(selector, state="attached")
    for _ in range(MOST_TABS):
        if page.evaluate("wanted => Boolean(document.activeElement?.matches(wanted))", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab does not reach {selector}")


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place or "drawer")
def test_tab_reaches_everything_shows_where_it_is_and_leaves_again(
    visit: Visit, made_print: Path, place: str
) -> None:
    page = visit.open("/")
    _go(page, visit.house.lay_in(made_print), place)
    stops = _tab_through(page)
    ids = page.evaluate(
        """() => [...document.querySelectorAll("#station :is(a[href], button, input, select, summary)")]
          .filter((each) => each.checkVisibility({ visibilityProperty: true }) && each.id
            && each.tabIndex >= 0 && !each.disabled && each.type !== "hidden")
          .map((each) => each.id)"""
    )
    assert set(ids) <= set(stops)
    assert len(stops) >= len(ids) > 0


def test_the_whole_way_without_a_mouse(visit: Visit, tmp_path: Path) -> None:
    picture = tmp_path / "By keys.png"
    Image.fromarray(tiny_pixels()).save(picture)
    page = visit.context.new_page()
    # Listened for from the beginning: the browser opens its own when it hears of us only at the press.
    page.on("filechooser", lambda chooser: chooser.set_files(picture))
    page.goto(visit.house.own + "/")
    page.wait_for_load_state("load")
    _tab_to(page, "#picture")
    page.keyboard.press("Enter")
    expect(page.locator("#width_mm")).to_be_focused()
    page.keyboard.press("Control+a")
    page.keyboard.type("60")
    page.keyboard.press("Enter")
    expect(page.locator("#palette .colour")).to_have_count(4)
    folder = next((visit.house.home / "prints").glob("by-keys*"))
    # Design: a colour, its shape, taken out of the print.
    _tab_to(page, "#colour-2")
    page.keyboard.press("Enter")
    expect(page.locator("#shape h2")).not_to_be_empty()
    _tab_to(page, "#shape-name")
    page.keyboard.press("Control+a")
    page.keyboard.type("reed")
    page.keyboard.press("Enter")
    expect(page.locator("#palette [data-colour='reed']")).to_have_count(1)
    _tab_to(page, "#onward a")
    page.keyboard.press("Enter")
    # Impressions: earlier or later.
    page.wait_for_url(re.compile("/impressions"))
    _tab_to(page, "#place-reed")
    page.keyboard.press("Alt+ArrowDown")
    browsing.until(page, lambda: read_decisions(folder).separation.order, "the order")
    for station in STATIONS[2:]:
        _tab_to(page, "#onward a")
        page.keyboard.press("Enter")
        page.wait_for_url(re.compile(f"/{station}"))
    expect(page.locator("#open-packet")).to_be_visible()
    _tab_to(page, "#open-packet")
    # A PDF names no picture for its tab, so that the browser asks for the usual one.
    visit.watch.awaits(r"404.*/favicon\.ico")
    with page.context.expect_event("request", lambda asked: asked.url.endswith("/packet.pdf")):
        page.keyboard.press("Enter")


def test_the_skip_link_leads_to_the_work(visit: Visit, made_print: Path) -> None:
    page = visit.open(visit.house.lay_in(made_print) + "/impressions")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    expect(page.locator(".skip")).to_be_in_viewport()
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "station"
