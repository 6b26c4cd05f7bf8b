"""Design in a browser: a shape is clicked and dealt with, colours are set, findings are answered."""

import io
import re
from pathlib import Path

import browsing
import numpy as np
import pytest
from browsing import Visit, click_mm, drawn, settled, until
from PIL import Image
from playwright.sync_api import Page, Route, expect

from blockwright.decisions import read_decisions
from blockwright.web import words
from tiny_print import BLUE, IN_BLUE, IN_DARK, IN_OCHRE

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

NEW = "#aa3322"

Place = tuple[float, float]


@pytest.fixture
def design(visit: Visit, made_print: Path) -> Page:
    return visit.open(visit.house.lay_in(made_print) + "/design")


def _choose(page: Page, place: Place) -> None:
    click_mm(page, place)
    expect(page.locator("#recolour-to")).to_be_visible()


def _seen_at(page: Page, place: Place) -> np.ndarray:
    """The colour on the screen at a place of the image, in mm."""
    at = browsing.on_screen(page, place)
    shot = page.screenshot(clip={"x": at[0] - 2, "y": at[1] - 2, "width": 4, "height": 4})
    pixels = np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"), dtype=float)
    return np.asarray(np.median(pixels.reshape(-1, 3), axis=0))


def _is(seen: np.ndarray, hex: str) -> bool:
    wanted = np.array([int(hex[k : k + 2], 16) for k in (1, 3, 5)])
    return bool(np.abs(seen - wanted).max() < 12)  # JPEG tiles


def test_a_sheet_that_nobody_touches_is_not_drawn_again_and_again(design: Page) -> None:
    drawn(design)
    told = design.evaluate(
        """async () => {
          const sheet = document.querySelector("sheet-view");
          const frames = async (count) => {
            for (let k = 0; k < count; k += 1) await new Promise(requestAnimationFrame);
          };
          await frames(60);
          let moved = 0;
          sheet.addEventListener("sheet-moved", () => (moved += 1));
          await frames(20);
          const rests = moved === 0;
          sheet.nearer();
          await frames(20);
          return { rests, follows: moved > 0 };
        }"""
    )
    assert told == {"rests": True, "follows": True}


def test_a_click_chooses_a_shape_and_it_is_recoloured_before_ones_eyes(
    design: Page, made_print: Path
) -> None:
    _choose(design, IN_BLUE)
    expect(design.locator("#shape h2")).to_have_text("Blue")
    # The divider stands in the middle: at the right of it are the shapes.
    assert _is(_seen_at(design, IN_BLUE), BLUE)
    design.locator("#recolour-to").fill(NEW)
    design.get_by_role("button", name=words.recolour, exact=True).click()
    until(design, lambda: read_decisions(made_print).design.recolour, "the decision")
    (edit,) = read_decisions(made_print).design.recolour
    assert (edit.to, edit.here) == (NEW, True)
    expect(design.locator(f"#palette rect[fill='{NEW}']")).to_have_count(1)
    until(design, lambda: _is(_seen_at(design, IN_BLUE), NEW), "the new colour on the sheet")
    settled(design, made_print)
    expect(design.locator("#edits")).to_contain_text(NEW)


def test_a_shape_that_is_chosen_while_the_page_is_fetched_anew_stays_chosen(design: Page) -> None:
    """The answer that was asked for before the choice knows nothing of it."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    design.route(re.compile(r"/design(\?.*)?$"), hold)
    design.evaluate("document.body.dispatchEvent(new Event('print-changed'))")
    until(design, lambda: held, "the page asked for anew")
    design.locator("#colour-2").press("Enter")
    expect(design.locator("#shape-name")).to_be_visible()
    with design.expect_response(lambda answer: "/design?at=" in answer.url):
        held[0].continue_()
    expect(design.locator("#shape-name")).to_be_visible()
    design.unroute_all()


def test_a_shape_is_given_to_its_neighbour(design: Page, made_print: Path) -> None:
    _choose(design, IN_OCHRE)
    design.locator("#merge-into").select_option(label="blue")
    design.get_by_role("button", name=words.merge, exact=True).click()
    expect(design.locator("#palette .colour")).to_have_count(3)
    (merge,) = read_decisions(made_print).design.merge
    assert not merge.everywhere
    until(design, lambda: _is(_seen_at(design, (35.0, 12.0)), BLUE), "blue where ochre was")


def test_a_shape_is_taken_out_and_the_edit_taken_back(design: Page, made_print: Path) -> None:
    _choose(design, IN_DARK)
    design.get_by_role("button", name=words.drop, exact=True).click()
    expect(design.locator("#palette .colour")).to_have_count(3)
    assert len(read_decisions(made_print).design.drop) == 1
    design.locator("#edits").get_by_role("button", name=words.take_back).click()
    expect(design.locator("#palette .colour")).to_have_count(4)
    assert read_decisions(made_print).design.drop == ()


def test_a_colour_gets_a_name(design: Page, made_print: Path) -> None:
    _choose(design, IN_BLUE)
    design.locator("#shape-name").fill("tide")
    design.keyboard.press("Enter")
    expect(design.locator("#palette [data-colour='tide']")).to_have_count(1)
    assert read_decisions(made_print).design.name[-1].name == "tide"
    expect(design.locator("#shape h2")).to_have_text("Tide")


def test_the_number_of_colours_is_set_and_left_to_the_picture_again(design: Page, made_print: Path) -> None:
    design.locator("#set-design-colours").fill("3")
    design.keyboard.press("Tab")
    expect(design.locator("#palette .colour")).to_have_count(3)
    assert read_decisions(made_print).design.colours == 3
    design.locator("#set-design-colours").fill("")
    design.keyboard.press("Tab")
    expect(design.locator("#palette .colour")).to_have_count(4)
    assert read_decisions(made_print).design.colours is None


def test_colours_are_locked_and_found_again(design: Page, made_print: Path) -> None:
    design.get_by_role("button", name=words.lock, exact=True).click()
    design.get_by_role("button", name=words.unlock, exact=True).click()
    expect(design.get_by_role("button", name=words.lock, exact=True)).to_be_visible()
    assert read_decisions(made_print).design.palette is None


def test_a_finding_is_pinned_where_it_is_and_its_act_answers_it(design: Page, made_print: Path) -> None:
    design.locator("#set-design-least_area_mm2").fill("300")
    design.keyboard.press("Tab")
    finding = design.locator("#findings .finding").first
    expect(finding).to_contain_text("mm²")
    expect(design.locator("sheet-view .pin")).to_have_count(1)
    design.locator("sheet-view .pin").click()
    expect(finding).to_have_class("finding warn chosen")
    settled(design, made_print)
    design.evaluate("() => document.querySelector('print-stream').refresh()")
    expect(finding).to_have_class("finding warn chosen")
    finding.get_by_role("button", name=words.show, exact=True).click()
    expect(design.locator("#shape h2")).to_have_text("Brown black")
    finding.get_by_role("button", name=words.answer_leave, exact=True).click()
    expect(design.locator("#findings")).to_contain_text(words.finding_none)
    design.locator("#left summary").click()
    design.locator("#left").get_by_role("button", name=words.point_again, exact=True).click()
    expect(design.locator("#left")).to_have_count(0)
    finding.get_by_role("button", name=words.answer_drop, exact=True).click()
    expect(design.locator("sheet-view .pin")).to_have_count(0)
    expect(design.locator("#findings")).to_contain_text(words.finding_none)
    assert len(read_decisions(made_print).design.drop) == 1


def test_the_divider_slides_between_the_picture_and_its_shapes(design: Page) -> None:
    drawn(design)
    box = design.locator("sheet-view").bounding_box()
    grip = design.locator("sheet-view .grip").bounding_box()
    assert box
    assert grip
    design.mouse.move(grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2)
    design.mouse.down()
    design.mouse.move(box["x"] + box["width"] * 0.8, grip["y"])
    design.mouse.up()
    at = float(design.locator("sheet-view [role=slider]").get_attribute("aria-valuenow") or 0)
    assert at == pytest.approx(80, abs=2)
