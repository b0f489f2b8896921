"""What stands before every request: who may ask, how large and how slow a body may be.

Other pages in the same browser can send requests to this machine, and a name can be made to point
at it; so Host and Origin are checked on each one. Addresses beyond the machine need a token that
the printed link carries; it becomes a cookie that no script can read.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import logging
import re
from contextlib import suppress
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from img2pour.web.door import Door
from img2pour.web.faults import BROKEN_WORDS
from img2pour.web.settings import PageSettings

log = logging.getLogger("img2pour.web")

SMALL_BODY_BYTES = 2_000_000
PASSED_OVER, PASS_S = 3, 2.0
"""A refused body may go on for so many times its limit, and so long."""


POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'; object-src 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


class TooLargeError(Exception):
    """A body is larger than it may be."""


class TooSlowError(Exception):
    """A body does not arrive in time."""


class Guard:
    """Middleware: checks, then headers.

    Parameters
    ----------
    app : ASGI application
    door : Door
    settings : PageSettings
    """

    def __init__(self, app: ASGIApp, door: Door, settings: PageSettings) -> None:
        self.app, self.door, self.settings = app, door, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer why not."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        began = _Begun(send)
        headers = _headers(scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(began)
            return
        limit = self._limit(scope)
        if _stated_bytes(headers) > limit:
            await _let_pass(receive, limit)
            await _answer(began, 413, _too_large(limit), close=True)
            return
        try:
            await self.app(scope, _Body(receive, limit, self.settings).receive, began)
        except TooLargeError:
            await _let_pass(receive, limit)
            await _late(began, 413, _too_large(limit))
        except TooSlowError:
            await _late(began, 408, "the file did not arrive in time; try again")
        except Exception:
            log.exception("%s %s", scope["method"], scope["path"])
            await _late(began, 500, BROKEN_WORDS)

    def _refusal(self, scope: Scope, headers: dict[str, list[str]]) -> _Refusal | None:
        """Return the answer to who may not come in; None for who may."""
        hosts, origins = headers.get("host", []), headers.get("origin", [])
        if len(hosts) != 1 or not self.door.knows_host(hosts[0]):
            return _Refusal(400, "this address is not the page's own; use the printed link")
        if any(origin != f"http://{hosts[0]}" for origin in origins):
            return _Refusal(403, "another page asked for this; it is refused")
        if _is_foreign(scope, headers):
            return _Refusal(403, "another page asked for this; it is refused")
        if self.door.token is None:
            return None
        return self._token_refusal(scope, headers)

    def _token_refusal(self, scope: Scope, headers: dict[str, list[str]]) -> _Refusal | None:
        """Turn the token of the link into a cookie; refuse who has neither."""
        assert self.door.token is not None
        given = _query_token(scope)
        if given and scope["path"] == "/" and scope["method"] == "GET":
            if hmac.compare_digest(given.encode(), self.door.token.encode()):
                return _Refusal(303, "", self._set_cookie())
        elif hmac.compare_digest(self._session(headers).encode(), self.door.session.encode()):
            return None
        return _Refusal(403, "open the link that was printed when the page was started")

    def _session(self, headers: dict[str, list[str]]) -> str:
        for line in headers.get("cookie", []):
            try:
                morsel = SimpleCookie(line).get(self.door.cookie)
            except CookieError:
                continue
            if morsel is not None:
                return str(morsel.value)
        return ""

    def _set_cookie(self) -> str:
        return f"{self.door.cookie}={self.door.session}; HttpOnly; SameSite=Strict; Path=/"

    def _limit(self, scope: Scope) -> int:
        is_upload = scope["method"] == "POST" and scope["path"] == "/api/jobs"
        return self.settings.max_bytes if is_upload else SMALL_BODY_BYTES


@dataclass(frozen=True)
class _Refusal:
    """An answer without the application."""

    status: int
    message: str
    cookie: str = ""

    async def __call__(self, send: Send) -> None:
        await _answer(send, self.status, self.message, cookie=self.cookie, close=True)


class _Begun:
    """Sends on, with the security headers, and remembers whether the answer has begun."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.has_begun = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.has_begun = True
            named = {name.lower() for name, _ in message["headers"]}
            own = [
                (name.encode(), value.encode())
                for name, value in HEADERS.items()
                if name.encode() not in named
            ]
            if b"cache-control" not in named:
                own.append((b"cache-control", b"no-store"))
            message = {**message, "headers": [*message["headers"], *own]}
        await self._send(message)


class _Body:
    """Reads a body part by part, within its limits."""

    def __init__(self, receive: Receive, limit: int, settings: PageSettings) -> None:
        self._receive = receive
        self._left = limit
        self._chunk_s = settings.chunk_s
        self._ends = asyncio.get_running_loop().time() + settings.body_s
        self._is_whole = False

    async def receive(self) -> Message:
        """Return the next part.

        Raises
        ------
        TooLargeError
        TooSlowError
        """
        if self._is_whole:
            return await self._receive()
        left_s = min(self._chunk_s, self._ends - asyncio.get_running_loop().time())
        try:
            message = await asyncio.wait_for(self._receive(), max(left_s, 0.0))
        except TimeoutError:
            raise TooSlowError from None
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            self._is_whole = not message.get("more_body", False)
            if self._left < 0:
                raise TooLargeError
        return message


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _is_foreign(scope: Scope, headers: dict[str, list[str]]) -> bool:
    """Tell whether the browser says that another site asks; a plain link to the page is none."""
    sites = headers.get("sec-fetch-site", [])
    if all(site in ("same-origin", "none") for site in sites):
        return False
    is_link = "navigate" in headers.get("sec-fetch-mode", [])
    return not (is_link and scope["method"] == "GET" and scope["path"] == "/")


def _query_token(scope: Scope) -> str:
    asked: dict[str, list[str]] = parse_qs(scope["query_string"].decode("latin-1"))
    return asked.get("token", [""])[0]


def _stated_bytes(headers: dict[str, list[str]]) -> int:
    stated = headers.get("content-length", ["0"])[0]
    return int(stated) if re.fullmatch(r"[0-9]{1,18}", stated) else 0


def _too_large(limit: int) -> str:
    return f"this is larger than the {limit / 1e6:.0f} MB that the page takes; make it smaller"


async def _let_pass(receive: Receive, limit: int) -> None:
    """Throw away what still comes of a refused body, for a while.

    Who is cut off in the middle of sending seldom reads the answer.
    """
    left = PASSED_OVER * limit
    with suppress(TimeoutError):
        async with asyncio.timeout(PASS_S):
            while left > 0:
                message = await receive()
                if not message.get("more_body", False):
                    return
                left -= len(message.get("body", b""))


async def _late(send: _Begun, status: int, message: str) -> None:
    """Answer, unless an answer has begun."""
    if send.has_begun:
        log.warning("a body was refused after the answer had begun: %s", message)
        return
    await _answer(send, status, message, close=True)


async def _answer(
    send: Send | _Begun, status: int, message: str, *, cookie: str = "", close: bool = False
) -> None:
    body = json.dumps({"message": message}).encode() if message else b""
    headers: list[tuple[bytes, bytes]] = [(b"content-length", str(len(body)).encode())]
    if body:
        headers.append((b"content-type", b"application/json"))
    if status == 303:
        headers.append((b"location", b"/"))
    if cookie:
        headers.append((b"set-cookie", cookie.encode()))
    if close:
        headers.append((b"connection", b"close"))
    start: dict[str, Any] = {"type": "http.response.start", "status": status, "headers": headers}
    own = send if isinstance(send, _Begun) else _Begun(send)
    await own(start)
    await own({"type": "http.response.body", "body": body})
