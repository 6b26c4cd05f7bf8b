"""Bits and machines in a browser: added, changed, refused, put back; the pages are open to everyone."""

import re

import browsing
from browsing import ROOMS, SCREENS, House, Visit, visiting
from playwright.sync_api import Browser, expect
from test_browser_rooms import _sideways, _violations

from blockwright import bits, studio
from blockwright.model.home import DATABASE_NAME
from blockwright.web import words

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit


def test_a_bit_is_added_changed_refused_and_put_back(visit: Visit) -> None:
    shelf = studio.open_studio(visit.house.home / DATABASE_NAME)
    page = visit.open(visit.house.own + "/shelf/bits")
    page.locator("#new-kind").select_option("V")
    page.locator("#new-name").fill("wide V")
    page.locator("#new-angle-deg").fill("90")
    page.locator("#add-bit").click()
    page.wait_for_url(re.compile(r"/shelf/bit\?name="))
    expect(page.locator("#bit h2")).to_contain_text("wide V")
    assert bits.show_bit(shelf, "wide V").bit.angle_deg == 90.0

    angle = page.locator("#angle-deg")
    visit.watch.awaits(browsing.REFUSED)
    angle.fill("0")
    angle.press("Enter")
    expect(page.locator(".refusal", has_text="it is 5 to 170")).to_be_visible()
    angle.fill("60,5")
    angle.press("Enter")
    expect(angle).to_have_value("60.5")
    expect(page.locator("#last-change")).to_contain_text("wide V")
    page.locator("#undo").click()
    expect(angle).to_have_value("90")
    page.locator("#retire").click()
    expect(page.locator("#retire")).to_have_text(words.card_unretire)
    page.locator("#onward a").click()
    expect(page.locator("#bits")).not_to_contain_text("wide V")


def test_a_machine_takes_lines_of_ones_own(visit: Visit) -> None:
    shelf = studio.open_studio(visit.house.home / DATABASE_NAME)
    page = visit.open(visit.house.own + "/shelf/bits")
    page.locator("#machines a").first.click()
    begin = page.locator("#begin")
    begin.fill("(vacuum)\nM8")
    begin.press("Tab")
    expect(page.locator("#last-change")).to_contain_text("plain table router")
    (machine,) = bits.list_machines(shelf)
    assert machine.machine.begin == ("(vacuum)", "M8")
    page.locator("#undo").click()
    expect(begin).to_have_value("")


def test_bits_and_machines_are_open_to_everyone(chromium: Browser, house: House) -> None:
    """By axe-core's rules for WCAG 2.2 A and AA, in either room, on a tablet and enlarged."""
    for screen in ("tablet", "at 200 %"):
        width, height = SCREENS[screen]
        with visiting(chromium, house, viewport={"width": width, "height": height}) as own:
            page = own.context.new_page()
            machine = "/shelf/machine?name=plain+table+router"
            for place in ("/shelf/bits", "/shelf/bit?name=60+degree+V", machine):
                page.goto(house.own + place)
                assert _sideways(page, width) == [], place
                for room in ROOMS if screen == "tablet" else ():
                    page.emulate_media(color_scheme=room)
                    assert _violations(page) == [], f"{place}, {room}"
