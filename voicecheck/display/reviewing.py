"""The review pages: past sessions, their time line and sound, and room for a remark."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from typing import Any, Final, Protocol

import jinja2
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import BaseRoute, Route

from voicecheck.errors import VoicecheckError
from voicecheck.words import Words, chosen, say, speaking, spoken

_LONGEST: Final = 16_384
"""Bytes of a remark as it is sent."""


class Reviewing(Protocol):
    """Where past sessions come from; every method may raise VoicecheckError."""

    def sessions(self) -> Sequence[Mapping[str, Any]]:
        """The list, newest first."""

    def session(self, wanted: str) -> Mapping[str, Any]:
        """One session."""

    def clip(self, wanted: str, start: float, end: float) -> bytes | None:
        """Its sound as WAV between two stream times in seconds."""

    def annotate(self, wanted: str, line: int, text: str, by: str | None) -> None:
        """Append a remark on a journal line."""


@cache
def environment() -> jinja2.Environment:
    """Templates of the pages; what is put in is escaped."""
    loader = jinja2.PackageLoader("voicecheck.display", "templates")
    found = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True
    )
    found.globals["say"] = say
    found.globals["texts"] = _texts
    return found


def page(name: str, status: int = 200, words: Words | None = None, **values: Any) -> HTMLResponse:
    """A template as an answer. words: those of what it shows; without, those that were chosen."""
    with speaking(words or chosen()):
        return HTMLResponse(environment().get_template(name).render(values), status)


def _texts(*keys: str) -> str:
    """Texts by key as JSON: what a script of the page may write into it."""
    return json.dumps({key: spoken().text(key) for key in keys}, ensure_ascii=False)


def refusal(error: VoicecheckError, status: int = 404) -> HTMLResponse:
    """An error as a page: what is wrong, and the way back."""
    return page("problem.html.j2", status, problem=str(error))


def review_routes(review: Reviewing) -> list[BaseRoute]:
    """The routes under /review."""
    return [
        Route("/review", _list(review)),
        Route("/review/{session}", _show(review)),
        Route("/review/{session}/sound", _sound(review)),
        Route("/review/{session}/remark", _remark(review), methods=["POST"]),
    ]


Answer = Callable[[Request], Any]


def _list(review: Reviewing) -> Answer:
    async def answer(_request: Request) -> Response:
        try:
            listed = await run_in_threadpool(review.sessions)
        except VoicecheckError as error:
            return refusal(error)
        return page("sessions.html.j2", sessions=listed)

    return answer


def _show(review: Reviewing) -> Answer:
    async def answer(request: Request) -> Response:
        try:
            found = await run_in_threadpool(review.session, request.path_params["session"])
        except VoicecheckError as error:
            return refusal(error)
        return page("review.html.j2", words=found["words"], session=found)

    return answer


def _sound(review: Reviewing) -> Answer:
    async def answer(request: Request) -> Response:
        try:
            start, end = (float(request.query_params[name]) for name in ("from", "to"))
            clip = await run_in_threadpool(review.clip, request.path_params["session"], start, end)
        except (KeyError, ValueError, OverflowError):
            return Response("voicecheck: give from and to in seconds\n", 400)
        except VoicecheckError as error:
            return Response(f"voicecheck: {error}\n", 404)
        if clip is None:
            return Response("voicecheck: nothing is recorded there\n", 404)
        return Response(clip, media_type="audio/wav")

    return answer


def _remark(review: Reviewing) -> Answer:
    async def answer(request: Request) -> Response:
        body = b""
        async for part in request.stream():
            body += part
            if len(body) > _LONGEST:
                return JSONResponse({"problem": chosen()("remark-too-long")}, 413)
        try:
            found = json.loads(body)
            line, text, by = found["line"], found["text"], found.get("by")
            if type(line) is not int or not isinstance(text, str):
                raise TypeError
            if by is not None and not isinstance(by, str):
                raise TypeError
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
            return JSONResponse({"problem": chosen()("remark-none")}, 400)
        session = request.path_params["session"]
        try:
            await run_in_threadpool(review.annotate, session, line, text, by)
        except VoicecheckError as error:
            return JSONResponse({"problem": str(error)}, 409)
        return JSONResponse({"problem": None})

    return answer
