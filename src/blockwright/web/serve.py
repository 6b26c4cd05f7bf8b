"""The server: on this machine only, found by the address that it prints first, ended by Ctrl-C."""

import asyncio
import os
import secrets
import signal
import socket
import sys
import threading
import warnings
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from pydantic.warnings import UnsupportedFieldAttributeWarning

from blockwright.decisions import read_text
from blockwright.model.errors import SettingsError
from blockwright.model.home import home_folder
from blockwright.web.app import make_app
from blockwright.web.drawer import Desk, address_of

HOST = "127.0.0.1"
"""No other machine reaches this."""

USUAL_PORT = 8360
"""Tried first when none is asked for, so that what a browser keeps for an address is found again."""

_LAST_S = 1.7
"""After so long the process ends whatever is still under way: Ctrl-C is answered within 2 s."""

_GRACE_S = 1
"""How long answers under way may take when the app ends."""


def serve(*, folder: Path | None = None, port: int | None = None, browser: bool = True) -> None:
    """Serve the app until it is ended by Ctrl-C or SIGTERM; ``folder`` is opened straight away.

    ``port`` 0 takes any that is free; None takes the usual one, or any. Raises SettingsError when the port
    cannot be had, and FolderError when ``folder`` is no print folder.
    """
    if folder is not None:
        read_text(folder)  # raises unless it is a print folder
    with _listening(port) as listener:
        token = secrets.token_urlsafe(24)
        found = listener.getsockname()[1]
        desk = Desk(home_folder())
        app = make_app(desk, port=found, token=token)
        path = "/" if folder is None else address_of(desk.lay_in(folder))
        address = f"http://{HOST}:{found}{path}?token={token}"

        def tell() -> None:
            print(address, flush=True)
            if browser:
                _show(address)

        # Said of the pages' own parameters when two requests come first at once; it changes nothing.
        warnings.simplefilter("ignore", UnsupportedFieldAttributeWarning)
        config = uvicorn.Config(
            app,
            http="h11",
            ws="none",
            loop="asyncio",
            access_log=False,
            # What goes wrong in a page is printed where it is answered.
            log_config=None,
            log_level="critical",
            server_header=False,
            timeout_graceful_shutdown=_GRACE_S,
        )
        _Server(config, desk, tell).run(sockets=[listener])


@contextmanager
def _listening(port: int | None) -> Iterator[socket.socket]:
    """A socket that listens on this machine only. Raises SettingsError when the port cannot be had."""
    # With the protocol named, answers are sent at once (TCP_NODELAY); else each waits 40 ms for the browser.
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP) as listener:
        if sys.platform == "win32":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, USUAL_PORT if port is None else port))
            listener.listen()
        except OSError as error:
            if port is not None:
                raise SettingsError(
                    f"Port {port} cannot be had ({error.strerror}); give another with --port, or --port 0."
                ) from None
        else:
            yield listener
            return
    with _listening(0) as listener:
        yield listener


def _show(address: str) -> None:
    """Open the printmaker's browser, if there is a screen for it, without waiting for it."""
    on_screen = sys.platform in {"win32", "darwin"} or any(
        os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")
    )
    if on_screen:
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


class _Server(uvicorn.Server):
    """Tells when it is ready, and ends quickly and without a sign of failure when it is asked to."""

    def __init__(self, config: uvicorn.Config, desk: Desk, tell: Callable[[], None]) -> None:
        super().__init__(config)
        self._desk = desk
        self._tell = tell
        self._last = threading.Timer(_LAST_S, os._exit, [0])
        self._last.daemon = True

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._tell()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        # Streams end with the desk; without that the server would wait for them.
        await asyncio.gather(self._desk.close(), super().shutdown(sockets))

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        # The library raises the signal again after all has ended well, which would read as a failure.
        def end(*_: object) -> None:
            if not self.should_exit:
                self._last.start()
            self.should_exit = True

        before = {each: signal.signal(each, end) for each in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for each, handler in before.items():
                signal.signal(each, handler)

    def run(self, sockets: list[socket.socket] | None = None) -> None:
        super().run(sockets)
        if self._last.is_alive():
            # All is put away. Taking down what is loaded can take seconds on a busy machine, for nothing.
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(0)
