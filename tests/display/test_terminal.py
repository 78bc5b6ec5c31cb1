"""The terminal view, driven by keys as over ssh, in front of a scripted session."""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from cockpit import Cockpit
from fleet import loaded
from rich.console import Console
from rich.text import Text
from textual.pilot import Pilot
from textual.widgets import Static

from voicecheck.display.board import Board
from voicecheck.display.terminal import SETTLE, TerminalView
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.trainer import Showing, Trainer
from voicecheck.session.display import Quiet
from voicecheck.session.touches import Marks, Touches
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from

View = TerminalView[dict[str, Any]]


class Seat:
    """A session in the view's own thread that runs until it is told to stop."""

    def __init__(self, folder: Path) -> None:
        self.board, self.touches = Board(), Touches()
        self.folder = folder
        self.cockpit: Cockpit | None = None
        self.view: View = TerminalView(
            self.board,
            self.work,
            press=lambda callout, change, ground: self.touches.press(
                callout, "key", Marks(change, ground)
            ),
            stop=lambda: self.touches.stop("stopped at the keyboard"),
        )

    def work(self) -> dict[str, Any]:
        cockpit = Cockpit(self.folder, screen=self.board)
        self.cockpit = cockpit
        self.touches.clock = lambda: cockpit.conductor.now
        while self.touches.stopping is None:
            cockpit.wait(0.02)
            for press in self.touches.due(cockpit.conductor.now):
                cockpit.conductor.press(press)
            time.sleep(0.02)
        return cockpit.close()

    def text(self, widget: str) -> str:
        return str(self.view.query_one(widget, Static).content)


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not true():
        assert time.monotonic() < end, "never came"
        await pilot.pause(0.03)


def play(
    seat: Seat, scene: Callable[[Pilot[None]], Awaitable[None]], size: tuple[int, int] = (80, 24)
) -> None:
    async def run() -> None:
        async with seat.view.run_test(size=size) as pilot:
            await until(pilot, lambda: "ZZ-HJC" in seat.text("#head"))
            await scene(pilot)
            await pilot.press("ctrl+c")
            await until(pilot, lambda: bool(seat.view.result or seat.view.failure))

    asyncio.run(run())


async def call(seat: Seat, pilot: Pilot[None], callout: str, *, wait: float = SETTLE) -> None:
    """Types a callout's code once the picture has settled, and waits for it to count."""
    await pilot.pause(wait + 0.15)
    keys = {offer["callout"]: offer["keys"] for offer in seat.board.picture()["offers"]}[callout]
    assert seat.cockpit is not None
    before = seat.cockpit.engine.state.heard_count
    await pilot.press(*keys)
    await until(pilot, lambda: seat.cockpit.engine.state.heard_count > before)  # type: ignore[union-attr]
    await until(pilot, lambda: seat.view._seen["seq"] == seat.board.seq)


def nothing_is_cut_off(seat: Seat, *widgets: str) -> None:
    for widget in widgets:
        shown = seat.view.query_one(widget, Static)
        width, height = shown.content_size
        text = shown.content
        assert isinstance(text, Text)
        assert len(text.wrap(Console(width=width), width)) <= height, f"{widget} is cut off"


def test_a_session_by_keys_at_80_by_24(tmp_path: Path) -> None:
    seat = Seat(tmp_path)

    async def scene(pilot: Pilot[None]) -> None:
        assert "Call power" in seat.text("#here")
        await call(seat, pilot, "power:battery:on")
        assert "battery powered up. Is that so?" in seat.text("#here")
        assert "a  affirm" in seat.text("#calls").replace("\xa0", " ")
        for callout in ("command:affirm", "power:avionics:on", "command:affirm", "select:gear"):
            await call(seat, pilot, callout)
        assert "Landing gear indication and horn" in seat.text("#here")
        assert "[NOSE green]" in seat.text("#here")
        await call(seat, pilot, "gear.greens:2")
        assert "which one is dark?" in seat.text("#here")
        await call(seat, pilot, "gear.greens:dark-0")
        assert "[NOSE DARK]" in seat.text("#here")
        assert "✗ NOSE dark" in seat.text("#side")
        nothing_is_cut_off(seat, "#head", "#here", "#side", "#calls")

    play(seat, scene)
    result = seat.view.result[0]
    assert [finding["what"] for finding in result["findings"]] == ["NOSE dark"]
    assert seat.cockpit is not None
    entered = [line["event"] for line in seat.cockpit.lines() if "event" in line]
    assert {event["by"] for event in entered if event["type"] == "keypressed"} == {"key"}


def test_a_simulated_aircraft_is_shown_beside_the_checklist_at_80_by_24(tmp_path: Path) -> None:
    seat = Seat(tmp_path)
    checklist = loaded("ZZ-HJC").checklist
    aircraft = Aircraft(checklist, faults_from("lamp-dark:NOSE", checklist, random.Random(1)))
    showing = Showing(aircraft, lambda _at, _text: None, seat.board.cockpit)
    trainer = Trainer(aircraft, Quiet(), showing)

    async def scene(pilot: Pilot[None]) -> None:
        assert not seat.view.query_one("#cockpit").display
        for callout in ("power:battery:on", "command:affirm", "select:gear"):
            await call(seat, pilot, callout)
        for bus in ("battery", "avionics"):
            trainer.noted(1.0, "power", {"bus": bus, "state": "on"})
        trainer.noted(1.0, "position", {"position": "gear", "at": 1.0})
        trainer.tick(3.0)
        await until(pilot, lambda: seat.view._seen["cockpit"] is not None)
        await pilot.pause(0.2)
        shown = seat.text("#cockpit").replace("\xa0", " ")
        assert "(NOSE dark)" in shown
        assert " LEFT green " in shown
        assert " GEAR UNSAFE red " in shown
        assert "battery live; avionics live; horn sounds" in shown
        assert "FIRE" not in shown, "neither lit nor looked at here"
        nothing_is_cut_off(seat, "#cockpit", "#here", "#side")

    play(seat, scene)


def test_a_key_while_the_picture_changes_is_asked_for_again(tmp_path: Path) -> None:
    seat = Seat(tmp_path)

    async def scene(pilot: Pilot[None]) -> None:
        await call(seat, pilot, "power:battery:on")
        await pilot.press("a")  # at once: the hand cannot have seen the question
        await pilot.pause(0.1)
        assert "once more" in seat.text("#calls")
        assert seat.cockpit is not None
        assert seat.cockpit.engine.state.power["battery"] is None
        await call(seat, pilot, "command:affirm")
        assert seat.cockpit.engine.state.power["battery"] == "on"

    play(seat, scene)


def test_half_a_code_shows_what_it_may_become_and_escape_drops_it(tmp_path: Path) -> None:
    seat = Seat(tmp_path)

    async def scene(pilot: Pilot[None]) -> None:
        await pilot.press("g")
        await pilot.pause(0.1)
        shown = seat.text("#calls").replace("\xa0", " ")
        assert "going to captions" in shown
        assert "stand by" not in shown
        await pilot.press("escape")
        await pilot.pause(0.1)
        assert "stand by" in seat.text("#calls").replace("\xa0", " ")

    play(seat, scene)


def test_what_goes_wrong_in_the_session_is_raised_to_the_caller(tmp_path: Path) -> None:
    def work() -> dict[str, Any]:
        raise VoicecheckError("the microphone is not there")

    view: View = TerminalView(Board(), work, press=lambda *_: False, stop=lambda: None)

    async def run() -> None:
        async with view.run_test() as pilot:
            await until(pilot, lambda: view.failure is not None)

    asyncio.run(run())
    with pytest.raises(VoicecheckError, match="not there"):
        raise view.failure or AssertionError
