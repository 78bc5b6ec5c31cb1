"""The kneeboard page's server: in a thread of its own, on loopback unless told otherwise."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import json
import socket
import threading
import time
from collections.abc import Callable, Sequence
from importlib import resources
from typing import Any, Final, Protocol

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect

from voicecheck.display.guard import COOKIE, Guard
from voicecheck.display.hub import MOST_VIEWERS, Hub, page_texts
from voicecheck.display.pairing import Pairing
from voicecheck.display.reviewing import page
from voicecheck.errors import VoicecheckError

LOOPBACK: Final = "127.0.0.1"
_STATIC: Final = {
    "kneeboard.css": "text/css",
    "live.css": "text/css",
    "live.js": "text/javascript",
    "words.js": "text/javascript",
    "lamps.js": "text/javascript",
    "theme.js": "text/javascript",
    "review.js": "text/javascript",
    "card.js": "text/javascript",
    "pair.js": "text/javascript",
    "pages.css": "text/css",
}
_LONGEST_ENTRY: Final = 512
"""Bytes of one message from a screen."""
_MOST_ENTRIES: Final = 20
"""Entries a second from one screen; more are dropped and told."""


class Pressing(Protocol):
    """Where a touch goes; returns at once, False when no session takes it."""

    def __call__(self, callout: str, change: int, ground: int) -> bool:
        """A callout touched on the picture with these marks."""


def static(name: str) -> bytes:
    """A file of the page."""
    return (resources.files("voicecheck.display") / "static" / name).read_bytes()


def is_near(address: str) -> bool:
    """Whether only this machine can reach it; every other address needs pairing."""
    return ipaddress.ip_address(address).is_loopback


class Kneeboard:
    """Serves one hub's pictures and, beside them, other pages.

    address: loopback, or this machine's address in the network for a tablet, which then has to
    be paired; port 0 takes a free one; pair: also on loopback, where others share the machine.
    press: None where nothing can be touched. show_code: how the crew learns the pairing code.
    Raises VoicecheckError when it cannot listen there.
    """

    def __init__(
        self,
        hub: Hub,
        *,
        press: Pressing | None = None,
        address: str = LOOPBACK,
        port: int = 0,
        pair: bool = False,
        show_code: Callable[[str], None] | None = None,
        routes: Sequence[BaseRoute] = (),
    ) -> None:
        self._hub = hub
        self._press = press
        self._socket = _listen(address, port)
        self.port: int = self._socket.getsockname()[1]
        near = is_near(address)
        hosts = [f"[{address}]" if ":" in address else address, *(["localhost"] if near else [])]
        self.pairing: Pairing | None = None
        if pair or not near:
            self.pairing = Pairing(time.monotonic, show_code or (lambda _code: None))
        self.url = f"http://{hosts[0]}:{self.port}/"
        app = Starlette(
            routes=[
                Route("/", self._page),
                Route("/pair", self._pair, methods=["GET", "POST"]),
                Route("/static/{name}", _static),
                Route("/favicon.ico", _no_icon),
                WebSocketRoute("/live", self._live),
                *routes,
            ],
        )
        self._server = uvicorn.Server(
            uvicorn.Config(
                Guard(app, [f"{host}:{self.port}" for host in hosts], self.pairing),
                log_config=None,
                access_log=False,
                server_header=False,
                proxy_headers=False,
                limit_concurrency=128,
                lifespan="off",
                ws="websockets-sansio",
                ws_max_size=4096,
                timeout_graceful_shutdown=2,
            )
        )
        self._thread = threading.Thread(target=self._run, name="kneeboard", daemon=True)
        self._ready = threading.Event()

    def start(self) -> None:
        """Serve from now on; returns once the page can be opened."""
        self._thread.start()
        self._ready.wait(10)

    def close(self) -> None:
        """Let the viewers see the last picture, then stop; safe twice."""
        self._hub.close()
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(5)
        self._socket.close()

    def _run(self) -> None:
        asyncio.run(self._serve())

    async def _serve(self) -> None:
        self._hub.attach(asyncio.get_running_loop())
        self._ready.set()
        await self._server.serve(sockets=[self._socket])

    async def _page(self, _request: Request) -> Response:
        words = self._hub.words
        return page("live.html.j2", words=words, all=json.dumps(page_texts(words)))

    async def _live(self, socket_: WebSocket) -> None:
        await socket_.accept()
        if self._hub.viewers >= MOST_VIEWERS:
            await socket_.close(1013, "too many viewers; close one")
            return
        showing = asyncio.create_task(self._hub.serve(socket_))
        taking = asyncio.create_task(self._take(socket_))
        _, left = await asyncio.wait({showing, taking}, return_when=asyncio.FIRST_COMPLETED)
        for task in left:
            task.cancel()
        await asyncio.gather(showing, taking, return_exceptions=True)
        with contextlib.suppress(RuntimeError, WebSocketDisconnect):
            await socket_.close(1000, "the session is over" if self._hub.closing else "too slow")

    async def _take(self, socket_: WebSocket) -> None:
        """What a screen sends: presses, and nothing else."""
        loop = asyncio.get_running_loop()
        second, count = 0, 0
        while True:
            text = await socket_.receive_text()
            count = count + 1 if int(loop.time()) == second else 1
            second = int(loop.time())
            entry = _entry(text)
            taken = (
                entry is not None
                and count <= _MOST_ENTRIES
                and self._press is not None
                and self._press(*entry)
            )
            await socket_.send_text(json.dumps({"kind": "entry", "taken": taken}))

    async def _pair(self, request: Request) -> Response:
        if self.pairing is None or self.pairing.knows(request.cookies.get(COOKIE)):
            return RedirectResponse("/", 303)
        if request.method == "GET":
            return page("pair.html.j2", words=self._hub.words)
        body = (await _body(request, 256)).decode("ascii", "replace")
        wait = self.pairing.wait
        key = self.pairing.enter(body)
        if key is None:
            seconds = wait or self.pairing.wait
            status = 429 if wait else 403
            told = self._hub.words("pair-wait" if wait else "pair-wrong", seconds=seconds)
            return Response(told, status, {"retry-after": str(seconds)}, "text/plain")
        answer = Response(self._hub.words("pair-done"), 200, media_type="text/plain")
        answer.set_cookie(COOKIE, key, httponly=True, samesite="strict", path="/")
        return answer


async def _body(request: Request, most: int) -> bytes:
    """The request's body, cut off at `most` bytes."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > most:
            break
    return body[:most]


def _entry(text: str) -> tuple[str, int, int] | None:
    """Callout, change mark and ground mark of a message; None when it is not one."""
    if len(text) > _LONGEST_ENTRY:
        return None
    try:
        found: Any = json.loads(text)
        callout, change, ground = found["callout"], found["change"], found["ground"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    # Half a surrogate pair would be text that neither a picture nor the journal can hold.
    good = (
        isinstance(callout, str)
        and callout.isprintable()
        and type(change) is int
        and type(ground) is int
    )
    return (callout, change, ground) if good else None


async def _no_icon(_request: Request) -> Response:
    return Response(status_code=204)


async def _static(request: Request) -> Response:
    name = request.path_params["name"]
    kind = _STATIC.get(name)
    if kind is None:
        return Response("voicecheck: no such file\n", 404, media_type="text/plain")
    return Response(static(name), media_type=kind)


def _listen(address: str, port: int) -> socket.socket:
    try:
        family = socket.AF_INET6 if ipaddress.ip_address(address).version == 6 else socket.AF_INET
    except ValueError:
        raise VoicecheckError(
            f"--address {address}: not an IP address; give this machine's own, as `ip address` "
            "shows it"
        ) from None
    if ipaddress.ip_address(address).is_unspecified:
        raise VoicecheckError(
            f"--address {address}: would listen everywhere; name the one address that the tablet "
            "reaches this machine by"
        )
    listening = socket.socket(family, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
        listening.listen(64)
    except (OSError, OverflowError) as error:
        listening.close()
        reason = getattr(error, "strerror", None) or str(error)
        raise VoicecheckError(
            f"--address {address} --port {port}: cannot listen there ({reason}); choose another"
        ) from None
    return listening
