"""Viewers of every speed: the session's thread waits for none of them."""

from __future__ import annotations

import asyncio
import json
import threading
import time
from typing import Any

from voicecheck.display.board import LINES, Board
from voicecheck.display.hub import Hub
from voicecheck.engine.effects import Priority


class Fast:
    """Takes everything at once."""

    def __init__(self) -> None:
        self.messages: list[dict[str, Any]] = []

    async def send_text(self, data: str) -> None:
        self.messages.append(json.loads(data))


class Stuck(Fast):
    """Takes one message and then nothing until it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.go = asyncio.Event()

    async def send_text(self, data: str) -> None:
        await super().send_text(data)
        if len(self.messages) == 1:
            await self.go.wait()


def write(board: Board, count: int) -> float:
    """The session's side: `count` changes; returns the longest that one took, in seconds."""
    longest = 0.0
    for number in range(count):
        began = time.perf_counter()
        board.state({"phase": "testing", "now": float(number), "number": number})
        board.said(float(number), f"prompt {number}", Priority.ROUTINE)
        board.sound(float(number), -20.0, True)
        longest = max(longest, time.perf_counter() - began)
    return longest


async def pictured(viewer: Fast, board: Board) -> None:
    for _ in range(500):
        if any(message.get("seq") == board.seq for message in viewer.messages):
            return
        await asyncio.sleep(0.01)
    raise AssertionError("the last picture never came")


def test_a_stuck_viewer_holds_up_neither_session_nor_others_and_gets_the_newest() -> None:
    async def scene() -> None:
        board = Board()
        hub = Hub(board)
        hub.attach(asyncio.get_running_loop())
        fast, stuck = Fast(), Stuck()
        tasks = [asyncio.create_task(hub.serve(viewer)) for viewer in (fast, stuck)]
        while not stuck.messages:
            await asyncio.sleep(0.01)
        thread = threading.Thread(target=write, args=(board, 5000))
        thread.start()
        while thread.is_alive():
            await asyncio.sleep(0.01)
        await pictured(fast, board)
        assert len(stuck.messages) == 1, "it took what it had not taken"
        stuck.go.set()
        await pictured(stuck, board)
        # Two pictures for ten thousand changes: nothing queued up behind the slow one.
        pictures = [m for m in stuck.messages if m["kind"] == "picture"]
        assert len(pictures) == 2
        assert pictures[-1]["state"]["number"] == 4999
        assert len(pictures[-1]["lines"]) == LINES
        for task in tasks:
            task.cancel()

    asyncio.run(scene())


def test_pictures_come_in_order_and_a_quiet_session_still_beats() -> None:
    async def scene() -> None:
        board = Board()
        hub = Hub(board)
        hub.attach(asyncio.get_running_loop())
        viewer = Fast()
        task = asyncio.create_task(hub.serve(viewer))
        for number in range(50):
            board.state({"phase": "testing", "now": float(number)})
            await asyncio.sleep(0)
        await pictured(viewer, board)
        seqs = [m["seq"] for m in viewer.messages if m["kind"] == "picture"]
        assert seqs == sorted(set(seqs))
        count = len(viewer.messages)
        await asyncio.sleep(1.3)
        assert [m["kind"] for m in viewer.messages[count:]] == ["beat"]
        hub.close()
        await asyncio.wait_for(task, 3)

    asyncio.run(scene())


def test_changes_before_and_after_the_server_are_harmless() -> None:
    board = Board()
    hub = Hub(board)
    board.notice("before anybody serves")

    async def scene() -> None:
        hub.attach(asyncio.get_running_loop())

    asyncio.run(scene())
    for _ in range(3):
        board.notice("after the loop is closed")
    assert board.picture()["notice"] == "after the loop is closed"
