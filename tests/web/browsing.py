"""A real server and a real browser for tests: what a printmaker sees, and a watch for what nobody should.

A test module takes the fixtures that it needs as names of its own (``chromium = browsing.chromium``). Server
and browser are shared by all tests of a process; prints and windows are each test's own.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    expect,
    sync_playwright,
)

from blockwright.looking import look
from blockwright.web import words
from blockwright.web.registry import Registry

NO_CHROMIUM = (
    "These tests need Chromium, which is not here; install it with the system's packages, such as: "
    "sudo apt-get install chromium"
)

WAIT_S = 60.0
"""How long is waited for anything: many times what it takes on a quiet machine, for there are busy ones."""

expect.set_options(timeout=WAIT_S * 1000)

_POLL_MS = 60
"""Between two looks at what is waited for; a look at a print's folder takes the machine some milliseconds."""

_MAIN = "from blockwright.cli import main; main()"

_FLAGS = (
    "--disable-background-networking",
    "--disable-gpu",
    # Nor in software: painting the pages so costs more than it gives.
    "--disable-software-rasterizer",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # The browser's own address bar has a page of its own for every window, and looks for better connections.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,WebUIOmniboxFullPopup,AimEnabled,PaintHolding,"
    "HttpsUpgrades,HttpsFirstBalancedModeAutoEnable,MediaRouter,OptimizationHints,NetworkTimeServiceQuerying,"
    "LensOverlay,ThirdPartyStoragePartitioning,DestroyProfileOnBrowserClose",
    # No name is looked up and no other machine reached, whatever a page asks for.
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)

_TELL_VIOLATIONS = """
document.addEventListener("securitypolicyviolation", (event) =>
  console.error(`policy violated: ${event.violatedDirective} ${event.blockedURI} ${event.sample}`));
"""


def chromium_path() -> str | None:
    """The system's Chromium, if there is one."""
    names = ("chromium", "chromium-browser", "google-chrome")
    return next((path for name in names if (path := shutil.which(name))), None)


@contextmanager
def launched() -> Iterator[Browser]:
    """A browser that can reach this machine only; skips the test where there is none."""
    path = chromium_path()
    if path is None:
        pytest.skip(NO_CHROMIUM)
    as_root = getattr(os, "geteuid", lambda: 1)() == 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=[*_FLAGS, *(["--no-sandbox"] if as_root else [])]
        )
        yield browser
        browser.close()


# --- the server ---------------------------------------------------------------------------------------------


class House:
    """The app as a process, with a home of its own; ``before`` is Python that runs in it first.

    Without a folder it opens at its drawer.
    """

    def __init__(
        self, home: Path, folder: Path | None, *, before: str = "", environment: dict[str, str] | None = None
    ) -> None:
        self.home = home
        self._words = [sys.executable, "-c", before + "\n" + _MAIN]
        self.folder = folder
        self._environment = {**os.environ, "BLOCKWRIGHT_HOME": str(home), **(environment or {})}
        self._port = 0
        self.start()

    def start(self) -> None:
        """Start it, at the port of before if there was one."""
        folder = [] if self.folder is None else [str(self.folder)]
        self.process = subprocess.Popen(
            [*self._words, "open", *folder, "--no-browser", "--port", str(self._port)],
            stdout=subprocess.PIPE,
            text=True,
            env=self._environment,
            start_new_session=True,
        )
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()
        parts = urlsplit(self.address)
        assert parts.hostname == "127.0.0.1", "the server did not start"
        self.own = f"http://{parts.netloc}"
        self._port = parts.port or 0

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """End it: by Ctrl-C, or by another signal."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        self.process.wait(WAIT_S)
        assert self.process.stdout is not None
        self.process.stdout.close()

    def restart(self, how: signal.Signals = signal.SIGINT) -> None:
        """End it and start it again."""
        self.stop(how)
        self.start()

    def lay_in(self, folder: Path) -> str:
        """Lay a print into the drawer of the running app, and give the address of its pages."""
        return f"{self.own}/print/{Registry(self.home).add(folder)}"

    def prints(self) -> set[str]:
        """The ids of what lies in the drawer."""
        return set(Registry(self.home).prints())

    def take_out(self, ids: set[str]) -> None:
        """Take prints out of the drawer; their folders stay."""
        for each in ids:
            Registry(self.home).remove(each)

    def workers(self) -> list[int]:
        """The process numbers of the app's workers, where the system tells them in /proc."""
        found = []
        for status in Path("/proc").glob("[0-9]*/stat"):
            try:
                # The parent stands behind the name, which is in brackets and may hold anything.
                rest = status.read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
                line = (status.parent / "cmdline").read_bytes()
            except OSError:
                continue
            if int(rest[1]) == self.process.pid and b"blockwright.web.worker" in line:
                found.append(int(status.parent.name))
        return found


@contextmanager
def housed(
    home: Path, folder: Path | None, *, before: str = "", environment: dict[str, str] | None = None
) -> Iterator[House]:
    """An app on a print, ended at the end."""
    house = House(home, folder, before=before, environment=environment)
    try:
        yield house
    finally:
        house.stop()


# --- windows ------------------------------------------------------------------------------------------------


@dataclass
class Watch:
    """What was wrong in a browser window: every error and every request elsewhere, unless awaited."""

    own: str
    wrong: list[str] = field(default_factory=list)
    _awaited: list[str] = field(default_factory=list)

    def awaits(self, *patterns: str) -> None:
        """The console will tell this (a regular expression), and that is right."""
        self._awaited.extend(patterns)

    def over(self, context: BrowserContext) -> None:
        """Begin."""
        context.on("request", self._asked)
        context.on("console", self._said)
        context.on("weberror", lambda error: self.wrong.append(f"error: {error.error}"))

    def _asked(self, request: Request) -> None:
        # The browser's own viewer of PDF files is a part of it that comes as an extension.
        if not request.url.startswith((self.own + "/", "data:", "blob:", "chrome-extension:")):
            self.wrong.append(f"asked elsewhere: {request.url}")

    def _said(self, said: ConsoleMessage) -> None:
        if said.type == "error":
            self.wrong.append(f"console: {said.text} {said.location.get('url', '')}")

    @property
    def unawaited(self) -> list[str]:
        """What was wrong and not awaited."""
        return [each for each in self.wrong if not any(re.search(known, each) for known in self._awaited)]


REFUSED = r"status of 4\d\d"
"""The console tells of every answer that is a refusal."""

LOST = r"ERR_(CONNECTION|CONTENT_LENGTH|INCOMPLETE|EMPTY|NETWORK|ABORTED)|Failed to fetch"
"""The console tells of a server that is gone."""


class Visit:
    """One browser, let into one app, and watched."""

    def __init__(self, browser: Browser, house: House, **options: Any) -> None:
        self.house = house
        self.watch = Watch(house.own)
        told = {"viewport": {"width": 1440, "height": 900}, "accept_downloads": True, **options}
        self.context = browser.new_context(**told)
        self.context.set_default_timeout(WAIT_S * 1000)
        self.context.add_init_script(_TELL_VIOLATIONS)
        self.watch.over(self.context)
        self.let_in()

    def let_in(self) -> None:
        """Open the address with the start token, as after every start."""
        # The browser's own request, which needs no window; its cookies are those of the windows.
        self.context.request.get(self.house.address, max_redirects=0)

    def open(self, address: str) -> Page:
        """A new window at an address of the app."""
        page = self.context.new_page()
        page.goto(address if "://" in address else self.house.own + address)
        if page.locator("print-stream").count():
            # From its first word on it hears of every change.
            page.wait_for_function("() => Boolean(document.querySelector('print-stream').known)")
        return page

    def close(self) -> None:
        """Close all its windows; whatever went wrong unawaited fails the test."""
        self.context.close()
        unawaited = self.watch.unawaited
        assert unawaited == [], unawaited


@contextmanager
def visiting(browser: Browser, house: House, **options: Any) -> Iterator[Visit]:
    """A visit, which fails the test at its end if anything went wrong unseen."""
    visit = Visit(browser, house, **options)
    try:
        yield visit
    except BaseException:
        visit.context.close()
        raise
    visit.close()


# --- waiting ------------------------------------------------------------------------------------------------


def until(page: Page, holds: Callable[[], object], what: str) -> None:
    """Wait until something holds, letting the browser go on meanwhile."""
    end = time.monotonic() + WAIT_S
    while not holds():
        assert time.monotonic() < end, f"not within {WAIT_S:g} s: {what}"
        page.wait_for_timeout(_POLL_MS)


def all_made(folder: Path) -> bool:
    """Whether everything is as decided, and the packet too."""
    seen = look(folder)
    return seen.packet_fresh and all(stage.state == "fresh" for stage in seen.stages.values())


def settled(page: Page, folder: Path) -> None:
    """Wait until all is made and the page says so."""
    until(page, lambda: all_made(folder), "everything made")
    expect(page.locator("#settled")).to_contain_text(words.state_fresh)
    expect(page.locator("#settled")).to_be_visible()


def drawn(page: Page, among: str = "") -> None:
    """Wait until the sheet is whole on the screen, with a layer whose address has ``among`` in it."""
    page.wait_for_function("among => document.querySelector('sheet-view')?.isDrawn?.(among)", arg=among)


def on_screen(page: Page, place: tuple[float, float]) -> tuple[float, float]:
    """Where a place of the image, in mm, is on the screen, in the page's pixels."""
    at = page.evaluate(
        """([x, y]) => {
          const seen = document.querySelector("sheet-view .drawn g").getScreenCTM();
          return [seen.a * x + seen.e, seen.d * y + seen.f];
        }""",
        list(place),
    )
    return float(at[0]), float(at[1])


def click_mm(page: Page, place: tuple[float, float]) -> None:
    """Click the sheet at a place of the image in mm, as a hand would."""
    drawn(page)
    page.mouse.click(*on_screen(page, place))


# --- fixtures -----------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def chromium(one_browser: Browser) -> Browser:
    return one_browser


@pytest.fixture(scope="session")
def house(one_house: House) -> House:
    return one_house


@pytest.fixture
def visit(chromium: Browser, house: House) -> Iterator[Visit]:
    """A visit to the app that all share; what was laid into its drawer is taken out again."""
    before = house.prints()
    with visiting(chromium, house) as opened:
        yield opened
    house.take_out(house.prints() - before)


@pytest.fixture(scope="session")
def address(house: House, tmp_path_factory: pytest.TempPathFactory, _made_once: Path) -> str:
    """The address of a finished tiny print in that app; it lets one in."""
    folder = shutil.copytree(_made_once, tmp_path_factory.mktemp("served") / "tiny")
    return f"{house.lay_in(folder)}/?{urlsplit(house.address).query}"


Room = Literal["light", "dark"]
ROOMS: tuple[Room, ...] = ("light", "dark")
STATIONS = ("design", "impressions", "inks", "blocks", "cutting", "proof")

SCREENS = {"desk": (1440, 900), "small": (1024, 768), "tablet": (820, 1180), "at 200 %": (720, 450)}
"""In CSS pixels; at 200 % a desk's screen holds half as many each way (WCAG 2.2, 1.4.4)."""
