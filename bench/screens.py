"""Pictures of the drawer and of every station, light and dark, on a desk, a small screen and a tablet.

``python -m bench.screens [--to FOLDER] [--print FOLDER]``; the print is looked at in a copy.
"""

import argparse
import os
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Literal

from playwright.sync_api import Browser, Page, sync_playwright

from bench.child import run_command
from bench.speed_app import FLAGS, browser_path, serve

STATIONS = ("design", "impressions", "inks", "blocks", "cutting", "proof")

SCREENS = {"desk": (1440, 900), "small": (1024, 768), "tablet": (820, 1180)}
"""In CSS pixels."""

ROOMS: tuple[Literal["light", "dark"], ...] = ("light", "dark")

COMMAND = (sys.executable, "-c", "from blockwright.cli import main; main()")

_PATIENCE_MS = 300_000
"""A print that older code made is made anew first, as the app does it."""

_READY = """
() => document.getElementById("working")?.hidden !== false
  && [...document.images].every((each) => each.complete || each.loading === "lazy")
  && (document.querySelector("sheet-view")?.isDrawn?.() ?? true)
"""


def main() -> int:
    """Write the pictures and name their folder; 1 where there is no browser."""
    asked = _arguments()
    browser = browser_path()
    if browser is None:
        print("There is no Chromium here, so no pictures were made.", file=sys.stderr)
        return 1
    to = asked.to or Path(tempfile.mkdtemp(prefix="blockwright-screens-"))
    to.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="blockwright-screens-of-", ignore_cleanup_errors=True) as place:
        folder = _print_in(Path(place), asked.print)
        with serve(folder, Path(place) / "home", {}) as served, _browsing(browser) as window:
            for room in ROOMS:
                for screen in SCREENS:
                    for path in take(window, served.address, to, room=room, screen=screen):
                        print(path.name, file=sys.stderr, flush=True)
    print(to)
    return 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m bench.screens", description=__doc__)
    parser.add_argument("--to", type=Path, help="folder for the pictures; a temporary one if not given")
    parser.add_argument("--print", type=Path, help="a finished print; the demonstration print if not given")
    return parser.parse_args()


def _print_in(place: Path, given: Path | None) -> Path:
    """The print as a copy, or the demonstration print, made now."""
    folder = place / (given.resolve().name if given else "tide-mill")
    if given:
        return Path(shutil.copytree(given, folder, ignore=shutil.ignore_patterns(".open")))
    print("the demonstration print", file=sys.stderr, flush=True)
    run_command([*COMMAND, "demo", str(folder)], environment={})
    return folder


@contextmanager
def _browsing(path: str) -> Iterator[Browser]:
    as_root = getattr(os, "geteuid", lambda: 1)() == 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=[*FLAGS, *(["--no-sandbox"] if as_root else [])]
        )
        try:
            yield browser
        finally:
            browser.close()


def take(
    browser: Browser, address: str, to: Path, *, room: Literal["light", "dark"], screen: str
) -> Iterator[Path]:
    """Take every page at one screen in one room, and give the path of each picture."""
    width, height = SCREENS[screen]
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=room)
    context.set_default_timeout(_PATIENCE_MS)
    page = context.new_page()
    page.goto(address)
    url = re.sub(r"/\?token=.*", "", address)
    for name, way in _pages(url):
        page.goto(way)
        _settle(page)
        path = to / f"{name}-{screen}-{room}.png"
        page.screenshot(path=path)
        yield path
    context.close()


def _pages(url: str) -> Iterator[tuple[str, str]]:
    house = url.partition("/print/")[0]
    yield "drawer", house + "/"
    yield "shelf", house + "/shelf"
    yield "pigment", house + "/shelf/pigment?name=Indian+red"
    yield "paints", house + "/shelf/paints"
    for station in STATIONS:
        yield station, f"{url}/{station}"


def _settle(page: Page) -> None:
    page.wait_for_load_state("load")
    page.wait_for_function(_READY)
    page.evaluate("document.fonts.ready")


if __name__ == "__main__":
    raise SystemExit(main())
