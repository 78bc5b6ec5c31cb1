"""What every request must pass: right host, right origin, a paired device; and the headers.

A page of another site can make a browser on this machine send requests here. It cannot fake
the Host and Origin that the browser adds, so those decide.
"""

from __future__ import annotations

from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from voicecheck.display.pairing import Pairing

COOKIE: Final = "voicecheck-device"
_OPEN: Final = frozenset({"/pair", "/static/kneeboard.css", "/static/theme.js", "/static/pair.js"})
"""What a device may see before it is paired."""


def _headers(hosts: Iterable[str]) -> list[tuple[bytes, bytes]]:
    sockets = " ".join(f"ws://{host}" for host in sorted(hosts))
    policy = (
        f"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        f"media-src 'self'; connect-src 'self' {sockets}; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'; require-trusted-types-for 'script'"
    )
    return [
        (b"content-security-policy", policy.encode()),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"no-referrer"),
        (b"cross-origin-opener-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        (b"cache-control", b"no-store"),
    ]


class Guard:
    """ASGI around the page. hosts: what the Host header may be, with the port."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str], pairing: Pairing | None) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._origins = frozenset(f"http://{host}" for host in self._hosts)
        self._pairing = pairing
        self._always = _headers(self._hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request or socket."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = {
            name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]
        }
        problem = self._problem(scope, headers)
        if problem is None and not self._paired(scope["path"], headers):
            problem = "pair this device first"
            if scope["type"] == "http" and scope["method"] == "GET":
                await RedirectResponse("/pair", 303)(scope, receive, self._with_headers(send))
                return
        if problem is None:
            await self._app(scope, receive, self._with_headers(send))
        elif scope["type"] == "websocket":
            # Before it is accepted a close becomes an HTTP 403.
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": problem})
        else:
            refusal = PlainTextResponse(f"voicecheck: {problem}\n", 403)
            await refusal(scope, receive, self._with_headers(send))

    def _problem(self, scope: Scope, headers: dict[str, str]) -> str | None:
        if headers.get("host") not in self._hosts:
            return "not this host; open the address that voicecheck shows"
        changes = scope["type"] == "websocket" or scope["method"] not in ("GET", "HEAD")
        if changes and headers.get("origin") not in self._origins:
            return "not from this page"
        return None

    def _paired(self, path: str, headers: dict[str, str]) -> bool:
        if self._pairing is None or path in _OPEN:
            return True
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        found = cookies.get(COOKIE)
        return self._pairing.knows(found.value if found else None)

    def _with_headers(self, send: Send) -> Send:
        async def sender(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [(n, v) for n, v in message.get("headers", []) if n != b"server"]
                message = {**message, "headers": [*kept, *self._always]}
            await send(message)

        return sender
