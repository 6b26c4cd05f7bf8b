"""An app on a desk in a temporary folder, and a browser that was let in, for tests."""

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, TypeVar

import httpx

from blockwright.web.app import make_app
from blockwright.web.drawer import Desk
from blockwright.web.events import JobState
from blockwright.web.jobs import Jobs

Result = TypeVar("Result")

PORT, TOKEN = 8360, "the-start-token"
OWN = f"http://127.0.0.1:{PORT}"


def run_apart(task: Coroutine[Any, Any, Result]) -> Result:
    """Run a task to its end in a thread of its own: a browser's driver may hold this thread's loop."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(lambda: asyncio.run(task)).result()


class Browser:
    """Asks an app without a network; keeps cookies, and follows nothing by itself."""

    def __init__(self, app: Any, base_url: str = OWN, headers: dict[str, str] | None = None) -> None:
        self._app = app
        self._base_url = base_url
        self._headers = headers
        self.cookies = httpx.Cookies()

    def request(self, method: str, address: str, **more: Any) -> httpx.Response:
        """Ask once; what goes wrong in the app unforeseen is answered as a server would."""
        return run_apart(self.ask(method, address, **more))

    async def ask(self, method: str, address: str, **more: Any) -> httpx.Response:
        transport = httpx.ASGITransport(self._app, raise_app_exceptions=False)
        async with httpx.AsyncClient(
            transport=transport, base_url=self._base_url, headers=self._headers, cookies=self.cookies
        ) as client:
            answer = await client.request(method, address, **more)
            self.cookies = client.cookies
            return answer

    def get(self, address: str, **more: Any) -> httpx.Response:
        return self.request("GET", address, **more)

    def post(self, address: str, **more: Any) -> httpx.Response:
        return self.request("POST", address, **more)


class NotedJobs(Jobs):
    """Jobs that are only written down."""

    def __init__(self) -> None:
        super().__init__()
        self.asked_for: list[tuple[str, Path]] = []
        self.ahead: list[str] = []
        self.stopped: list[str] = []
        self.warmed: list[Path | None] = []

    def warm(self, folder: Path | None = None) -> None:
        self.warmed.append(folder)

    def ask(self, print_id: str, folder: Path, *, ahead: bool = False) -> None:
        self.asked_for.append((print_id, folder))
        if ahead:
            self.ahead.append(print_id)

    def stop(self, print_id: str) -> None:
        self.stopped.append(print_id)

    def state(self, print_id: str) -> JobState:
        return JobState(running=print_id in dict(self.asked_for))


class AskedApp:
    """A desk, its app, and a browser inside; the app's own beginning and end are not run."""

    def __init__(self, home: Path, *, port: int = PORT) -> None:
        self.desk = Desk(home)
        own = f"http://127.0.0.1:{port}"
        self.app = make_app(self.desk, port=port, token=TOKEN)
        self.jobs = NotedJobs()
        self.desk.jobs = self.jobs
        self.browser = Browser(self.app, own, {"Origin": own})
        assert self.browser.get("/", params={"token": TOKEN}).status_code == 303

    def close(self) -> None:
        """Let go of every print."""
        self.desk.holding.let_all_go()
