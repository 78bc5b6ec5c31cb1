"""A simulated aircraft that follows a student's calls, and marks them.

The trainer is a display: it sees what the session records and nothing else. When a position is
called its selector moves, when a bus is affirmed it is switched, and what a hand would do next
(silence, reset, throw a switch) is done once everything before it has been called. What the
panel then shows is printed, drawn and sounded; the session itself goes on as with a real
aircraft.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from voicecheck.checklist.resolved import OFF, Item, Shows
from voicecheck.rehearsal.crew import DARK_AFTER
from voicecheck.rehearsal.looking import HANDS
from voicecheck.rehearsal.marks import Mark, marked
from voicecheck.session.display import Display, Several
from voicecheck.words import say
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.horns import Horns
from voicecheck.world.panel import Panel

HAND_AFTER: Final = 1.0
"""Seconds after the call before until a hand does what comes next."""
_LOOK_EVERY: Final = 0.1
_DONE: Final = {
    Shows.FALLS_SILENT: "hand-silence",
    Shows.SOUNDS_ON: "hand-silence",
    Shows.RETURNS: "hand-set-again",
    Shows.RESETS: "hand-reset",
    Shows.STAYS: "hand-reset",
    Shows.THROWN: "hand-throw",
    Shows.BACK: "hand-back",
}


Tell = Callable[[float, str], None]
"""Shows one line about the aircraft, at a stream time."""
Mirror = Callable[[dict[str, Any]], None]
"""Draws a panel: Panel.as_json, and under `done` what a hand did last."""


class Trainer(Several):
    """Follows one session. showing: tells, draws and sounds the panel."""

    def __init__(self, aircraft: Aircraft, display: Display, showing: Showing) -> None:
        super().__init__(display)
        self._aircraft = aircraft
        self._items = {item.id: item for item in aircraft.checklist.items}
        self._position: str | None = None
        self._called: set[str] = set()
        self._seen: dict[str, float] = {}
        self._hand: tuple[float, Item] | None = None
        self._done: set[str] = set()
        self._ran: dict[str, tuple[float, float]] = {}
        self._showing = showing
        self._looked = -1.0
        self.marks: list[Mark] = []

    # A display to the session: all is passed on.

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """What was recorded moves the aircraft, or is a call to be marked."""
        super().noted(at, kind, facts)
        if kind == "position":
            said = facts.get("at")
            self._select(str(facts["position"]), at, float(said) if isinstance(said, float) else at)
        elif kind == "power" and facts["state"] in ("on", "off"):
            self._aircraft.switch(str(facts["bus"]), facts["state"] == "on", at)
            self._seen.update(dict.fromkeys(self._here(), at))
        elif kind in ("result", "finding") and facts["item"] in self._items:
            self._mark(self._items[str(facts["item"])], at, facts)
        self.tick(at)

    # The aircraft.

    def tick(self, at: float) -> None:
        """Time has come to `at`: do what a hand is to do, and show what has changed."""
        if self._hand is not None and at >= self._hand[0]:
            item = self._hand[1]
            self._hand = None
            self._aircraft.do(item.id, at)
            self._done.add(item.id)
            self._seen[item.id] = at
            self._showing.did(at, f"{say(_DONE[item.shows or Shows.BACK])}: {item.reports}")
        if at - self._looked >= _LOOK_EVERY:
            self._looked = at
            self._showing(at)

    def _here(self) -> list[str]:
        return [item.id for item in self._items.values() if item.position == self._position]

    def _select(self, position: str, at: float, left: float) -> None:
        # The words ended before they were understood; that is when the hand turned it.
        self._aircraft.select(position, at, left)
        for item in self._items.values():
            due = self._aircraft.goes_dark_at(item.id, at)
            if due is not None and item.position != position:
                self._ran.setdefault(item.id, (left, due))
            elif item.position == position:
                self._ran.pop(item.id, None)
        self._position = position
        self._called, self._done, self._hand = set(), set(), None
        self._showing.done = ""
        self._seen.update(dict.fromkeys(self._here(), at))
        self._plan(at)

    def _plan(self, at: float) -> None:
        """The next thing for a hand, if everything before it has been called."""
        for item_id in self._here():
            item = self._items[item_id]
            if item.shows in HANDS and item_id not in self._done:
                self._hand = (at + HAND_AFTER, item)
                return
            if item_id not in self._called and item.shows is not Shows.GOES_OUT:
                return

    # The marks.

    def _mark(self, item: Item, at: float, facts: Mapping[str, object]) -> None:
        outcome = str(facts["outcome"])
        if outcome not in ("satisfactory", "unsatisfactory"):
            return
        start = facts["start"]
        began = float(start) if isinstance(start, int | float) else at
        if item.shows is Shows.GOES_OUT:
            self._mark_timed(item, began, outcome, str(facts["called"]))
            return
        if item.shows in HANDS and item.id not in self._done:
            # Called in one breath with what comes before it: the student's own hand was quicker.
            self._aircraft.do(item.id, at)
            self._done.add(item.id)
            self._hand = None
            self._seen.pop(item.id, None)
        seen = self._seen.get(item.id)
        panel = self._aircraft.panel(at)
        called, bad = str(facts["called"]), outcome == "unsatisfactory"
        self.marks.append(marked(item, called, bad, panel, None if seen is None else began - seen))
        self._called.add(item.id)
        self._plan(at)

    def _mark_timed(self, item: Item, began: float, outcome: str, called: str) -> None:
        left, due = self._ran.get(item.id, (began, began))
        assert item.window is not None
        faulty = not item.window.lower <= due - left <= item.window.upper
        late = began - due - DARK_AFTER
        self.marks.append(
            Mark(
                item=item.id,
                called=called,
                was=say("lamp-out-after", seconds=f"{due - left:.1f}")
                if due < float("inf")
                else say("lamp-never-out"),
                right=(outcome == "unsatisfactory") == faulty,
                faulty=faulty,
                seconds=round(late, 2) if 0 <= late < float("inf") else None,
            )
        )


class Showing:
    """Tells, draws and sounds what a panel shows, whenever that changes."""

    def __init__(
        self,
        aircraft: Aircraft,
        tell: Tell,
        mirror: Mirror | None = None,
        horns: Horns | None = None,
    ) -> None:
        self._aircraft = aircraft
        self._tell = tell
        self._mirror = mirror
        self._horns = horns
        self._told = ""
        self._drawn: dict[str, Any] = {}
        self.done = ""

    def __call__(self, at: float) -> None:
        """Time has come to `at`."""
        panel = self._aircraft.panel(at)
        self._show(panel)
        if self._horns is not None:
            self._horns.follow(panel.sounds)

    def did(self, at: float, what: str) -> None:
        """A hand has done something."""
        self.done = what
        self._tell(at, f"({what})")

    def _show(self, panel: Panel) -> None:
        told = as_line(panel)
        if told != self._told:
            self._told = told
            self._tell(panel.at, told)
        if self._mirror is None:
            return
        drawn = {**panel.as_json(), "done": self.done}
        if drawn != self._drawn:
            self._drawn = drawn
            self._mirror(drawn)


def as_line(panel: Panel) -> str:
    """What a panel shows, in words: captions with their colour, sounds, gauges."""
    parts = [f"[{_named(lamp.caption, lamp.colour)}]" for lamp in panel.lamps if lamp.lit]
    parts += [f"({say('sounds', sound=sound)})" for sound in panel.sounds]
    parts += [f"({say('felt', sound=felt)})" for felt in panel.felt]
    if panel.selector != OFF:
        parts += list(panel.gauges.values())
    return "  ".join(parts) or say("all-dark")


def _named(caption: str, colour: str | None) -> str:
    if colour is None:
        return caption
    return say("lamp-is", caption=caption, word=say(f"colour-{colour}"))
