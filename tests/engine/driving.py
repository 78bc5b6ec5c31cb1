"""Drives an engine by callout keys, as an audit's scenarios do."""

from __future__ import annotations

from typing import Any

from fleet import loaded

from voicecheck.engine import Engine
from voicecheck.engine.effects import Finish, Say
from voicecheck.engine.events import Began, Ended, Event, Heard, Lost, Overheard, Part, Restored
from voicecheck.engine.events import Unclear as Mumbled


class Drive:
    """One session. Calls last a second, and come two after the last one."""

    def __init__(self, registration: str) -> None:
        self.engine = Engine(loaded(registration).checklist)
        self.now = 0.0
        self.summary: dict[str, Any] = {}
        self._prompts: dict[str, dict[str, str]] = {}
        self._feed(Began(0.0))

    def _feed(self, event: Event) -> None:
        made = self.engine.handle(event)
        self._prompts = {e.prompt: dict(e.values) for e in made if isinstance(e, Say)}
        for effect in made:
            if isinstance(effect, Finish):
                self.summary = dict(effect.summary)

    def hear(self, *keys: str) -> None:
        """Callouts, rightly heard."""
        for key in keys:
            self.now += 3.0
            self._feed(Heard(key, "", self.now - 1.0, self.now, 0.99))

    def mumble(self, *guess: str) -> None:
        """Words that were not understood, or only half."""
        self.now += 3.0
        self._feed(Mumbled(self.now - 1.0, self.now, guess))

    def overhear(self) -> None:
        """Words that were taken for none of ours."""
        self.now += 3.0
        self._feed(Overheard(self.now - 1.0, self.now))

    def power(self, **buses: str) -> None:
        """Call buses and affirm each."""
        for bus, state in buses.items():
            self.hear(f"power:{bus}:{state}", "command:affirm")

    def lose(self, part: str, seconds: float) -> None:
        """A part fails, and is back after a time."""
        self._feed(Lost(Part(part), self.now))
        self.now += seconds
        self._feed(Restored(Part(part), self.now))

    def end(self) -> None:
        """The sound ends."""
        self._feed(Ended(self.now, "the test is over"))

    def said(self, prompt: str) -> dict[str, str] | None:
        """What a prompt of the last event named; None if it was not said."""
        return self._prompts.get(prompt)

    @property
    def asked(self) -> list[str]:
        """What the open question reads back."""
        return [claim.words for claim in self.engine.state.claims]

    @property
    def position(self) -> str | None:
        """Where the selector is, as far as we know."""
        return self.engine.state.position

    @property
    def buses(self) -> dict[str, str]:
        """Known states of buses."""
        return {bus: state for bus, state in self.engine.state.power.items() if state is not None}

    def outcome(self, item: str) -> str | None:
        """What stands of an item; None while it is open."""
        record = self.engine.state.records.get(item)
        return None if record is None or record.now is None else record.now.outcome.value

    def reason(self, item: str) -> str | None:
        """Why the last result of an item that is open no longer counts."""
        return self.engine.state.records[item].past[-1].withdrawn
