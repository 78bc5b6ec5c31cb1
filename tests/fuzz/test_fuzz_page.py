"""Whatever is sent to the kneeboard page: it answers, goes on, and calls nothing by itself."""

from __future__ import annotations

import http.client
import json
import logging
import tempfile
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fuzzing import LONG, for_long, json_odd, quick, spoilt_data
from hypothesis import given
from hypothesis import strategies as st
from invented import place
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.proofs import card_routes
from voicecheck.display.reviewing import review_routes
from voicecheck.display.server import Kneeboard
from voicecheck.measure.invented_log import Invented
from voicecheck.proofreading.cards import Cards
from voicecheck.session.review import Review

START = datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
GOOD = {"callout": "command:affirm", "change": 1, "ground": 1}
PATIENCE = 240 if LONG else 20
"""Seconds; the long runs are last in the queue of a busy machine."""
PATHS = ("", "live", "pair", "static", "review", "card", "cards", "sessions", "clip", "notes")
WORDS = ("..", "%2e%2e", "..%2f..%2fetc%2fpasswd", "%00", "latest", "skerry-j2", "ZZ-HJC", "file-1")


class Page:
    """A page whose presses and server errors are kept."""

    def __init__(self, folder: Path) -> None:
        self.presses: list[tuple[Any, ...]] = []
        self.errors: list[str] = []
        place(folder, Invented("ZZ-HAA", START))
        self.kneeboard = Kneeboard(
            Hub(Board()),
            press=self._press,
            routes=[*review_routes(Review(folder)), *card_routes(Cards())],
        )
        self._handler = _Keep(self.errors)
        logging.getLogger("uvicorn.error").addHandler(self._handler)
        self.kneeboard.start()
        self.host = self.kneeboard.url.removeprefix("http://").rstrip("/")

    def _press(self, callout: str, change: int, ground: int) -> bool:
        self.presses.append((callout, change, ground))
        return False

    def close(self) -> None:
        self.kneeboard.close()
        logging.getLogger("uvicorn.error").removeHandler(self._handler)


class _Keep(logging.Handler):
    def __init__(self, kept: list[str]) -> None:
        super().__init__(logging.ERROR)
        self._kept = kept

    def emit(self, record: logging.LogRecord) -> None:
        self._kept.append(self.format(record))


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    with tempfile.TemporaryDirectory() as name:
        opened = Page(Path(name))
        yield opened
        opened.close()


def still_there(page: Page) -> None:
    assert page.errors == []
    status, _ = asked(page, "GET", "/", None, {})
    assert status == 200


def asked(
    page: Page, method: str, path: str, body: bytes | None, headers: dict[str, str]
) -> tuple[int, bytes]:
    line = http.client.HTTPConnection(page.host, timeout=PATIENCE)
    try:
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        line.putheader("Host", headers.pop("Host", page.host))
        if body is not None:
            line.putheader("Content-Length", str(len(body)))
        for name, value in headers.items():
            line.putheader(name, value)
        line.endheaders(body)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


messages = st.one_of(
    st.text(max_size=600),
    st.binary(max_size=600),
    spoilt_data(GOOD).map(json.dumps),
    json_odd.map(json.dumps),
    st.just("[" * 500),
    st.just("x" * 5000),
)


@for_long
@quick
@given(st.lists(messages, min_size=1, max_size=8))
def test_messages_to_a_live_page(page: Page, sent: list[str | bytes]) -> None:
    page.presses.clear()
    host = page.host
    with connect(f"ws://{host}/live", origin=f"http://{host}", close_timeout=5) as line:  # type: ignore[arg-type]
        try:
            for message in sent:
                line.send(message)
            # Whatever came before, a good message after it is answered, unless the line is shut.
            line.send(json.dumps(GOOD))
            answers = 0
            while answers < 1:
                answers += json.loads(line.recv(timeout=PATIENCE)).get("kind") == "entry"
        except ConnectionClosed:
            pass
    for callout, change, ground in page.presses:
        assert isinstance(callout, str)
        assert type(change) is int
        assert type(ground) is int
    still_there(page)


@for_long
@quick
@given(
    st.sampled_from(["GET", "POST", "HEAD", "PUT", "DELETE", "OPTIONS"]),
    st.lists(st.one_of(st.sampled_from(PATHS), st.sampled_from(WORDS)), max_size=5),
    st.text(st.characters(min_codepoint=33, max_codepoint=126), max_size=30),
    st.one_of(st.none(), st.binary(max_size=400), json_odd.map(lambda v: json.dumps(v).encode())),
    st.dictionaries(
        st.sampled_from(["Origin", "Cookie", "Host", "Content-Type", "Range", "X-Forwarded-For"]),
        st.one_of(
            st.sampled_from(["null", "http://example.org", "a=b; c", "bytes=0-1", "", "\xff"]),
            st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=20),
        ),
        max_size=2,
    ),
)
def test_requests(
    page: Page,
    method: str,
    parts: list[str],
    query: str,
    body: bytes | None,
    headers: dict[str, str],
) -> None:
    path = "/" + "/".join(parts) + (f"?{query}" if query else "")
    try:
        status, content = asked(page, method, path, body, dict(headers))
    except (http.client.HTTPException, ConnectionError, ValueError):
        status, content = 400, b""  # refused before it was read
    assert status < 500 or status == 503, (status, content[:300])
    assert b"Traceback" not in content
    assert b"root:" not in content
    still_there(page)


def test_many_viewers_leave_the_page_alive(page: Page) -> None:
    """More than may look: the last ones are sent away, the page goes on."""
    host = page.host
    barrier = threading.Barrier(24)

    def look() -> None:
        barrier.wait(20)
        try:
            with connect(f"ws://{host}/live", origin=f"http://{host}", close_timeout=5) as line:  # type: ignore[arg-type]
                line.send("x")
                line.recv(timeout=PATIENCE)
        except (ConnectionClosed, OSError, TimeoutError):
            pass

    threads = [threading.Thread(target=look) for _ in range(24)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    still_there(page)
