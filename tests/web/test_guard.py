"""Who may come in, and what is turned away at the door."""

import asyncio
import re
import time
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import pytest
from asked_app import Browser, run_apart
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route
from starlette.types import Message

import blockwright.web
from blockwright.web import guard
from blockwright.web.guard import FORM_BYTES, HEADERS, PICTURE_BYTES, Guard

PORT, TOKEN = 8360, "s3cret-token"
OWN = f"http://127.0.0.1:{PORT}"


class Inside:
    """A small app behind the guard that notes what reaches it."""

    def __init__(self) -> None:
        self.reached: list[str] = []
        self.bytes_read = 0
        routes = [
            Route("/prints", self.take, methods=["POST"]),
            Route("/broken", self.broken),
            Route("/{path:path}", self.take, methods=["GET", "POST"]),
        ]
        self.guard = Guard(Starlette(routes=routes), port=PORT, token=TOKEN)

    async def take(self, request: Request) -> Response:
        self.reached.append(request.url.path)
        async for piece in request.stream():
            self.bytes_read += len(piece)
        return PlainTextResponse("inside")

    async def broken(self, _: Request) -> Response:
        raise RuntimeError("unforeseen")

    def browser(self, base_url: str = OWN) -> Browser:
        return Browser(self.guard, base_url)


@pytest.fixture
def inside() -> Inside:
    return Inside()


@pytest.fixture
def let_in(inside: Inside) -> Browser:
    browser = inside.browser()
    browser.get("/", params={"token": TOKEN})
    return browser


def is_one_sentence(page: str) -> bool:
    paragraphs = re.findall(r"<p>(.*?)</p>", page)
    return len(paragraphs) == 1 and paragraphs[0].endswith(".")


# --- Host ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8360",
        "127.0.0.1",
        "127.0.0.1:8361",
        "localhost",
        "127.0.0.1:8360.evil",
        "",
    ],
)
def test_only_our_own_names_are_answered(inside: Inside, host: str) -> None:
    answer = inside.browser().get("/", params={"token": TOKEN}, headers={"Host": host})
    assert answer.status_code == 421
    assert is_one_sentence(answer.text)
    assert "set-cookie" not in answer.headers
    assert not inside.reached


@pytest.mark.parametrize("host", ["127.0.0.1:8360", "localhost:8360"])
def test_both_our_names_are_answered(inside: Inside, host: str) -> None:
    browser = inside.browser(f"http://{host}")
    assert browser.get("/", params={"token": TOKEN}).status_code == 303
    assert browser.get("/").text == "inside"


# --- the start token and the cookie ------------------------------------------------------------------------


def test_the_token_lets_a_browser_in_once_and_leaves_the_address(inside: Inside) -> None:
    browser = inside.browser()
    answer = browser.get("/print/abc/", params={"token": TOKEN, "at": "1,2 3"})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/print/abc/?at=1%2C2+3"
    name, _, rest = answer.headers["set-cookie"].partition("=")
    secret, *flags = rest.split("; ")
    assert name == f"blockwright-{PORT}"
    assert set(flags) == {"HttpOnly", "SameSite=Strict", "Path=/"}
    assert len(secret) >= 32
    assert secret != TOKEN
    assert not inside.reached
    assert browser.get("/print/abc/").text == "inside"


def test_every_run_has_a_secret_of_its_own(let_in: Browser) -> None:
    other = Inside().browser()
    other.cookies = let_in.cookies
    assert other.get("/").status_code == 403


@pytest.mark.parametrize("path", ["//evil.example/x", "/\\evil.example", "///evil.example"])
def test_the_way_in_never_leads_off_this_machine(inside: Inside, path: str) -> None:
    sent: list[Message] = []
    scope = {
        "type": "http",
        "method": "GET",
        "path": path,
        "query_string": f"token={TOKEN}".encode(),
        "headers": [(b"host", b"127.0.0.1:8360")],
    }
    run_apart(_call(inside.guard, scope, [], sent))
    location = dict(sent[0]["headers"])[b"location"].decode()
    assert re.match(r"/[^/\\]", location)


@pytest.mark.parametrize("token", ["", "S3CRET-TOKEN", TOKEN[:-1], TOKEN + "x", "ü", "\x00"])
def test_another_token_does_not(inside: Inside, token: str) -> None:
    answer = inside.browser().get("/", params={"token": token})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_the_token_is_no_key_to_a_form(inside: Inside) -> None:
    answer = inside.browser().post("/demo", params={"token": TOKEN}, headers={"Origin": OWN})
    assert answer.status_code == 403
    assert not inside.reached


@pytest.mark.parametrize(
    "path", ["/", "/static/css/house.css", "/print/abc/design", "/nothing", "/openapi.json"]
)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST"])
def test_nothing_is_shown_to_those_outside(inside: Inside, path: str, method: str) -> None:
    answer = inside.browser().request(method, path, headers={"Origin": OWN})
    assert answer.status_code == 403
    if method != "HEAD":
        assert is_one_sentence(answer.text)
        assert "blockwright open" in answer.text
    assert not inside.reached


def test_a_script_outside_gets_the_sentence_as_a_part(inside: Inside) -> None:
    answer = inside.browser().get("/", headers={"HX-Request": "true"})
    assert answer.text.startswith("<p>")


def test_cookies_of_other_ports_and_wrong_secrets_do_not_count(inside: Inside, let_in: Browser) -> None:
    name, secret = next((cookie.name, cookie.value) for cookie in let_in.cookies.jar)

    def status(cookie: str) -> int:
        return inside.browser().get("/", headers={"Cookie": cookie}).status_code

    assert status(f"{name}={secret}") == 200
    assert status(f"{name}={TOKEN}") == 403
    assert status(f"{name}=") == 403
    assert status(f"blockwright-8361={secret}") == 403
    # Another program on this machine may have set one of the same name.
    assert status(f"{name}=other; {name}={secret}; x=1") == 200


# --- Origin -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": OWN}, 200),
        ({"Origin": "http://127.0.0.1:8361"}, 403),
        ({"Origin": "https://127.0.0.1:8360"}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "", "Referer": f"{OWN}/"}, 403),
        ({"Origin": "http://evil.example", "Referer": f"{OWN}/"}, 403),
        ({"Referer": f"{OWN}/print/abc/design"}, 200),
        ({"Referer": "http://evil.example/?http://127.0.0.1:8360/"}, 403),
        ({"Referer": f"{OWN}.evil.example/"}, 403),
        ({"Referer": "http://[/"}, 403),
        ({"Sec-Fetch-Site": "same-origin"}, 200),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "none"}, 403),
        ({}, 403),
    ],
)
def test_forms_come_from_our_own_pages(
    inside: Inside, let_in: Browser, headers: dict[str, str], status: int
) -> None:
    answer = let_in.post("/demo", headers=headers)
    assert answer.status_code == status
    assert bool(inside.reached) == (status == 200)


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"])
def test_other_methods_do_nothing(inside: Inside, let_in: Browser, method: str) -> None:
    answer = let_in.request(method, "/", headers={"Origin": OWN})
    assert answer.status_code == 405
    assert answer.headers["allow"] == "GET, HEAD, POST"
    assert not inside.reached


def test_no_websockets(inside: Inside) -> None:
    sent: list[Message] = []
    run_apart(_call(inside.guard, {"type": "websocket", "path": "/", "headers": []}, [], sent))
    assert sent == [{"type": "websocket.close", "code": 1008}]


# --- headers ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "headers"),
    [("/", {}), ("/", {"Host": "x"}), ("/", {"Cookie": "none=1"}), ("/?token=" + TOKEN, {}), ("/broken", {})],
    ids=["inside", "wrong host", "outside", "coming in", "broken"],
)
def test_every_answer_says_what_a_browser_may_do_with_it(
    let_in: Browser, path: str, headers: dict[str, str]
) -> None:
    told = let_in.get(path, headers=headers).headers
    for name, value in HEADERS.items():
        assert told[name] == value
    assert told["cache-control"] == "no-store"


def test_the_policy_lets_nothing_inline_run_and_nothing_from_elsewhere_load() -> None:
    policy = dict(part.split(" ", 1) for part in HEADERS["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == policy["connect-src"] == "'self'"
    assert policy["form-action"] == "'self'"
    assert policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    allowed = {source for sources in policy.values() for source in sources.split()}
    assert allowed == {"'none'", "'self'", "data:", "blob:"}


def test_no_template_has_anything_inline() -> None:
    """What the policy would refuse anyway is not written either."""
    templates = list((Path(blockwright.web.__file__).parent / "templates").rglob("*.html"))
    assert templates
    for template in templates:
        text = template.read_text(encoding="utf-8")
        assert not re.search(r"<style|<script(?![^>]*\bsrc=)|\sstyle\s*=|\son[a-z]+\s*=|javascript:", text), (
            template
        )
        assert not re.search(r"https?://", text), f"{template} names another machine"


# --- bodies -------------------------------------------------------------------------------------------------


async def _call(app: Any, scope: dict[str, Any], bodies: Any, sent: list[Message]) -> None:
    """Call an app as a server does; ``bodies`` are the pieces of the body as they come in."""
    pieces = iter(bodies)

    async def receive() -> Message:
        await asyncio.sleep(0)
        body = next(pieces, None)
        return {"type": "http.request", "body": body or b"", "more_body": body is not None}

    async def send(message: Message) -> None:
        sent.append(message)

    await app(scope, receive, send)


def _post(
    inside: Inside, path: str, bodies: Iterator[bytes], headers: dict[str, str] | None = None
) -> list[Message]:
    browser = inside.browser()
    browser.get("/", params={"token": TOKEN})
    (cookie,) = browser.cookies.jar
    told = {
        "host": f"127.0.0.1:{PORT}",
        "origin": OWN,
        "cookie": f"{cookie.name}={cookie.value}",
        **(headers or {}),
    }
    scope = {
        "type": "http",
        "method": "POST",
        "path": path,
        "query_string": b"",
        "headers": [(name.encode(), value.encode()) for name, value in told.items()],
    }
    sent: list[Message] = []
    run_apart(_call(inside.guard, scope, bodies, sent))
    return sent


PIECE = bytes(250_000)


def test_a_form_that_is_too_long_is_told_before_it_is_read(inside: Inside, let_in: Browser) -> None:
    assert let_in.post("/demo", content=bytes(FORM_BYTES), headers={"Origin": OWN}).status_code == 200
    inside.reached.clear()
    answer = let_in.post("/demo", content=bytes(FORM_BYTES + 1), headers={"Origin": OWN})
    assert answer.status_code == 413
    assert is_one_sentence(answer.text)
    assert not inside.reached


@pytest.mark.parametrize("length", ["-1", "x", "1e3", "99999999999999999999", ""])
def test_a_length_that_is_none_or_too_large_is_refused(inside: Inside, length: str) -> None:
    sent = _post(inside, "/demo", iter([]), {"content-length": length})
    assert sent[0]["status"] == 413
    assert not inside.reached


def test_a_body_without_a_length_is_counted_as_it_comes(inside: Inside) -> None:
    sent = _post(inside, "/demo", iter([PIECE] * 4))
    assert sent[0]["status"] == 200
    inside.bytes_read = 0
    sent = _post(inside, "/demo", iter([PIECE] * 5))
    assert [message.get("status") for message in sent] == [413, None]
    assert is_one_sentence(sent[1]["body"].decode())
    assert dict(sent[0]["headers"])[b"connection"] == b"close"
    assert inside.bytes_read <= FORM_BYTES


def test_a_length_that_lies_does_not_help(inside: Inside) -> None:
    sent = _post(inside, "/demo", iter([PIECE] * 5), {"content-length": "10"})
    assert sent[0]["status"] == 413


def test_pictures_may_be_larger_at_their_one_address(inside: Inside) -> None:
    assert _post(inside, "/prints", iter([PIECE] * 20))[0]["status"] == 200
    piece = bytes(10_000_000)
    pieces = iter([piece] * (PICTURE_BYTES // len(piece) + 1))
    inside.bytes_read = 0
    sent = _post(inside, "/prints", pieces)
    assert sent[0]["status"] == 413
    assert "200 MB" in sent[1]["body"].decode()
    assert inside.bytes_read <= PICTURE_BYTES + 1_000_000


def test_a_body_without_an_end_is_not_read_for_ever(inside: Inside, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "_DRAIN_S", 0.2)

    def endless() -> Iterator[bytes]:
        while True:
            yield PIECE

    began = time.monotonic()
    sent = _post(inside, "/demo", endless())
    assert sent[0]["status"] == 413
    assert time.monotonic() - began < 2


def test_a_stream_goes_through_piece_by_piece() -> None:
    """Nothing of ours gathers an answer before it is sent."""
    seen: list[str] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        async def pieces() -> AsyncIterator[bytes]:
            for number in range(3):
                seen.append(f"made {number}")
                yield str(number).encode()

        await send({"type": "http.response.start", "status": 200, "headers": []})
        async for piece in pieces():
            await send({"type": "http.response.body", "body": piece, "more_body": True})

    guarded = Guard(app, port=PORT, token=TOKEN)
    cookie = f"{guarded.cookie}={guarded._secret}"
    headers = [(b"host", f"127.0.0.1:{PORT}".encode()), (b"cookie", cookie.encode())]
    scope = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": headers}

    async def send(message: Message) -> None:
        if message["type"] == "http.response.body":
            seen.append(f"sent {message['body'].decode()}")

    async def receive() -> Message:
        return {"type": "http.disconnect"}

    run_apart(guarded(scope, receive, send))
    assert seen == ["made 0", "sent 0", "made 1", "sent 1", "made 2", "sent 2"]
