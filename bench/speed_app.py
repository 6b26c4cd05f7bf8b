"""The app in a real browser: first view, a click, a recolour, tiles, a large picture, memory when idle."""

import base64
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from bench.child import run_command
from bench.figures import Row, Section, at_most
from bench.workshop import MEGA, Workshop
from blockwright.colour import delta_e00, srgb_to_lab

FIRST_VIEW_S = 1.0
CLICK_MS = 100.0
RECOLOUR_S = 2.0
TILE_MS = 50.0
UPLOAD_S = 10.0
IDLE_MB = 400.0

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--disable-background-networking",
    "--disable-component-update",
    "--no-first-run",
    # The browser's own address bar has pages of its own, which no headless window shows.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup,AimEnabled",
)

_CLICKS = 24
_TILES = 120
_SAME_DE00 = 3.0
"""A proof whose recoloured place is this near to that of the finished one shows the recolour."""
_BEGUN_S = 1.0
"""Work on an edit has begun after this long."""
_IDLE_WAIT_S = 120.0
"""A process that has everything loaded is kept for 90 s after the last work."""

_DRAWN = "(wanted) => Boolean(document.querySelector('sheet-view')?.isDrawn?.(wanted))"
_IDLE = "() => document.getElementById('working')?.hidden === true"

_CLICK = """
async ([x, y]) => {
  const part = document.getElementById('shape');
  const before = part.innerHTML;
  const began = performance.now();
  const told = new Promise((done) => {
    const watch = new MutationObserver(() => {
      if (part.innerHTML === before || !part.querySelector('[data-outline]')) return;
      watch.disconnect();
      requestAnimationFrame(() => done(performance.now() - began));
    });
    watch.observe(part, { childList: true, subtree: true, attributes: true });
  });
  document.querySelector('sheet-view').dispatchEvent(
    new CustomEvent('sheet-click', { detail: { at: [x, y] }, bubbles: true }));
  return Promise.race([told, new Promise((done) => setTimeout(() => done(null), 3000))]);
}
"""

_TILE = """
async (url) => {
  const began = performance.now();
  const answer = await fetch(url, { cache: 'no-store' });
  await answer.arrayBuffer();
  return answer.ok ? performance.now() - began : null;
}
"""

_BYTES = """
async (url) => {
  const answer = await fetch(url);
  const bytes = new Uint8Array(await answer.arrayBuffer());
  return btoa(bytes.reduce((text, each) => text + String.fromCharCode(each), ''));
}
"""

_DECIDE = """
async ([url, fields]) => {
  const answer = await fetch(url, { method: 'POST', body: new URLSearchParams(fields) });
  document.body.dispatchEvent(new CustomEvent('print-changed'));
  return answer.status;
}
"""


@dataclass(frozen=True, slots=True)
class Served:
    """A running app: its process, the address with the start token, and without."""

    process: "subprocess.Popen[str]"
    address: str

    @property
    def place(self) -> str:
        """The address of the print, without the token."""
        return self.address.split("?")[0].rstrip("/")


def browser_path() -> str | None:
    """The system's Chromium, if there is one."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


@contextmanager
def serve(folder: Path, home: Path, environment: dict[str, str]) -> Iterator[Served]:
    """Run the app on a print folder, with a home of its own."""
    words = [sys.executable, "-c", "from blockwright.cli import main; main()"]
    process = subprocess.Popen(
        [*words, "open", str(folder), "--no-browser", "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, **environment, "BLOCKWRIGHT_HOME": str(home)},
    )
    try:
        assert process.stdout is not None
        yield Served(process, process.stdout.readline().strip())
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(20)


@contextmanager
def browse(path: str) -> Iterator[Page]:
    """A page in a real browser."""
    flags = [*FLAGS, "--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else list(FLAGS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=flags)
        try:
            page = browser.new_page(viewport={"width": 1440, "height": 900})
            page.set_default_timeout(60_000)
            yield page
        finally:
            browser.close()


def app_section(workshop: Workshop) -> Section:
    """What a printmaker waits for at the app, measured where it is seen."""
    path = browser_path()
    lead = (
        "Headless Chromium and the app on one machine, which share its cores. The demonstration print is "
        "finished before the app is opened on it. Times of a page are taken in the page, to the moment when "
        "what was asked for is drawn.",
    )
    if path is None:
        return Section("app", "The app", (*lead, "No Chromium here: nothing was measured."), ())
    folder, home = workshop.folder / "app-print", workshop.folder / "home"
    environment = workshop.compiled()
    words = [sys.executable, "-c", "from blockwright.cli import main; main()"]
    workshop.say("the demonstration print for the app")
    run_command([*words, "demo", str(folder)], environment=environment)
    painted = workshop.painted
    rows: list[Row] = []
    with serve(folder, home, environment) as served:
        with browse(path) as page:
            page.goto(served.address)
            _settled(page)
            for name, measure in (
                ("first view", _first_view),
                ("clicks", _clicks),
                ("tiles", _tiles),
                ("recolouring", _recolour),
            ):
                workshop.say(f"app: {name}")
                rows += measure(page, served, folder)
            workshop.say("app: a large picture")
            rows += _upload(page, served, Path(painted["png"]), painted["pixels"])
            # What that picture still has to be worked on is not waited for.
            page.goto(served.place + "/design")
        workshop.say("app: idle")
        rows += _idle(served)
    return Section("app", "The app", lead, tuple(rows))


_PATIENCE_S = 90.0
_LOOK_AGAIN_S = 0.01


def _until(page: Page, question: str, argument: object = None) -> None:
    """Wait until the page says yes. The browser's own way evaluates text, which our pages forbid."""
    until = time.monotonic() + _PATIENCE_S
    while not page.evaluate(question, argument):
        if time.monotonic() > until:
            raise TimeoutError(f"waited {_PATIENCE_S:g} s for: {question}")
        time.sleep(_LOOK_AGAIN_S)


def _settled(page: Page) -> None:
    """Wait until no work is under way and the sheet is drawn."""
    _until(page, _IDLE)
    _until(page, _DRAWN, "")


def _first_view(page: Page, served: Served, _: Path) -> list[Row]:
    seconds = []
    for station in ("design", "impressions", "proof"):
        page.goto("about:blank")
        page.goto(f"{served.place}/{station}", wait_until="commit")
        _until(page, _DRAWN, "")
        drawn = page.evaluate("document.querySelector('sheet-view').drawnAt")
        answered = page.evaluate("performance.getEntriesByType('navigation')[0].responseStart")
        seconds.append((drawn - answered) / 1000.0)
    told = "the target; Design, Impressions, Proof: " + ", ".join(f"{s:.2f} s" for s in seconds)
    what = "first view, from the server's answer to the sheet drawn, the slowest of three stations"
    return [at_most(what, max(seconds), most=FIRST_VIEW_S, unit="s", beside=told)]


def _clicks(page: Page, served: Served, folder: Path) -> list[Row]:
    page.goto(served.place + "/design")
    _settled(page)
    shapes = json.loads((folder / "out" / "design" / "design.json").read_text(encoding="utf-8"))["shapes"]
    step = max(1, len(shapes) // _CLICKS)
    times = [page.evaluate(_CLICK, shape["at"]) for shape in shapes[::step][:_CLICKS]]
    seen = [each for each in times if each is not None]
    told = f"the target; {len(seen)} of {len(times)} clicks answered, the middle {np.median(seen):.0f} ms"
    what = "a click on a shape to its sentence and outline, 95th percentile"
    return [at_most(what, float(np.percentile(seen, 95)), most=CLICK_MS, unit="ms", digits=0, beside=told)]


def _tiles(page: Page, served: Served, _: Path) -> list[Row]:
    rows = []
    for station, what in (("design", "picture"), ("design", "shapes"), ("proof", "proof")):
        page.goto(f"{served.place}/{station}")
        _settled(page)
        layers = page.evaluate("JSON.parse(document.querySelector('sheet-view').getAttribute('layers'))")
        layer = next(each for each in layers if f"/{what}/" in each["url"] or "/after-" in each["url"])
        urls = _tile_addresses(layer)
        chance = np.random.default_rng(7)
        chosen = [urls[k] for k in chance.permutation(len(urls))[:_TILES]]
        times = [page.evaluate(_TILE, url) for url in chosen]
        seen = [each for each in times if each is not None]
        told = f"the target; {len(seen)} of {len(urls)} tiles, asked for in the page, any order"
        value = float(np.percentile(seen, 95))
        name = f"deep-zoom tiles of {what} in the page, 95th percentile"
        rows.append(at_most(name, value, most=TILE_MS, unit="ms", digits=0, beside=told))
    return rows


def _tile_addresses(layer: dict[str, Any]) -> list[str]:
    addresses = []
    for level in range(layer["levels"]):
        shrunk = 2 ** (layer["levels"] - 1 - level)
        columns = -(-layer["width"] // (shrunk * layer["tile"]))
        rows = -(-layer["height"] // (shrunk * layer["tile"]))
        addresses += [f"{layer['url']}/{level}/{x}_{y}.jpg" for x in range(columns) for y in range(rows)]
    return addresses


def _recolour(page: Page, served: Served, folder: Path) -> list[Row]:
    page.goto(served.place + "/proof")
    _settled(page)
    # A named colour, not the example in a comment, which lies on bare paper.
    at = re.search(r"(?m)^at = \[([\d.]+), ([\d.]+)\]", (folder / "print.toml").read_text(encoding="utf-8"))
    assert at is not None
    place = (float(at[1]), float(at[2]))
    seconds, whole = [], []
    for colour in ("#8a5a3c", "#5a7a4c", "#76608a"):
        began = time.perf_counter()
        fields = {"act": "add-recolour", "at": f"{at[1]},{at[2]}", "to": colour}
        status = page.evaluate(_DECIDE, [served.place + "/decide", fields])
        assert status in {200, 204}, status
        drawn = _seen_until_idle(page, place, began)
        # The next edit is made when the full work of this one is done, as by a person who looks.
        final = drawn[-1][1]
        seconds.append(next(at_s for at_s, lab in drawn if delta_e00(lab, final) <= _SAME_DE00))
        whole.append(time.perf_counter() - began)
    told = "the target; three edits: " + ", ".join(f"{s:.2f} s" for s in seconds)
    told += f"; with everything else, the search for overprints too: {np.median(whole):.1f} s"
    middle = float(np.median(seconds))
    what = (
        f"a recolour to the proof that shows it, within {_SAME_DE00:g} dE00 of the finished one, "
        "the middle of three"
    )
    return [at_most(what, middle, most=RECOLOUR_S, unit="s", beside=told)]


def _seen_until_idle(
    page: Page, place: tuple[float, float], began: float
) -> list[tuple[float, NDArray[np.float64]]]:
    """When the sheet was drawn anew, in seconds since ``began``, and its colour at a place then, CIELAB."""
    seen: list[tuple[float, NDArray[np.float64]]] = []
    before, idle, until = "", False, time.monotonic() + _PATIENCE_S
    while True:
        layers = page.evaluate("document.querySelector('sheet-view').getAttribute('layers')")
        if layers != before and page.evaluate(_DRAWN, ""):
            seen.append((time.perf_counter() - began, _lab_at(page, json.loads(layers), place)))
            before = layers
        elif idle and layers == before:
            return seen
        idle = bool(page.evaluate(_IDLE)) and time.perf_counter() - began > _BEGUN_S
        if time.monotonic() > until:
            raise TimeoutError(f"the work on a recolour was not done within {_PATIENCE_S:g} s")
        time.sleep(_LOOK_AGAIN_S)


def _lab_at(page: Page, layers: list[dict[str, Any]], place: tuple[float, float]) -> NDArray[np.float64]:
    """The colour of the proof at a place in mm, from its deepest tile, CIELAB."""
    layer = next(each for each in layers if "/proof/" in each["url"] or "/after-" in each["url"])
    size = layer["tile"]
    x, y = (int(mm / layer["mm_per_px"]) for mm in place)
    url = f"{layer['url']}/{layer['levels'] - 1}/{x // size}_{y // size}.jpg"
    levels = np.asarray(Image.open(BytesIO(base64.b64decode(page.evaluate(_BYTES, url)))).convert("RGB"))
    near = levels[max(y % size - 2, 0) : y % size + 3, max(x % size - 2, 0) : x % size + 3]
    return srgb_to_lab(near.reshape(-1, 3).mean(axis=0) / 255.0)


def _upload(page: Page, served: Served, picture: Path, pixels: int) -> list[Row]:
    page.goto(served.address.split("/print/")[0] + "/")
    began = time.perf_counter()
    page.set_input_files("input[type=file]", str(picture))
    page.wait_for_url(re.compile(r"/print/[^/]+/design"))
    _until(page, _DRAWN, "/shapes/")
    taken = time.perf_counter() - began
    what = f"a picture of {pixels / MEGA:.0f} megapixels, from choosing the file to its shapes drawn"
    return [at_most(what, taken, most=UPLOAD_S, unit="s", beside="the target")]


def _idle(served: Served) -> list[Row]:
    """Memory of the server and whatever it keeps, when nothing has been asked for a while."""
    if not Path("/proc/self/smaps_rollup").exists():
        return [Row("memory when idle", "not measured", beside="needs Linux")]
    until = time.monotonic() + _IDLE_WAIT_S
    pids = _family(served.process.pid)
    while len(pids) > 1 and time.monotonic() < until:
        time.sleep(2.0)
        pids = _family(served.process.pid)
    time.sleep(2.0)
    held_mb = sum(_proportional_bytes(pid) for pid in pids) / MEGA
    told = f"the target; {len(pids)} process{'es' if len(pids) > 1 else ''}, after all of the above"
    return [at_most("memory when idle", held_mb, most=IDLE_MB, unit="MB", digits=0, beside=told)]


def _family(pid: int) -> list[int]:
    children: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            except OSError:
                continue
            children.setdefault(parent, []).append(int(entry.name))
    found, ahead = [], [pid]
    while ahead:
        found.append(ahead.pop())
        ahead += children.get(found[-1], [])
    return found


def _proportional_bytes(pid: int) -> int:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0
    return next(int(line.split()[1]) * 1024 for line in text.splitlines() if line.startswith("Pss:"))
