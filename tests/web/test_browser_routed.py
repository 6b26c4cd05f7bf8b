"""A routed face in a browser: its relief turned by keys and mouse, its bits chosen, and open to everyone."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browsing
import pytest
from browsing import ROOMS, SCREENS, House, Visit, chromium_path, until, visiting
from playwright.sync_api import Browser, Page, expect
from routed_print import CHOICES, FACE, SLUG, route

from blockwright.decisions import read_decisions
from blockwright.model.settings import RouterTable
from blockwright.web import words

chromium, house, visit = browsing.chromium, browsing.house, browsing.visit

AXE = Path(__file__).parent / "axe" / "axe.min.js"


@pytest.fixture(scope="module")
def _routed_once(tmp_path_factory: pytest.TempPathFactory, _made_once: Path) -> Path:
    folder = Path(shutil.copytree(_made_once, tmp_path_factory.mktemp("routed") / "tiny"))
    route(folder, held_back=True)
    return folder


@pytest.fixture
def routed_print(tmp_path: Path, _routed_once: Path) -> Path:
    return Path(shutil.copytree(_routed_once, tmp_path / "tiny"))


@pytest.fixture(scope="module")
def drawing(chromium: Browser) -> Iterator[Browser]:
    """A browser that draws in space without a graphics card, which the one for all other tests does not."""
    browser = chromium.browser_type.launch(
        executable_path=chromium_path(),
        args=["--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"],
    )
    yield browser
    browser.close()


def _state(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate("document.querySelector('relief-view').state")
    return found


def _drawn(page: Page) -> None:
    page.wait_for_function("() => document.querySelector('relief-view')?.drawn")


def _colours(page: Page) -> int:
    """How many different colours the middle of the relief shows."""
    found: int = page.evaluate(
        """() => new Promise((told) => requestAnimationFrame(() => {
          const view = document.querySelector("relief-view canvas");
          const copy = document.createElement("canvas");
          [copy.width, copy.height] = [64, 64];
          const brush = copy.getContext("2d");
          document.querySelector("relief-view").set("nearer");
          requestAnimationFrame(() => {
            brush.drawImage(view, 0, 0, 64, 64);
            const bytes = brush.getImageData(0, 0, 64, 64).data;
            const seen = new Set();
            for (let k = 0; k < bytes.length; k += 4) {
              if (bytes[k + 3]) seen.add(bytes.slice(k, k + 3).join());
            }
            told(seen.size);
          });
        }))"""
    )
    return found


def _violations(page: Page) -> list[str]:
    door = page.context.new_cdp_session(page)
    if not page.evaluate("'axe' in window"):
        door.send("Runtime.evaluate", {"expression": AXE.read_text(encoding="utf-8")})
    run = (
        'axe.run(document, {"resultTypes": ["violations"]})'
        ".then(t => JSON.stringify(t.violations.map(v => v.id + ': ' + v.nodes[0].html)))"
    )
    told = door.send("Runtime.evaluate", {"expression": run, "awaitPromise": True})
    found: list[str] = json.loads(told["result"]["value"])
    return found


def test_the_relief_is_turned_by_keys_and_by_mouse(
    drawing: Browser, house: House, routed_print: Path
) -> None:
    with visiting(drawing, house, viewport={"width": 1024, "height": 640}) as visit:
        page = visit.open(house.lay_in(routed_print) + "/cutting")
        _drawn(page)
        first = _state(page)
        page.locator("relief-view .canvas").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowUp")
        turned = _state(page)
        assert turned["turn"] < first["turn"]
        assert turned["tilt"] > first["tilt"]
        page.keyboard.press("+")
        page.keyboard.press("Shift+ArrowRight")
        moved = _state(page)
        assert moved["times"] > first["times"]
        assert (moved["x"], moved["y"]) != (first["x"], first["y"])
        assert moved["turn"] == turned["turn"]
        page.keyboard.press("Home")
        assert _state(page) == first
        box = page.locator("relief-view").bounding_box()
        assert box
        page.mouse.move(box["x"] + 200, box["y"] + 200)
        page.mouse.down()
        page.mouse.move(box["x"] + 300, box["y"] + 240, steps=3)
        page.mouse.up()
        assert _state(page)["turn"] < first["turn"]
        assert _state(page)["tilt"] > first["tilt"]
        page.locator("[data-relief=high-3]").click()
        expect(page.locator("[data-relief=high-3]")).to_have_attribute("aria-pressed", "true")
        expect(page.locator("[data-relief=high-1]")).to_have_attribute("aria-pressed", "false")
        page.locator("[data-relief=hand]").click()
        page.locator("[data-relief=bits]").click()
        assert (_state(page)["hand"], _state(page)["bits"], _state(page)["high"]) == (False, True, 3)
        assert _colours(page) > 20
        # Where it would cut into what prints is brought near.
        page.locator("#held-back [data-show-pin]").click()
        expect(page.locator("relief-view .pin")).to_have_attribute("aria-pressed", "true")
        middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

        def in_the_middle() -> bool:
            pin = page.locator("relief-view .pin").bounding_box()
            return pin is not None and middle == pytest.approx(
                (pin["x"] + pin["width"] / 2, pin["y"] + pin["height"] / 2), abs=2
            )

        until(page, in_the_middle, "the place in the middle")


def test_a_routed_face_is_open_to_everyone(drawing: Browser, house: House, routed_print: Path) -> None:
    """axe-core finds nothing by its rules for WCAG 2.2 A and AA and its best practices, in either room."""
    width, height = SCREENS["at 200 %"]
    with visiting(drawing, house, viewport={"width": width, "height": height}) as visit:
        page = visit.open(house.lay_in(routed_print) + "/cutting")
        _drawn(page)
        for name in ("bits-work", "bits-choose"):
            page.locator(f"#{name} summary").click()
        for room in ROOMS:
            page.emulate_media(color_scheme=room)
            assert _violations(page) == [], room
        assert page.evaluate(
            "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
        ), "one would have to scroll sideways"
        # Reached by keys alone, and seen to be.
        page.locator("#place-A-front").focus()
        for _ in range(6):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.matches('relief-view .canvas')"):
                break
        assert page.evaluate("document.activeElement.matches('relief-view .canvas:focus-visible')")


def own_router(folder: Path) -> RouterTable:
    """What the face is routed with, as decided."""
    return read_decisions(folder).cutting.for_face(FACE).router


def test_without_the_means_the_shaded_picture_stands_and_bits_are_chosen(
    visit: Visit, routed_print: Path
) -> None:
    page = visit.open(visit.house.lay_in(routed_print) + "/cutting")
    picture = page.locator("relief-view img")
    expect(picture).to_have_js_property("complete", True)
    assert picture.evaluate("picture => picture.naturalWidth") > 100
    assert picture.get_attribute("alt") == words.fmt("relief_alt", face=FACE)
    expect(page.locator("relief-view canvas")).to_have_count(0)
    expect(page.locator("[data-relief=home]")).to_be_hidden()
    assert _violations(page) == []
    expect(page.locator("#held-back")).to_contain_text("No program is handed over for A front")
    with page.expect_download() as saved:
        page.locator("#shop").get_by_role("link", name="job-sheet.pdf").click()
    assert (
        Path(saved.value.path()).read_bytes()
        == (routed_print / "out" / "cutting" / f"{SLUG}-shop" / "job-sheet.pdf").read_bytes()
    )
    page.locator("#bits-2").focus()
    page.keyboard.press("Enter")
    until(page, lambda: read_decisions(routed_print).cutting.router.bits == CHOICES[1].bits, "the bits")
    page.locator("#undo").click()
    until(page, lambda: read_decisions(routed_print).cutting.router.bits == (), "the bits as before")


def test_bits_are_ticked_and_the_block_is_turned_by_keys(visit: Visit, routed_print: Path) -> None:
    page = visit.open(visit.house.lay_in(routed_print) + "/cutting")
    page.locator("#bits-choose summary").focus()
    page.keyboard.press("Enter")
    page.locator("#bit-1").focus()
    page.keyboard.press("Space")
    for number in (2, 3):
        page.locator(f"#bit-{number}").uncheck()
    visit.watch.awaits("422")
    page.locator("#bits-face").click()
    expect(page.locator("#bits-form + .refusal")).to_contain_text("None of these bits clears a face")
    page.locator("#bit-2").check()
    assert _violations(page) == []
    page.locator("#bits-face").focus()
    page.keyboard.press("Enter")
    own = ("3 mm flat", "60 degree V")
    until(page, lambda: own_router(routed_print).bits == own, "the face's own bits")
    assert read_decisions(routed_print).cutting.router.bits == ()
    expect(page.locator("#bits-now")).to_contain_text(
        f"{FACE} has bits of its own: 3 mm flat and 60 degree V."
    )
    page.locator("#face-quarter_turn").select_option("true")
    until(page, lambda: own_router(routed_print).quarter_turn, "the quarter turn")
    page.locator("#undo").click()
    until(page, lambda: not own_router(routed_print).quarter_turn, "it lies as before")
