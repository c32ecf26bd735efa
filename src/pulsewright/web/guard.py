"""Stands before every page: refuses strangers and floods, and tells the browser what a page may do."""

from __future__ import annotations

import asyncio
import secrets
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pulsewright.web import words
from pulsewright.web.door import LOOPBACK, Door

MOST_BYTES = 64 * 1024 * 1024  # of one request
TOO_MUCH = words.TOO_MUCH.format(mib=MOST_BYTES // 1024**2)
VISIT, PASS = "pw_visit", "pw_pass"  # cookies: which browser this is; that it gave the code
READING = ("GET", "HEAD", "OPTIONS")
OPEN_TO_ALL = ("/enter", "/static/")
HERE = ("127.0.0.1", "::1", "testclient")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; img-src 'self' data: "
    "blob:; connect-src 'self'; font-src 'self'; form-action 'self'; frame-src 'self'; base-uri 'none'; "
    "frame-ancestors 'self'"
)
OPENER = ("Cross-Origin-Opener-Policy", "same-origin")  # a browser complains of it under a plain address in a network
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "SAMEORIGIN",
}


class Guard:
    """Middleware around the whole app."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self._app, self._door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = Headers(scope=scope)
        cookies = _cookies(headers.get("cookie", ""))
        refusal = self._refusal(scope, headers, cookies)
        if refusal is not None:
            await refusal(scope, receive, _with_headers(send, headers, ""))
            return
        visit = cookies.get(VISIT, "")
        new = "" if _plausible(visit) else secrets.token_urlsafe(18)
        scope.setdefault("state", {})["visit"] = new or visit
        await _or_farewell(self._app, scope, _counted(receive), _with_headers(send, headers, new))

    def _refusal(self, scope: Scope, headers: Headers, cookies: dict[str, str]) -> Any:
        """What a request is turned away with, None where it may come in."""
        host = headers.get("host", "")
        if not self._door.knows(host):
            return PlainTextResponse(words.WRONG_HOST, status_code=421)
        if scope["method"] not in READING and not self._from_here(headers, host):
            return PlainTextResponse(words.WRONG_ORIGIN, status_code=403)
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BYTES:
            return _too_much()
        if not self._may_enter(scope, cookies):
            return RedirectResponse("/enter", status_code=303)
        return None

    def _from_here(self, headers: Headers, host: str) -> bool:
        origin = headers.get("origin")
        if origin is not None:
            return self._door.own_origin(origin, host)
        return headers.get("sec-fetch-site", "same-origin") in ("same-origin", "none")

    def _may_enter(self, scope: Scope, cookies: dict[str, str]) -> bool:
        if not self._door.lan or str(scope["path"]).startswith(OPEN_TO_ALL):
            return True
        client = scope.get("client") or ("",)
        return client[0] in HERE or self._door.is_guest(cookies.get(PASS, ""))


async def _or_farewell(app: ASGIApp, scope: Scope, receive: Receive, send: Send) -> None:
    """The answer, or that there is none: the server is stopped and does not wait for what is being computed."""
    begun = False

    async def sending(message: Message) -> None:
        nonlocal begun
        begun = True
        await send(message)

    try:
        await app(scope, receive, sending)
    except asyncio.CancelledError:
        if not begun:
            await PlainTextResponse(words.STOPPED, status_code=503)(scope, receive, send)


def _too_much() -> PlainTextResponse:
    return PlainTextResponse(TOO_MUCH, status_code=413)


def _plausible(visit: str) -> bool:
    return 16 <= len(visit) <= 64 and visit.isascii() and visit.replace("-", "").replace("_", "").isalnum()


def _cookies(text: str) -> dict[str, str]:
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(text)
    except CookieError:
        return {}
    return {name: morsel.value for name, morsel in jar.items()}


def _counted(receive: Receive) -> Receive:
    """The same body, given up as soon as it grows too long."""
    seen = 0

    async def counting() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > MOST_BYTES:
            raise HTTPException(413, TOO_MUCH)
        return message

    return counting


def _with_headers(send: Send, asked: Headers, new_visit: str) -> Send:
    on_this_machine = asked.get("host", "").rsplit(":", 1)[0].lower() in LOOPBACK

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if on_this_machine:
                headers.setdefault(*OPENER)
            headers.setdefault("Content-Security-Policy", POLICY)
            headers.setdefault("Cache-Control", "no-store")
            if new_visit:
                headers.append(
                    "Set-Cookie", f"{VISIT}={new_visit}; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000"
                )
        await send(message)

    return sending
