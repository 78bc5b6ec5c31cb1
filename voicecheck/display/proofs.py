"""Cards of checklists to print, and a proof of a file that is checked again at every save."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route, WebSocketRoute
from starlette.websockets import WebSocket, WebSocketDisconnect
from watchfiles import awatch

from voicecheck.display.reviewing import page, refusal
from voicecheck.errors import VoicecheckError


class Proofs(Protocol):
    """Where checklists come from; `card` and `proof` may raise VoicecheckError."""

    def keys(self) -> Sequence[Mapping[str, Any]]:
        """Every type that has cards."""

    def watched(self, key: str) -> Path | None:
        """The folder to watch for a type, None when it is not being written."""

    def card(self, key: str, registration: str) -> Mapping[str, Any]:
        """One airframe's checklist."""

    def proof(self, key: str) -> Sequence[Mapping[str, Any]]:
        """What is wrong with a type's files."""


def card_routes(proofs: Proofs) -> list[BaseRoute]:
    """The routes under /card, and the socket that tells of changes."""
    return [
        Route("/card", _list(proofs)),
        Route("/card/{key}", _proof(proofs)),
        Route("/card/{key}/{registration:path}", _card(proofs)),
        WebSocketRoute("/changes/{key}", _changes(proofs)),
    ]


Answer = Callable[[Request], Any]


def _list(proofs: Proofs) -> Answer:
    async def answer(_request: Request) -> Response:
        return page("cards.html.j2", types=await run_in_threadpool(proofs.keys))

    return answer


def _proof(proofs: Proofs) -> Answer:
    async def answer(request: Request) -> Response:
        key = request.path_params["key"]
        try:
            problems = await run_in_threadpool(proofs.proof, key)
        except VoicecheckError as error:
            return refusal(error)
        listed = next(one for one in await run_in_threadpool(proofs.keys) if one["key"] == key)
        return page("proof.html.j2", type=listed, problems=problems)

    return answer


def _card(proofs: Proofs) -> Answer:
    async def answer(request: Request) -> Response:
        key, registration = (request.path_params[name] for name in ("key", "registration"))
        try:
            card = await run_in_threadpool(proofs.card, key, registration)
        except VoicecheckError as error:
            return refusal(error)
        watched = proofs.watched(key) is not None
        return page("card.html.j2", words=card["words"], card=card, key=key, watched=watched)

    return answer


def _changes(proofs: Proofs) -> Callable[[WebSocket], Any]:
    async def serve(socket: WebSocket) -> None:
        try:
            folder = proofs.watched(socket.path_params["key"])
        except KeyError:
            folder = None
        if folder is None:
            await socket.close(1008)
            return
        await socket.accept()
        gone = asyncio.Event()
        telling = asyncio.create_task(_tell(socket, folder, gone))
        leaving = asyncio.create_task(_leave(socket))
        # A watch that ends by itself (the folder is gone) closes the line: the page then says so.
        await asyncio.wait({telling, leaving}, return_when=asyncio.FIRST_COMPLETED)
        gone.set()
        telling.cancel()
        leaving.cancel()
        await asyncio.gather(telling, leaving, return_exceptions=True)
        with contextlib.suppress(RuntimeError, WebSocketDisconnect):
            await socket.close(1011, "the files are not watched any more")

    return serve


async def _leave(socket: WebSocket) -> None:
    """Until the page goes."""
    with contextlib.suppress(WebSocketDisconnect, RuntimeError):
        while True:
            await socket.receive_text()


async def _tell(socket: WebSocket, folder: Path, gone: asyncio.Event) -> None:
    await socket.send_text('{"kind":"watching"}')
    async for changes in awatch(folder, stop_event=gone, debounce=200, step=50):
        if any(name.endswith((".yaml", ".yml")) for _, name in changes):
            await socket.send_text('{"kind":"changed"}')
