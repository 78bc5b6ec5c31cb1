"""Every prompt that the shipped checklists can lead to, with the callouts on offer beside it."""

from __future__ import annotations

from functools import cache

from fleet import FLEET, loaded

from voicecheck.callouts import Callout
from voicecheck.checklist.resolved import Position, position_key
from voicecheck.engine import Engine, effects
from voicecheck.engine.events import Began, Ended, Event, Heard, Lost, Passed, Restored, Unclear
from voicecheck.session.ahead import foreseen

Found = dict["Known", tuple[Callout, ...]]


class Known(effects.Say):
    """A prompt that can be a key: alike in words is alike."""

    def __hash__(self) -> int:
        return hash((self.prompt, tuple(sorted(self.values.items()))))


_FOUND = {"position": "Landing gear", "what": "left gear dark"}
_RARE = (
    # What the walk below does not lead to.
    Known("recording"),
    Known("nothing-said"),
    Known("window-open"),
    Known("not-dark", {"calls": "anti skid out"}),
    Known("not-put-back", {"items": "windshield heat off"}),
    Known("airframe-first", {"registration": "ZZ-HAA"}),
    Known("confirm-retest", {"earlier": "anti skid out late", "now": "anti skid out"}),
    Known("read-back-again", {"words": "three green"}),
    Known("disagreement", {"first": "three green", "second": "two green"}),
    # What the logbook has read out before a session.
    Known("log-away"),
    Known("log-behind"),
    Known("log-open", {**_FOUND, "days": "3"}),
    Known("log-open-today", _FOUND),
    Known("log-due", {**_FOUND, "due": "5 February"}),
    Known("log-past-due", {**_FOUND, "due": "5 February"}),
    Known("log-repeat", _FOUND),
    Known("log-more", {"count": "2"}),
    Known(
        "log-drift",
        {
            "item": "anti skid out",
            "direction": "rising",
            "now": "4.6",
            "limit": "5",
            "days": "12",
        },
    ),
)


@cache
def prompts() -> Found:
    """Each distinct prompt and the callouts that could be made when it might first be said."""
    found: Found = {}
    for say in _RARE:
        found[say] = ()
    for registration in FLEET:
        for second in (False, True):
            Walk(registration, second, found).go()
    return found


class Walk:
    """A thorough crew: goes everywhere, calls everything wrong and then right."""

    def __init__(self, registration: str, second: bool, found: Found) -> None:
        self.engine = Engine(loaded(registration).checklist)
        self.now = 0.0
        self._second = second
        self._found = found
        self._seen: set[object] = set()
        self._do(Began(0.0, second, 2 if second else 1))

    def go(self) -> None:
        """From the preamble to the end."""
        self._unlikely()
        positions = self.engine.checklist.positions
        for number, position in enumerate(positions):
            self._call(f"select:{position.id}", "selector:off")
            if number % 2:
                self._wait()
            self._power(position, right=number % 3 == 0)
            self._power(position, right=True)
            self._elsewhere(position, positions[number - 1])
            self._items(position)
            if number == 1 and self._second:
                self._power(position, right=False)  # what was called here is void
            if number == len(positions) // 2:
                self._unlikely()
        self._call("selector:off")
        self._call("command:complete")
        self._wait()
        self._unlikely()
        self._do(Ended(self.now + 1, "the walk is over"))

    def _items(self, position: Position) -> None:
        for item in position.items:
            if item.window is not None:
                continue  # called here it would be too early; it runs when the selector leaves
            for reading in reversed(item.readings):
                self._call(reading.key)
                self._call("command:affirm")

    def _elsewhere(self, position: Position, other: Position) -> None:
        """Another position is half understood, and nothing here counts before it is denied."""
        self._call("command:say-again")  # so that what is unclear is asked about
        self._do(Unclear(self.now, self.now + 1, (position_key(other.id),)))
        for key in (position.items[0].readings[0].key, "command:negative"):
            self._call(key)

    def _power(self, position: Position, *, right: bool) -> None:
        for bus, state in position.power.items():
            other = "off" if state == "on" else "on"
            self._call(f"power:{bus}:{state if right else other}")
            self._call("command:affirm")

    def _unlikely(self) -> None:
        for key in ("stand-by", "resume", "read-back", "correction", "disregard", "crew-change"):
            self._call(f"command:{key}")
        self._do(Unclear(self.now, self.now + 1))
        for part in ("microphone", "loudspeaker", "voice", "record", "recording"):
            self._do(Lost(part, self.now + 1))
            self._do(Restored(part, self.now + 2))
        for key in ("complete", "negative", "abandon", "negative"):
            self._call(f"command:{key}")

    def _wait(self) -> None:
        for _ in range(4):
            if self.engine.wake is not None:
                self._do(Passed(self.engine.wake))

    def _call(self, *keys: str) -> None:
        offered = self.engine.offers()
        key = next((key for key in keys if key in offered), None)
        if key is not None:
            for channel in (0, 0, 1) if self._second else (0,):
                self._do(Heard(key, "", self.now + 1, self.now + 2, 1.0, channel))

    def _do(self, event: Event) -> None:
        made = self.engine.handle(event)
        self.now = max(self.now, self.engine.state.now)
        said = [e for e in made if isinstance(e, effects.Say)]
        state = self.engine.state
        asked = state.question.ask if state.question is not None else None
        mark = (
            self.engine.phase,
            state.position,
            asked,
            len(state.windows),
            state.dark_asked,
            state.first_call is not None,
            any(w.asked for w in state.windows),
        )
        if mark not in self._seen:
            self._seen.add(mark)
            said += foreseen(self.engine)
        offered = tuple(offer.callout for offer in self.engine.offers().values())
        for say in said:
            self._found.setdefault(Known(say.prompt, say.values, say.priority), offered)
