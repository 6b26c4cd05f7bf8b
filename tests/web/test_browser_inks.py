"""Inks in a browser: a pot is taken for a print, weighed, and taken back; the cards are open to everyone."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import browsing
import pytest
from browsing import ROOMS, SCREENS, House, Visit, until, visiting
from playwright.sync_api import Browser, Page, expect
from pydantic import TypeAdapter
from test_browser_rooms import _sideways, _violations

from blockwright import studio
from blockwright.decisions import read_decisions
from blockwright.ledger import Ledger
from blockwright.model.home import DATABASE_NAME
from blockwright.model.inks import MixedInk, Optics
from blockwright.web import words
from tiny_print import mix_from_the_shelf

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit


@pytest.fixture
def shelf(house: House) -> Ledger:
    return studio.open_studio(house.home / DATABASE_NAME)


@pytest.fixture
def pot(shelf: Ledger, made_print: Path) -> Iterator[MixedInk]:
    """The first ink of the print, on the shelf of the app that all share; retired at the end."""
    mix_from_the_shelf(made_print)
    told = json.loads((made_print / "out" / "inks" / "value.json").read_text(encoding="utf-8"))
    optics = TypeAdapter(Optics).validate_python(told["inks"][0]["optics"])
    kept = studio.add_ink(shelf, MixedInk(0, "left over", (), 0.0, optics, "measured"))
    yield kept
    studio.edit_ink(shelf, kept.number, retired=True)


def _weigh(page: Page, text: str) -> None:
    field = page.locator("#pot-g")
    field.fill(text)
    field.press("Enter")


def test_a_pot_is_taken_weighed_and_taken_back(
    visit: Visit, made_print: Path, shelf: Ledger, pot: MixedInk
) -> None:
    # The shelf has changed since the print was made: by itself the page comes to offer the ink.
    page = visit.open(visit.house.lay_in(made_print) + "/inks")
    page.locator("#near").get_by_role("button", name=re.compile(words.near_take)).first.click()
    until(page, lambda: read_decisions(made_print).inks.take, "the ink taken")
    expect(page.locator("#open-ink")).to_contain_text("left over")
    expect(page.locator("#recipe")).to_contain_text(words.pot_unknown)

    page.locator("#weigh-pot").click()
    page.wait_for_url(re.compile(r"/shelf/ink/"))
    page.wait_for_load_state("load")
    visit.watch.awaits(browsing.REFUSED)
    _weigh(page, "much")
    expect(page.locator(".refusal", has_text=words.card_pot_number)).to_be_visible()
    _weigh(page, "84,5")
    expect(page.locator("#pot-g")).to_have_value("84.5")
    expect(page.locator("#announce")).to_contain_text("left over")
    expect(page.get_by_text(re.compile(r"84.5.g on "))).to_be_visible()
    assert studio.show_ink(shelf, pot.number).pot_g == 84.5

    page.go_back()
    expect(page.locator("#recipe")).to_contain_text(re.compile(r"84.5.g"))
    page.locator("#undo").click()
    until(page, lambda: not read_decisions(made_print).inks.take, "the ink taken back")
    expect(page.locator("#ink")).to_contain_text(words.ink_by_recipe)


def test_cards_and_paints_are_open_to_everyone(chromium: Browser, house: House, pot: MixedInk) -> None:
    """By axe-core's rules for WCAG 2.2 A and AA, in either room, on a tablet and enlarged."""
    for screen in ("tablet", "at 200 %"):
        width, height = SCREENS[screen]
        with visiting(chromium, house, viewport={"width": width, "height": height}) as own:
            page = own.context.new_page()
            for place in (f"/shelf/ink/{pot.number}", "/shelf/pigment?name=viridian", "/shelf/paints"):
                page.goto(house.own + place)
                for room in ROOMS:
                    page.emulate_media(color_scheme=room)
                    assert _violations(page) == [], f"{place}, {room}"
                    assert _sideways(page, width) == [], f"{place}, {room}"
