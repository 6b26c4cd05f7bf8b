"""What many tests look at and is costly to have: a tiny print, the demo print, a browser, an app for it.

Several processes may share the tests (pytest-xdist); prints are made once for all of them.
"""

import contextlib
import io
import json
import os
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest

from blockwright import cli, project
from blockwright.folder import hold_file
from finished_demo import FinishedDemo
from tiny_print import create_tiny, mix_from_the_shelf, set_value, write_tiny_picture

if TYPE_CHECKING:
    from browsing import House
    from playwright.sync_api import Browser

# How long a case takes says more about what else the machine does: speed is measured elsewhere.
hypothesis.settings.register_profile("untimed", deadline=None)
hypothesis.settings.load_profile("untimed")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests in a browser come last: its driver holds the event loop of its thread from its start to its end.

    They are also the longest, so that processes which share the tests can share them evenly to the end.
    """
    items.sort(key=lambda item: "one_browser" in getattr(item, "fixturenames", ()))


Fill = Callable[[Path], None]


def _made_once_for_all(factory: pytest.TempPathFactory, name: str, fill: Fill) -> Path:
    """A folder that is filled once, by whichever of the processes that share the tests asks first."""
    place = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        place = place.parent
    folder, whole = place / name, place / f"{name}.whole"
    with (place / f"{name}.busy").open("a") as busy:
        while not hold_file(busy.fileno()):
            time.sleep(0.1)
        if not whole.exists():
            folder.mkdir()
            fill(folder)
            whole.touch()
    return folder


def _run_demo(folder: Path) -> None:
    stdout, stderr = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(stdout), contextlib.redirect_stderr(stderr):
        exit_code = cli.run(["demo", str(folder / "tide-mill"), "--json"])
    said = {"exit_code": exit_code, "stdout": stdout.getvalue(), "stderr": stderr.getvalue()}
    (folder / "said.json").write_text(json.dumps(said), encoding="utf-8")


@pytest.fixture(scope="session")
def demo_print(tmp_path_factory: pytest.TempPathFactory) -> FinishedDemo:
    """The demo, run through the command line once; tests only look at it."""
    folder = _made_once_for_all(tmp_path_factory, "demo", _run_demo)
    said = json.loads((folder / "said.json").read_text(encoding="utf-8"))
    return FinishedDemo(folder / "tide-mill", **said)


@pytest.fixture(scope="session", autouse=True)
def _studio_of_nobody(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test sees the studio of whoever runs it: prints are mixed from the starter set of pigments."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("BLOCKWRIGHT_HOME", str(tmp_path_factory.mktemp("home")))
        yield


@pytest.fixture(scope="session")
def tiny_picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_tiny_picture(tmp_path_factory.mktemp("tiny") / "painted.png")


def _make_tiny(folder: Path) -> None:
    picture = write_tiny_picture(folder / "painted.png")
    create_tiny(folder / "tiny", picture)
    project.make(folder / "tiny")


@pytest.fixture(scope="session")
def _made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _made_once_for_all(tmp_path_factory, "made", _make_tiny) / "tiny"


@pytest.fixture
def new_print(tmp_path: Path, tiny_picture: Path) -> Path:
    """A tiny print of which nothing is made yet."""
    folder = tmp_path / "tiny"
    create_tiny(folder, tiny_picture)
    return folder


@pytest.fixture
def made_print(tmp_path: Path, _made_once: Path) -> Path:
    """A tiny print of which everything is made."""
    return Path(shutil.copytree(_made_once, tmp_path / "tiny"))


@pytest.fixture(scope="session")
def _routed_once_for_all(tmp_path_factory: pytest.TempPathFactory, _made_once: Path) -> Path:
    def fill(folder: Path) -> None:
        shutil.copytree(_made_once, folder / "tiny")
        set_value(folder / "tiny", "method", '"router"')
        project.make(folder / "tiny")

    return _made_once_for_all(tmp_path_factory, "routed-tiny", fill) / "tiny"


@pytest.fixture
def print_for_router(tmp_path: Path, _routed_once_for_all: Path) -> Path:
    """A tiny print of which everything is made, its faces cut by a router."""
    return Path(shutil.copytree(_routed_once_for_all, tmp_path / "tiny"))


@pytest.fixture(scope="session")
def _mixed_once_for_all(tmp_path_factory: pytest.TempPathFactory, _made_once: Path) -> Path:
    def fill(folder: Path) -> None:
        shutil.copytree(_made_once, folder / "tiny")
        mix_from_the_shelf(folder / "tiny")

    return _made_once_for_all(tmp_path_factory, "mixed-tiny", fill) / "tiny"


@pytest.fixture
def mixed_print(tmp_path: Path, _mixed_once_for_all: Path) -> Path:
    """A tiny print of which everything is made, its inks mixed by recipe from the starter set."""
    return Path(shutil.copytree(_mixed_once_for_all, tmp_path / "tiny"))


# Only tests beside it ask for these, so that ``browsing`` is found.


@pytest.fixture(scope="session")
def one_browser() -> Iterator["Browser"]:
    """A browser for all tests of this process."""
    from browsing import launched

    with launched() as browser:
        yield browser


@pytest.fixture(scope="session")
def one_house(
    one_browser: "Browser", tmp_path_factory: pytest.TempPathFactory, tiny_picture: Path
) -> Iterator["House"]:
    """An app whose drawer holds a print already, so that no demo print is painted behind the tests."""
    from browsing import housed

    place = tmp_path_factory.mktemp("house")
    create_tiny(place / "first", tiny_picture, title="First")
    with housed(place / "home", place / "first") as house:
        yield house
