"""Impressions in a browser: the order by hand and by keys, passes, trap, what the sheet shows."""

import json
from pathlib import Path
from typing import Any

import browsing
import pytest
from browsing import ROOMS, Visit, drawn, settled, until, visiting
from playwright.sync_api import Browser, Page, expect
from test_browser_rooms import _violations

from blockwright.decisions import read_decisions
from blockwright.web import words

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

USUAL = ["yellow ochre", "blue", "brown black"]


@pytest.fixture
def impressions(visit: Visit, made_print: Path) -> Page:
    return visit.open(visit.house.lay_in(made_print) + "/impressions")


def _rack(page: Page) -> list[str]:
    return [row.get_attribute("data-name") or "" for row in page.locator("#rack li").all()]


def _layers(page: Page) -> list[Any]:
    shown: list[Any] = json.loads(page.locator("sheet-view").get_attribute("layers") or "[]")
    return shown


def _made_order(folder: Path) -> list[str]:
    told = json.loads((folder / "out" / "separation" / "separation.json").read_text(encoding="utf-8"))
    return [each["name"] for each in told["impressions"]]


def test_an_impression_is_dragged_to_another_place(impressions: Page, made_print: Path) -> None:
    assert _rack(impressions) == USUAL
    first, last = (impressions.locator(f"#rack li[data-name='{name}']") for name in (USUAL[0], USUAL[2]))
    box = last.bounding_box()
    assert box
    first.drag_to(last, target_position={"x": box["width"] / 2, "y": box["height"] - 4})
    until(impressions, lambda: read_decisions(made_print).separation.order, "the order")
    assert read_decisions(made_print).separation.order == ("blue", "brown black", "yellow ochre")
    settled(impressions, made_print)
    assert _rack(impressions) == _made_order(made_print) == ["blue", "brown black", "yellow ochre"]
    impressions.get_by_role("button", name=words.order_usual).click()
    until(impressions, lambda: not read_decisions(made_print).separation.order, "the usual order")
    settled(impressions, made_print)
    assert _rack(impressions) == _made_order(made_print) == USUAL


def _finger(page: Page, *steps: tuple[str, float, float, int]) -> None:
    """Touch the glass: what happens, where, and how long it lasts (ms)."""
    hand = page.context.new_cdp_session(page)
    for kind, x, y, lasting_ms in steps:
        points = [] if kind == "touchEnd" else [{"x": x, "y": y}]
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        page.wait_for_timeout(lasting_ms)
    hand.detach()


def test_a_finger_that_holds_drags_and_one_that_moves_at_once_does_not(
    chromium: Browser, visit: Visit, made_print: Path
) -> None:
    url = visit.house.lay_in(made_print)
    with visiting(chromium, visit.house, viewport={"width": 820, "height": 1180}, has_touch=True) as own:
        page = own.open(url + "/impressions")
        drawn(page)
        boxes = [row.bounding_box() for row in page.locator("#rack li").all()]
        assert all(boxes)
        (x, y), (to_x, to_y) = ((b["x"] + b["width"] / 2, b["y"] + 30) for b in (boxes[0], boxes[2]) if b)
        _finger(page, ("touchStart", x, y, 0), ("touchMove", to_x, to_y, 50), ("touchEnd", 0, 0, 200))
        assert (page.url.split("/")[-1], _rack(page)) == ("impressions", USUAL)
        _finger(
            page,
            ("touchStart", x, y, 500),
            ("touchMove", to_x, to_y, 50),
            ("touchMove", to_x + 40, to_y, 50),
            ("touchEnd", 0, 0, 0),
        )
        until(page, lambda: read_decisions(made_print).separation.order, "the order")
        assert read_decisions(made_print).separation.order == ("blue", "brown black", "yellow ochre")
        assert "of=" not in page.url, "letting go is no click"


def test_alt_with_an_arrow_moves_an_impression_and_says_so(impressions: Page, made_print: Path) -> None:
    impressions.locator("#place-blue").focus()
    impressions.keyboard.press("Alt+ArrowDown")
    expect(impressions.locator("#announce")).not_to_be_empty()
    until(impressions, lambda: read_decisions(made_print).separation.order, "the order")
    assert read_decisions(made_print).separation.order == ("yellow ochre", "brown black", "blue")
    assert impressions.evaluate("document.activeElement.id") == "place-blue"
    settled(impressions, made_print)
    assert _made_order(made_print) == ["yellow ochre", "brown black", "blue"]
    assert impressions.evaluate("document.activeElement.id") == "place-blue"
    impressions.keyboard.press("Control+z")
    until(impressions, lambda: not read_decisions(made_print).separation.order, "taken back")
    expect(impressions.locator("#rack li").nth(1)).to_have_attribute("data-name", "blue")


def test_it_is_printed_more_often_and_with_another_trap(impressions: Page, made_print: Path) -> None:
    impressions.locator("#place-blue").click()
    expect(impressions.locator("#impression h2")).to_contain_text("blue")
    impressions.locator("#times").select_option("3")
    until(impressions, lambda: read_decisions(made_print).separation.passes, "the passes")
    expect(impressions.locator(".swatches [aria-pressed='true']")).to_have_text(words.swatch_3)
    impressions.locator("#trap").fill("0,8")
    impressions.keyboard.press("Tab")
    until(impressions, lambda: read_decisions(made_print).separation.trap, "the trap")
    told = read_decisions(made_print).separation
    assert [(each.colour, each.times) for each in told.passes] == [("blue", 3)]
    assert [(each.colour, each.mm) for each in told.trap] == [("blue", 0.8)]
    settled(impressions, made_print)
    expect(impressions.locator("#trap")).to_have_value("0.8")
    impressions.get_by_role("button", name=words.trap_as_all).click()
    until(impressions, lambda: not read_decisions(made_print).separation.trap, "as all others")
    impressions.locator(".swatches button").first.click()
    until(
        impressions,
        lambda: (
            not read_decisions(made_print).separation.passes
            or read_decisions(made_print).separation.passes[0].times == 1
        ),
        "once",
    )


def test_the_sheet_shows_it_after_alone_and_what_runs_under(impressions: Page) -> None:
    impressions.locator("#place-blue").click()
    expect(impressions.locator("#impression h2")).to_contain_text("blue")
    for key, what in (("after", "after-02"), ("alone", "alone-02"), ("under", "under-02")):
        impressions.locator(f"#see-{key}").click()
        expect(impressions.locator(f"#see-{key}")).to_have_attribute("aria-current", "true")
        drawn(impressions, what)
        assert what in [layer["what"] for layer in _layers(impressions)]
    expect(impressions.locator("#meets")).to_contain_text("yellow ochre")
    with impressions.expect_response(lambda answer: "/under-02/" in answer.url and answer.ok):
        for _ in range(6):
            impressions.locator("[data-view='nearer']").click()
    drawn(impressions, "under-02")
    # The address keeps what is shown.
    impressions.reload()
    expect(impressions.locator("#see-under")).to_have_attribute("aria-current", "true")
    expect(impressions.locator("#impression h2")).to_contain_text("blue")
    impressions.go_back()
    expect(impressions.locator("#see-alone")).to_have_attribute("aria-current", "true")


def test_the_key_is_chosen_and_an_edge_gets_a_trap_of_its_own(impressions: Page, made_print: Path) -> None:
    key = impressions.locator("#key-line")
    expect(key).to_contain_text("no line work was found")
    impressions.locator("#key-colour").select_option("brown black")
    until(impressions, lambda: read_decisions(made_print).separation.key == "brown black", "the key")
    settled(impressions, made_print)
    expect(key).to_contain_text("brown black")
    impressions.locator("#edge-1-trap").fill("0,2")
    impressions.keyboard.press("Tab")
    until(impressions, lambda: read_decisions(made_print).separation.edge_trap, "the edge's trap")
    settled(impressions, made_print)
    (own,) = read_decisions(made_print).separation.edge_trap
    assert (own.mm, own.everywhere) == (0.2, True)
    expect(impressions.locator("#edges")).to_contain_text("the trap is 0.2")
    told = json.loads((made_print / "out" / "separation" / "separation.json").read_text(encoding="utf-8"))
    assert [each["trap_mm"] for each in told["edges"] if each["reason"] == "edge"] == [0.2]
    # Its place comes near on the sheet.
    impressions.locator("#edge-1 [data-show-at]").click()
    impressions.locator("#edges").get_by_role("button", name=words.take_back).click()
    until(impressions, lambda: not read_decisions(made_print).separation.edge_trap, "taken back")
    impressions.keyboard.press("Control+z")
    until(impressions, lambda: read_decisions(made_print).separation.edge_trap, "undone")


def test_a_number_of_blocks_is_chosen_from_the_curve_by_keys_and_taken_back(
    impressions: Page, made_print: Path
) -> None:
    def decided() -> Any:
        return read_decisions(made_print).separation

    impressions.locator("#set-separation-blocks").select_option("fewest")
    until(impressions, lambda: decided().blocks == "fewest", "the fewest")
    settled(impressions, made_print)
    expect(impressions.locator("#take-3")).to_have_attribute("aria-pressed", "true")
    impressions.locator("#take-2").focus()
    impressions.keyboard.press("Enter")
    until(impressions, lambda: decided().block_count == 2, "two blocks")
    settled(impressions, made_print)
    expect(impressions.locator("#take-2")).to_have_attribute("aria-pressed", "true")
    assert len(_rack(impressions)) == 2
    for room in ROOMS:
        impressions.emulate_media(color_scheme=room)
        assert _violations(impressions) == [], room
    expect(impressions.locator("#findings")).to_contain_text("So few blocks")
    impressions.keyboard.press("Control+z")
    until(impressions, lambda: decided().block_count is None, "taken back")
    settled(impressions, made_print)
    assert len(_rack(impressions)) == 3
