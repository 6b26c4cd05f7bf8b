"""Who may come in: only a browser on this machine that was given the start token, and only to our own pages.

Everything passes here before any page is asked for. Binding to 127.0.0.1 keeps other machines out; this keeps
out other programs of the same machine, and other pages of the same browser. A page elsewhere that has a name
of its own point at 127.0.0.1 fails by its Host, one that posts a form to us by its Origin and by the
cookie's SameSite.
"""

import asyncio
import hmac
import secrets
from html import escape
from urllib.parse import parse_qsl, quote, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

FORM_BYTES = 1_000_000
"""Most bytes of a body: the longest form has some hundred."""

PICTURE_BYTES = 200_000_000
"""Most bytes of a picture that is taken in: A2 at 600 dpi, uncompressed in 8 bits, has 418 MB, packed a
tenth of it."""

_FRAME_BYTES = 100_000
"""What a form may need around the picture: boundaries, a title, a width."""

_DRAIN_S = 5.0
"""How long the rest of a body that is too large is still read, so that a browser that sends without reading
gets to the answer; a 2-GB file takes about that long on one machine."""

UPLOAD_PATHS = frozenset({"/prints", "/shelf/paints/scan", "/shelf/paints/chart"})
"""The addresses that take pictures."""

_POLICY = "; ".join((
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data: blob:",
    "connect-src 'self'",
    "font-src 'self'",
    "form-action 'self'",
    "base-uri 'none'",
    "frame-ancestors 'none'",
))  # fmt: skip

HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
"""On every answer, of whatever kind."""

NO_KEY = (
    "This page opens with the whole address that blockwright printed when it started; "
    "if that is gone, start it again with: blockwright open."
)
WRONG_HOST = "Blockwright answers only at http://127.0.0.1:{port}/ on this machine."
WRONG_ORIGIN = "This was sent from another page, not from blockwright's own, so nothing was done."
WRONG_METHOD = "Pages can be looked at and forms sent, nothing else."
TOO_LARGE = "The picture is larger than 200 MB; save it packed (PNG, or TIFF with LZW), or smaller."
TOO_LONG = "The form is longer than 1 MB; nothing that is decided here needs that much."


class Guard:
    """The outermost layer of the app.

    ``token`` opens it once for each browser; the cookie that then counts is made anew for every run.
    """

    def __init__(self, app: ASGIApp, *, port: int, token: str) -> None:
        self._app = app
        self._port = port
        self._token = token
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._secret = secrets.token_urlsafe(32)
        self.cookie = f"blockwright-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await self._answer(scope, receive, _with_headers(send))

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        if headers.get("host") not in self._hosts:
            return await _say(scope, send, 421, WRONG_HOST.format(port=self._port))
        if scope["method"] not in {"GET", "HEAD", "POST"}:
            return await _say(scope, send, 405, WRONG_METHOD, {"Allow": "GET, HEAD, POST"})
        if scope["method"] == "POST" and not _from_own_page(headers):
            return await _say(scope, send, 403, WRONG_ORIGIN)
        if scope["method"] != "POST" and self._has_token(scope):
            return await self._let_in(scope, send)
        if not self._has_cookie(headers):
            return await _say(scope, send, 403, NO_KEY)
        return await self._pass_on(scope, receive, send, headers)

    def _has_token(self, scope: Scope) -> bool:
        return any(name == "token" and _same(value, self._token) for name, value in _query(scope))

    def _has_cookie(self, headers: Headers) -> bool:
        # Cookies know no ports: a program on another port may have set one of the same name beside ours.
        told = ";".join(headers.getlist("cookie")).split(";")
        pairs = (pair.strip().partition("=") for pair in told)
        return any(name == self.cookie and _same(value, self._secret) for name, _, value in pairs)

    async def _let_in(self, scope: Scope, send: Send) -> None:
        """Set the cookie, and go on at the same address without the token, which then stands nowhere."""
        # One slash in front: two would name another host.
        path = "/" + quote(scope["path"].lstrip("/"))
        rest = urlencode([(name, value) for name, value in _query(scope) if name != "token"])
        told = {
            "Location": f"{path}?{rest}" if rest else path,
            "Set-Cookie": f"{self.cookie}={self._secret}; HttpOnly; SameSite=Strict; Path=/",
        }
        await _say(scope, send, 303, "Come in.", told)

    async def _pass_on(self, scope: Scope, receive: Receive, send: Send, headers: Headers) -> None:
        upload = scope["path"] in UPLOAD_PATHS
        body = _Body(receive, PICTURE_BYTES + _FRAME_BYTES if upload else FORM_BYTES)
        answered = False

        async def answer(message: Message) -> None:
            nonlocal answered
            # What the page says to half a body is of no interest.
            if not body.too_large or answered:
                answered = True
                await send(message)

        if body.too_much_said(headers.get("content-length", "0")):
            body.too_large = True
        else:
            try:
                await self._app(scope, body.receive, answer)
            except Exception:
                if not body.too_large:
                    raise
        if body.too_large and not answered:
            await body.drain()
            sentence = TOO_LARGE if upload else TOO_LONG
            await _say(scope, send, 413, sentence, {"Connection": "close"})


class _Body:
    """A body as it comes in, counted; the app sees a lost connection when there is too much of it."""

    def __init__(self, receive: Receive, most_bytes: int) -> None:
        self._receive = receive
        self._left = most_bytes
        self._ended = False
        self.too_large = False

    def too_much_said(self, length: str) -> bool:
        return not length.isdecimal() or int(length) > self._left

    async def receive(self) -> Message:
        if self.too_large:
            return {"type": "http.disconnect"}
        message = await self._take()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.too_large = True
            return {"type": "http.disconnect"}
        return message

    async def _take(self) -> Message:
        message = await self._receive()
        self._ended = message["type"] != "http.request" or not message.get("more_body", False)
        return message

    async def drain(self) -> None:
        """Read on for a while, and keep nothing."""
        try:
            async with asyncio.timeout(_DRAIN_S):
                while not self._ended:
                    await self._take()
        except TimeoutError:
            pass


def _same(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode("utf-8", "replace"), wanted.encode())


def _query(scope: Scope) -> list[tuple[str, str]]:
    try:
        return parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True, max_num_fields=100)
    except ValueError:
        return []


def _from_own_page(headers: Headers) -> bool:
    """Whether a form comes from a page of ours, by what the browser says that no page can forge."""
    own = f"http://{headers['host']}"
    if (origin := headers.get("origin")) is not None:
        return origin == own
    if (referrer := headers.get("referer")) is not None:
        try:
            parts = urlsplit(referrer)
        except ValueError:
            return False
        return f"{parts.scheme}://{parts.netloc}" == own
    return headers.get("sec-fetch-site") == "same-origin"


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.update(HEADERS)
            # Pages hold the work in progress; what says of itself that it never changes may be kept.
            headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return guarded


def plain_page(sentence: str) -> str:
    """A page of one sentence that needs nothing else; style sheets are for those inside only."""
    title = '<meta charset="utf-8"><title>Blockwright</title>'
    body = f"<h1>Blockwright</h1>\n<p>{escape(sentence)}</p>"
    return f'<!doctype html>\n<html lang="en">{title}\n{body}\n</html>\n'


async def _say(
    scope: Scope, send: Send, status: int, sentence: str, more: dict[str, str] | None = None
) -> None:
    """Answer by one sentence, as a part for a script, else as a page."""
    part = Headers(scope=scope).get("hx-request") == "true"
    body = (f"<p>{escape(sentence)}</p>\n" if part else plain_page(sentence)).encode()
    headers = {"Content-Type": "text/html; charset=utf-8", "Content-Length": str(len(body)), **(more or {})}
    raw = [(name.lower().encode(), value.encode("latin-1")) for name, value in headers.items()]
    await send({"type": "http.response.start", "status": status, "headers": raw})
    await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})
