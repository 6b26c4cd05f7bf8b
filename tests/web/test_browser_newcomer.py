"""The first five minutes: from one's own picture to a packet, reading nothing, with awkward pictures too."""

import base64
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import browsing
import numpy as np
import pypdfium2
import pytest
from browsing import REFUSED, Visit, until
from PIL import Image
from playwright.sync_api import FilePayload, Page, expect

from blockwright.looking import look
from blockwright.web import words
from tiny_print import PAPER, tiny_pixels

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

DROP = """
async ([name, data]) => {
  const bytes = Uint8Array.from(atob(data), (sign) => sign.charCodeAt(0));
  const carried = new DataTransfer();
  carried.items.add(new File([bytes], name, { type: "image/png" }));
  for (const kind of ["dragover", "drop"]) {
    const told = { dataTransfer: carried, bubbles: true, cancelable: true };
    document.getElementById("station").dispatchEvent(new DragEvent(kind, told));
  }
}
"""
"""What the browser does when a file is let go over the page."""


def _saved(path: Path, pixels: np.ndarray, **more: Any) -> Path:
    Image.fromarray(pixels).save(path, **more)
    return path


def _answer_width(page: Page, width_mm: str) -> None:
    """The picture does not say how large it is, so that this is asked; what is proposed is a number."""
    expect(page.locator("#width_mm")).to_be_focused()
    assert re.fullmatch(r"\d+", page.locator("#width_mm").input_value())
    page.locator("#width_mm").fill(width_mm)
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/print/\w+/\w+"))


def _go_on(page: Page, station: str) -> None:
    """Follow the link at the end of a station's sentences."""
    page.locator("#onward a").click()
    page.wait_for_url(re.compile(rf"/{station}(\?|$)"))


def _packet(page: Page) -> bytes:
    """The packet by its link, which opens it in a window of its own or saves it, as the browser has it."""
    link = page.locator("#open-packet")
    expect(link).to_be_visible()
    address = link.evaluate("link => link.href")
    answer = page.request.get(address)
    assert answer.ok
    assert answer.headers["content-type"] == "application/pdf"
    return answer.body()


def _folder(visit: Visit, title: str) -> Path:
    return next((visit.house.home / "prints").glob(f"{title}*"))


def test_from_a_dropped_picture_to_the_packet(visit: Visit, tmp_path: Path) -> None:
    picture = _saved(tmp_path / "Tide pool.png", tiny_pixels())
    page = visit.open("/")
    page.evaluate(DROP, [picture.name, base64.b64encode(picture.read_bytes()).decode()])
    _answer_width(page, "60")
    expect(page.locator("h1")).to_have_text("Tide pool")
    expect(page.locator("#palette .colour")).to_have_count(4)
    for station in browsing.STATIONS[1:]:
        _go_on(page, station)
    with pypdfium2.PdfDocument(_packet(page)) as packet:
        assert len(packet) >= 5
        assert "Tide pool" in packet[0].get_textpage().get_text_range()
    assert look(_folder(visit, "tide-pool")).packet_fresh


def test_from_a_chosen_picture_that_knows_its_size(visit: Visit, tmp_path: Path) -> None:
    dpi = 160 / 50 * 25.4
    picture = _saved(tmp_path / "chosen.png", tiny_pixels(), dpi=(dpi, dpi))
    page = visit.open("/")
    page.locator("#picture").set_input_files(picture)
    page.wait_for_url(re.compile(r"/print/\w+/\w+"))
    expect(page.locator("#set-print-width_mm")).to_have_value("50")
    page.get_by_role("link", name=words.all_prints).click()
    expect(page.locator(".prints h3").first).to_have_text("chosen")
    page.locator(".prints h3 a").first.click()
    page.wait_for_url(re.compile(r"/print/\w+/\w+"))


# --- awkward pictures ---------------------------------------------------------------------------------------


def _photograph() -> np.ndarray:
    """Nothing flat in it: smooth hills of every colour, and grain."""
    random = np.random.default_rng(7)
    small = Image.fromarray(random.integers(0, 256, (9, 12, 3), dtype=np.uint8))
    smooth = np.asarray(small.resize((240, 180), Image.Resampling.BICUBIC), dtype=float)
    return np.asarray(np.clip(smooth + random.normal(0, 6, smooth.shape), 0, 255), dtype=np.uint8)


def _scan() -> np.ndarray:
    """The tiny picture, crooked on a scanner's white glass."""
    sheet = Image.new("RGB", (240, 190), "#ffffff")
    turned = Image.fromarray(tiny_pixels()).rotate(2, expand=True, fillcolor="#ffffff")
    sheet.paste(turned, (35, 30))
    return np.asarray(sheet)


def _one_pixel() -> np.ndarray:
    return np.full((1, 1, 3), 120, dtype=np.uint8)


def _few_pixels() -> np.ndarray:
    pixels = np.full((8, 12, 3), [int(PAPER[k : k + 2], 16) for k in (1, 3, 5)], dtype=np.uint8)
    pixels[2:6, 3:9] = (34, 30, 25)
    return pixels


def _no_dead_end(page: Page) -> None:
    """Whatever came of it: sentences to read, and something to do next."""
    until(
        page,
        lambda: (
            page.locator("#working").is_hidden()
            and page.locator("#palette, .finding, #trouble:visible, #wrong").count()
        ),
        "an answer to the picture",
    )
    said = page.locator("#station").inner_text().strip() + page.locator("#trouble").inner_text()
    assert re.search(r"\w+ \w+.*\.", said)
    assert not re.search(r"Traceback|Error\b|None|undefined|\{\w+\}", said)
    assert page.locator("#station :is(a[href], button:enabled, input:enabled)").count() > 0


@pytest.mark.parametrize("pixels", [_photograph, _scan, _one_pixel, _few_pixels])
def test_an_awkward_picture_is_no_dead_end(
    visit: Visit, tmp_path: Path, pixels: Callable[[], np.ndarray]
) -> None:
    visit.watch.awaits(REFUSED)
    name = pixels.__name__.strip("_").replace("_", "-")
    page = visit.open("/")
    page.locator("#picture").set_input_files(_saved(tmp_path / f"{name}.png", pixels()))
    until(page, lambda: page.locator("#width_mm, .said-back").count(), "a question or a refusal")
    if page.locator("#width_mm").count() == 0:
        _refused_in_a_sentence(page)
        return
    _answer_width(page, "80")
    _no_dead_end(page)
    for station in browsing.STATIONS:
        page.goto(re.sub(r"/\w+(\?.*)?$", f"/{station}", page.url))
        _no_dead_end_at_a_station(page)


def _no_dead_end_at_a_station(page: Page) -> None:
    expect(page.locator("#working")).to_be_hidden()
    assert len(page.locator("#station").inner_text().strip()) > 30
    assert page.locator("#station :is(a[href], button:enabled, input:enabled)").count() > 0


def _refused_in_a_sentence(page: Page) -> None:
    said = page.locator(".refusal .said-back")
    expect(said).to_be_visible()
    assert said.inner_text().endswith(".")
    # Another may be chosen at once.
    assert page.locator("#picture").input_value() == ""
    expect(page.locator("#picture")).to_be_enabled()


@pytest.mark.parametrize(
    "file",
    [
        FilePayload(name="letter.png", mimeType="image/png", buffer=b"Dear printmaker,\n\nno picture.\n"),
        FilePayload(name="empty.png", mimeType="image/png", buffer=b""),
        FilePayload(name="half.png", mimeType="image/png", buffer=b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0"),
    ],
    ids=lambda file: file["name"],
)
def test_what_is_no_picture_is_refused_by_its_name(visit: Visit, file: FilePayload) -> None:
    visit.watch.awaits(REFUSED)
    page = visit.open("/")
    prints = page.locator(".prints > li").count()
    page.locator("#picture").set_input_files(file)
    _refused_in_a_sentence(page)
    expect(page.locator(".refusal .said-back")).to_contain_text(file["name"])
    page.reload()
    assert page.locator(".prints > li").count() == prints


def test_a_width_that_is_none_is_refused_beside_the_question(visit: Visit, tmp_path: Path) -> None:
    visit.watch.awaits(REFUSED)
    page = visit.open("/")
    page.locator("#picture").set_input_files(_saved(tmp_path / "wide.png", tiny_pixels()))
    for wrong in ("as wide as the table", "-3", "99999"):
        page.locator("#width_mm").fill(wrong)
        page.keyboard.press("Enter")
        expect(page.locator(".question .refusal")).to_contain_text(wrong)
    _answer_again(page)


def _answer_again(page: Page) -> None:
    page.locator("#width_mm").fill("60 mm")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/print/\w+/\w+"))
