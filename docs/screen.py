"""A picture of the app's Design station, taken by Chromium from the real app on a finished print."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from PIL import Image

_BROWSERS = ("chromium", "chromium-browser", "google-chrome")
_SCREEN = {"width": 1440, "height": 900}
_PATIENCE_S = 60.0
_LOOK_AGAIN_S = 0.05

_READY = """() => document.getElementById('working')?.hidden === true
  && document.querySelector('sheet-view')?.isDrawn?.('')
  && document.fonts.status === 'loaded'"""
"""No work is under way, and what is shown is drawn."""


@contextmanager
def _served(folder: Path) -> Iterator[str]:
    """The address of the app on a print folder, with a home of its own."""
    command = [sys.executable, "-c", "from blockwright.cli import main; main()"]
    with tempfile.TemporaryDirectory() as home:
        process = subprocess.Popen(
            [*command, "open", str(folder), "--no-browser", "--port", "0"],
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "BLOCKWRIGHT_HOME": home},
        )
        try:
            assert process.stdout is not None
            yield process.stdout.readline().strip()
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(20)


def design_station(folder: Path, place_mm: tuple[float, float]) -> Image.Image:
    """The Design station with the shape at a place chosen, twice as fine as a screen shows it.

    Ends the program with one sentence where there is no Chromium.
    """
    browser_path = next((path for name in _BROWSERS if (path := shutil.which(name))), None)
    if browser_path is None:
        raise SystemExit("The picture of the app needs Chromium, which is not on this machine.")
    from playwright.sync_api import sync_playwright

    # Chromium has no sandbox for the system's administrator.
    flags = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
    with _served(folder) as address, sync_playwright() as playwright, tempfile.TemporaryDirectory() as name:
        browser = playwright.chromium.launch(executable_path=browser_path, args=flags)
        try:
            page = browser.new_page(viewport=_SCREEN, device_scale_factor=2)
            page.goto(address)
            x, y = place_mm
            page.goto(f"{address.split('?')[0].rstrip('/')}/design?at={x:g},{y:g}")
            until = time.monotonic() + _PATIENCE_S
            # The browser's own way of waiting evaluates text, which our pages forbid.
            while not page.evaluate(_READY):
                if time.monotonic() > until:
                    raise SystemExit("The app did not become ready for its picture.")
                time.sleep(_LOOK_AGAIN_S)
            path = Path(name) / "app.png"
            page.screenshot(path=path)
        finally:
            browser.close()
        return Image.open(path).convert("RGB")
