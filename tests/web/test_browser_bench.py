"""Blocks, Cutting and Proof in a browser: each station's main acts, and the files that one takes away."""

import io
import zipfile
from pathlib import Path

import browsing
import pypdfium2
import pytest
from browsing import REFUSED, Visit, click_mm, drawn, on_screen, settled, until
from playwright.sync_api import Page, expect

from blockwright.decisions import read_decisions
from blockwright.web import words
from tiny_print import IN_BLUE

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit


@pytest.fixture
def url(visit: Visit, made_print: Path) -> str:
    return visit.house.lay_in(made_print)


def _taken(page: Page, link: str) -> bytes:
    """What a click on a link saves."""
    with page.expect_download() as saved:
        page.locator(link).click()
    return Path(saved.value.path()).read_bytes()


# --- Blocks -------------------------------------------------------------------------------------------------


def test_a_margin_and_the_corner_of_the_kagi_are_set(visit: Visit, url: str, made_print: Path) -> None:
    page = visit.open(url + "/blocks")
    plate = page.locator("#plate img")
    before = plate.get_attribute("src") or ""
    assert read_decisions(made_print).blocks.kagi_corner == "lower right"
    page.locator("#set-blocks-margin_left_mm").fill("18 mm")
    page.keyboard.press("Tab")
    until(page, lambda: read_decisions(made_print).blocks.margin_left_mm == 18, "the margin")
    expect(page.locator("#set-blocks-margin_left_mm")).to_have_value("18")
    page.locator("#set-blocks-kagi_corner").select_option("upper left")
    until(page, lambda: read_decisions(made_print).blocks.kagi_corner == "upper left", "the corner")
    settled(page, made_print)
    expect(plate).not_to_have_attribute("src", before)
    expect(plate).to_have_js_property("complete", True)
    assert plate.evaluate("picture => picture.naturalWidth") > 200
    expect(page.locator("#stands")).to_have_count(0)


def test_boards_are_changed_added_and_taken_out(visit: Visit, url: str, made_print: Path) -> None:
    def boards() -> list[tuple[str, float, int | None]]:
        stock = read_decisions(made_print).blocks.stock
        return [(each.name, each.width_mm, each.count) for each in stock]

    page = visit.open(url + "/blocks")
    usual = boards()
    page.locator("#board-1-count").fill("2")
    page.keyboard.press("Enter")
    until(page, lambda: boards() == [(*usual[0][:2], 2), *usual[1:]], "the number on hand")
    expect(page.locator("#board-1-count")).to_have_value("2")
    page.locator("#board-add summary").click()
    for name, value in (("name", "cherry plank"), ("wood", "cherry"), ("width_mm", "450 mm")):
        page.locator(f"#board-new-{name}").fill(value)
    page.locator("#board-new").get_by_role("button", name=words.stock_add, exact=True).click()
    visit.watch.awaits(REFUSED)
    refusal = page.locator("#board-add .refusal")
    expect(refusal).to_contain_text("height_mm")
    page.locator("#board-new-height_mm").fill("300")
    page.locator("#board-new").get_by_role("button", name=words.stock_add, exact=True).click()
    until(page, lambda: boards()[-1] == ("cherry plank", 450.0, None), "the board")
    expect(refusal).to_be_empty()
    expect(page.locator("#board-5-name")).to_have_value("cherry plank")
    expect(page.locator("#board-new-name")).to_have_value("")
    page.locator("#board-2").get_by_role("button", name=words.stock_out, exact=True).click()
    until(
        page, lambda: [b[0] for b in boards()] == [usual[k][0] for k in (0, 2, 3)] + ["cherry plank"], "gone"
    )
    page.locator("#undo").click()
    until(page, lambda: len(boards()) == 5, "the board again")
    expect(page.locator("#board-2-name")).to_have_value(usual[1][0])


def test_inks_are_kept_together_and_apart_and_that_is_undone(
    visit: Visit, url: str, made_print: Path
) -> None:
    def wanted() -> tuple[list[set[str]], list[set[str]]]:
        blocks = read_decisions(made_print).blocks
        together, apart = ([set(group.inks) for group in each] for each in (blocks.together, blocks.apart))
        return together, apart

    page = visit.open(url + "/blocks")
    chosen = page.locator("#share-with-colour")
    first = page.locator('#share-with input[name="colour"]').get_attribute("value") or ""
    other = chosen.locator("option").first.inner_text()
    page.locator("#share-with").get_by_role("button", name=words.share_add, exact=True).click()
    until(page, lambda: wanted() == ([{first, other}], []), "together")
    settled(page, made_print)
    # All inks of this print lie over one another: that is said, and the line can be taken out again.
    expect(page.locator("#findings")).to_contain_text("no face can carry both")
    expect(page.locator("#wishes")).to_contain_text(
        words.fmt("wish_together", names=words.listed([first, other]))
    )
    page.locator("#wishes").get_by_role("button", name=words.take_back, exact=True).click()
    until(page, lambda: wanted() == ([], []), "taken back")
    expect(page.locator("#wishes")).to_have_count(0)
    page.locator("#undo").click()
    until(page, lambda: wanted() == ([{first, other}], []), "together again")
    expect(page.locator("#wishes li")).to_have_count(1)


def test_a_small_area_is_put_on_a_part_block_and_its_board_is_shown(
    visit: Visit, url: str, made_print: Path
) -> None:
    page = visit.open(url + "/blocks")
    name = page.locator("#share-with input[name=colour]").get_attribute("value") or ""
    page.locator("#on-parts summary").click()
    page.get_by_role("button", name=words.fmt("part_on_part", name=name), exact=True).click()
    until(page, lambda: read_decisions(made_print).blocks.on_part_block == (name,), "on a part block")
    settled(page, made_print)
    picture = page.locator("#registration-board")
    expect(picture).to_be_visible()
    picture.scroll_into_view_if_needed()
    expect(picture).to_have_js_property("complete", True)
    assert picture.evaluate("picture => picture.naturalWidth") > 100
    expect(page.locator("#part-wishes")).to_contain_text(words.fmt("wish_on_part_block", names=name))
    page.locator(".rack li", has_text=" part").last.locator("a").click()
    expect(page.locator("#seat")).to_contain_text("lies on the registration board")
    page.locator("#part-wishes").get_by_role("button", name=words.take_back, exact=True).click()
    until(page, lambda: read_decisions(made_print).blocks.on_part_block == (), "taken back")


def test_a_face_is_seen_by_the_carver_and_as_it_prints(visit: Visit, url: str) -> None:
    page = visit.open(url + "/blocks")
    page.locator("#place-B-front").click()
    expect(page.locator("#face h2")).to_have_text("B front")
    page.locator("#seen-print").click()
    expect(page.locator("#seen-print")).to_have_attribute("aria-current", "true")
    expect(page.locator("#plate img")).to_have_js_property("complete", True)
    assert page.locator("#plate img").evaluate("picture => picture.naturalWidth") > 200


# --- Cutting ------------------------------------------------------------------------------------------------


def test_one_face_is_cut_through_a_stencil_on_another_paper(visit: Visit, url: str, made_print: Path) -> None:
    page = visit.open(url + "/cutting")
    page.locator("#face-method").select_option("stencil")
    until(page, lambda: read_decisions(made_print).cutting.face, "the way of cutting")
    (face,) = read_decisions(made_print).cutting.face
    assert (face.face, face.method) == ("A front", "stencil")
    expect(page.locator("#cautions-stencil")).to_contain_text("Sandblasting")
    page.locator("#set-cutting-paper").select_option("A3")
    until(page, lambda: read_decisions(made_print).cutting.paper == "A3", "the paper")
    settled(page, made_print)
    pages = page.locator("#pages img, #plate img")
    expect(pages.first).to_have_js_property("complete", True)
    assert pages.first.evaluate("picture => picture.naturalWidth") > 200
    with pypdfium2.PdfDocument(_taken(page, "#file-1")) as sheet:
        # ISO 216: A3 is 297 x 420 mm; a point is 1/72 inch.
        assert sorted(side / 72 * 25.4 for side in sheet[0].get_size()) == pytest.approx([297, 420], abs=0.5)


def test_every_file_is_taken_as_it_was_made(visit: Visit, url: str, made_print: Path) -> None:
    page = visit.open(url + "/cutting")
    links = page.locator("#files .files a")
    assert links.count() == 4
    for k in range(links.count()):
        name = links.nth(k).inner_text()
        assert _taken(page, f"#file-{k + 1}") == (made_print / "out" / "cutting" / name).read_bytes()
    with zipfile.ZipFile(io.BytesIO(_taken(page, "#bench"))) as archive:
        assert archive.testzip() is None
        assert archive.read("packet.pdf") == (made_print / "out" / "packet.pdf").read_bytes()


def test_a_sheet_is_seen_before_it_is_printed(visit: Visit, url: str) -> None:
    page = visit.open(url + "/cutting")
    page.locator("#page-1").click()
    expect(page.locator("#one-page img")).to_have_js_property("complete", True)
    assert page.locator("#one-page img").evaluate("picture => picture.naturalWidth") > 400
    page.locator("#kind-face-up").click()
    expect(page.locator("#kind-face-up")).to_have_attribute("aria-current", "true")
    expect(page.locator("#transfer")).to_contain_text(words.kind_face_up_why)
    page.locator("#place-A-back").click()
    expect(page.locator("#files h3")).to_contain_text("A back")


# --- Proof --------------------------------------------------------------------------------------------------


def test_the_prediction_is_laid_against_the_design(visit: Visit, url: str) -> None:
    page = visit.open(url + "/proof")
    drawn(page)
    slider = page.locator("sheet-view [role=slider]")
    assert words.layer_proof in (slider.get_attribute("aria-valuetext") or "")
    slider.focus()
    page.keyboard.press("Home")
    expect(slider).to_have_attribute("aria-valuenow", "0")
    page.keyboard.press("ArrowRight")
    expect(slider).to_have_attribute("aria-valuenow", "4")
    page.keyboard.press("End")
    expect(slider).to_have_attribute("aria-valuenow", "100")


def test_the_proofs_are_stepped_through(visit: Visit, url: str) -> None:
    page = visit.open(url + "/proof")
    page.locator("#step-earlier").click()
    expect(page.locator("#at-2")).to_have_attribute("aria-current", "true")
    drawn(page, "after-02")
    page.locator("#at-1").click()
    expect(page.locator("#step-earlier")).to_have_count(0)
    drawn(page, "after-01")
    page.locator("#step-later").click()
    expect(page.locator("#at-2")).to_have_attribute("aria-current", "true")


def test_the_shape_farthest_from_the_design_is_shown(visit: Visit, url: str, made_print: Path) -> None:
    page = visit.open(url + "/design")
    # No ink makes warm paper white: the shape stays as the paper is.
    click_mm(page, IN_BLUE)
    page.locator("#recolour-to").fill("#ffffff")
    page.get_by_role("button", name=words.recolour, exact=True).click()
    until(page, lambda: read_decisions(made_print).design.recolour, "the colour")
    settled(page, made_print)
    page.get_by_role("link", name=words.station_proof, exact=True).click()
    worst = page.locator("#worst li").first
    expect(worst.locator(".name")).to_contain_text("white")
    drawn(page)
    before = on_screen(page, IN_BLUE)
    worst.locator("button").click()
    expect(page.locator("sheet-view .pin").first).to_have_attribute("aria-pressed", "true")
    until(page, lambda: on_screen(page, IN_BLUE) != before, "nearer")
    pin, sheet = (
        page.locator("sheet-view .pin").first.bounding_box(),
        page.locator("sheet-view").bounding_box(),
    )
    assert pin
    assert sheet
    assert sheet["x"] < pin["x"] < sheet["x"] + sheet["width"]
    assert sheet["y"] < pin["y"] < sheet["y"] + sheet["height"]


def test_the_register_counted_on_is_set(visit: Visit, url: str, made_print: Path) -> None:
    page = visit.open(url + "/proof")
    before = page.locator("#register").inner_text()
    page.locator("#set-proof-drift_mm").fill("1,5")
    page.keyboard.press("Tab")
    until(page, lambda: read_decisions(made_print).proof.drift_mm == 1.5, "the register")
    settled(page, made_print)
    expect(page.locator("#set-proof-drift_mm")).to_have_value("1.5")
    assert page.locator("#register").inner_text() != before


def test_a_click_on_the_proof_does_no_harm(visit: Visit, url: str) -> None:
    page = visit.open(url + "/proof")
    click_mm(page, IN_BLUE)
    expect(page.locator("#packet")).to_contain_text(words.packet_open)
