"""Prints that several tests look at: a tiny one, and the demo, which is made once for the whole run."""

import contextlib
import io
import shutil
from pathlib import Path

import hypothesis
import pytest

from blockwright import cli, project
from finished_demo import FinishedDemo
from tiny_print import WIDTH_MM, write_tiny_picture

# How long a case takes says more about what else the machine does: speed is measured elsewhere.
hypothesis.settings.register_profile("untimed", deadline=None)
hypothesis.settings.load_profile("untimed")


@pytest.fixture(scope="session")
def demo_print(tmp_path_factory: pytest.TempPathFactory) -> FinishedDemo:
    """The demo, run through the command line once; tests only look at it."""
    folder = tmp_path_factory.mktemp("demo") / "tide-mill"
    stdout, stderr = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(stdout), contextlib.redirect_stderr(stderr):
        exit_code = cli.run(["demo", str(folder), "--json"])
    return FinishedDemo(folder, exit_code, stdout.getvalue(), stderr.getvalue())


@pytest.fixture(scope="session")
def tiny_picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_tiny_picture(tmp_path_factory.mktemp("tiny") / "painted.png")


@pytest.fixture(scope="session")
def _made_once(tmp_path_factory: pytest.TempPathFactory, tiny_picture: Path) -> Path:
    folder = tmp_path_factory.mktemp("made") / "tiny"
    project.create(folder, picture=tiny_picture, width_mm=WIDTH_MM, title="Tiny")
    project.make(folder)
    return folder


@pytest.fixture
def new_print(tmp_path: Path, tiny_picture: Path) -> Path:
    """A tiny print of which nothing is made yet."""
    folder = tmp_path / "tiny"
    project.create(folder, picture=tiny_picture, width_mm=WIDTH_MM, title="Tiny")
    return folder


@pytest.fixture
def made_print(tmp_path: Path, _made_once: Path) -> Path:
    """A tiny print of which everything is made."""
    return Path(shutil.copytree(_made_once, tmp_path / "tiny"))
