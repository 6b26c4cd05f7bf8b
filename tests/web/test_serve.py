"""The server as a process: where it listens, what it prints, and how it ends."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from blockwright.cli import run
from blockwright.web.registry import print_id
from blockwright.web.serve import HOST, _listening

COMMAND = [sys.executable, "-c", "from blockwright.cli import main; main()"]


@contextmanager
def running(home: Path, *words: str) -> "Iterator[tuple[subprocess.Popen[str], str]]":
    """The command ``open`` at work, and the address that it prints first."""
    process = subprocess.Popen(
        [*COMMAND, "open", *words, "--no-browser"],
        env={**os.environ, "BLOCKWRIGHT_HOME": str(home)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        assert process.stdout is not None
        yield process, process.stdout.readline().strip()
    finally:
        if process.poll() is None:
            process.kill()
        process.communicate()


@contextmanager
def let_in(address: str) -> Iterator[httpx.Client]:
    own = f"http://{urlsplit(address).netloc}"
    with httpx.Client(base_url=own, headers={"Origin": own}, timeout=20) as client:
        assert client.get(address).status_code == 303
        yield client


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_within_two_seconds_with_an_open_stream(
    tmp_path: Path, made_print: Path, how: signal.Signals
) -> None:
    with running(tmp_path / "home", str(made_print), "--port", "0") as (process, address):
        id = print_id(made_print)
        parts = urlsplit(address)
        assert (parts.scheme, parts.hostname, parts.path) == ("http", "127.0.0.1", f"/print/{id}/")
        assert parts.query.startswith("token=")
        assert len(parts.query) > 30
        with let_in(address) as browser, browser.stream("GET", f"/print/{id}/stream") as stream:
            assert stream.headers["content-type"].startswith("text/event-stream")
            assert next(stream.iter_lines())
            began = time.monotonic()
            os.kill(process.pid, how)
            # Not until its pipes are closed: its workers, which end by themselves, hold them too.
            assert process.wait(timeout=10) == 0
            assert time.monotonic() - began < 2
        out, err = process.communicate(timeout=10)
        assert out == ""
        assert err == ""


def test_no_other_address_of_this_machine_is_served(tmp_path: Path, new_print: Path) -> None:
    # The drawer is not empty, so that no demo is painted here.
    with running(tmp_path / "home", str(new_print), "--port", "0") as (_, address):
        port = urlsplit(address).port
        assert port
        with socket.create_connection((HOST, port), timeout=5):
            pass
        # All of 127/8 is this machine on Linux; a server on all addresses would answer here.
        for other in ("127.0.0.2", "::1"):
            with pytest.raises(OSError), socket.create_connection((other, port), timeout=2):  # noqa: PT011
                pass
        with let_in(address) as browser:
            assert browser.get("/", headers={"Host": f"evil.example:{port}"}).status_code == 421
            assert browser.get("/").status_code == 200

            def pieces() -> Iterator[bytes]:
                for _ in range(30):
                    yield bytes(100_000)

            # Chunked, without a length.
            form = {"Content-Type": "application/x-www-form-urlencoded"}
            decide = f"/print/{print_id(new_print)}/decide"
            answer = browser.post(decide, content=pieces(), headers=form)
            assert answer.status_code == 413
        with httpx.Client(base_url=f"http://{HOST}:{port}") as stranger:
            assert stranger.get("/").status_code == 403
            assert stranger.get("/static/css/house.css").status_code == 403


def test_the_socket_is_bound_to_this_machine() -> None:
    with _listening(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_the_usual_port_gives_way_to_any(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.create_server((HOST, 0)) as taken:
        monkeypatch.setattr("blockwright.web.serve.USUAL_PORT", taken.getsockname()[1])
        with _listening(None) as listener:
            assert listener.getsockname()[1] != taken.getsockname()[1]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BLOCKWRIGHT_HOME", str(tmp_path / "home"))
    return tmp_path / "home"


def _refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert run(["open", *words, "--no-browser"]) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    (sentence,) = caught.err.splitlines()
    assert sentence.endswith(".")
    return sentence


def test_a_port_that_is_taken_is_told(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server((HOST, 0)) as taken:
        port = taken.getsockname()[1]
        sentence = _refused(capsys, "--port", str(port))
    assert str(port) in sentence
    assert "--port 0" in sentence
    assert not home.exists()


@pytest.mark.parametrize("port", ["x", "-1", "65536"])
def test_a_port_that_is_none_is_told(home: Path, capsys: pytest.CaptureFixture[str], port: str) -> None:
    assert "--port" in _refused(capsys, "--port", port)


def test_a_folder_that_is_no_print_is_told(
    home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty").mkdir()
    assert "no print folder" in _refused(capsys, str(tmp_path / "empty"), "--port", "0")
    assert "There is no folder" in _refused(capsys, str(tmp_path / "nowhere"), "--port", "0")
    assert not home.exists()


def test_answers_are_sent_at_once() -> None:
    """The event loop turns off the gathering of small packets (RFC 896) only where the protocol is named."""
    with _listening(0) as listener:
        assert listener.proto == socket.IPPROTO_TCP
