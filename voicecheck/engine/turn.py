"""One event being handled: the state as it becomes, and the effects collected on the way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from voicecheck.checklist.resolved import Checklist, Item
from voicecheck.engine.actions import Action
from voicecheck.engine.effects import Effect, Note, Priority, Say
from voicecheck.engine.phases import moved
from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Claim, Outcome, Record, Result, SessionState, Timing


class Turn(Standing):
    """Mutable only while one event is handled; `state` itself is always a frozen value."""

    def __init__(self, checklist: Checklist, state: SessionState, now: float) -> None:
        super().__init__(checklist, state.but({"now": now}))
        self.now = now
        self.effects: list[Effect] = []

    def set(self, **changes: Any) -> None:
        """Replace fields of the state."""
        self.state = self.state.but(changes)

    def move(self, trigger: str) -> None:
        """Change the phase as the table says. Raises ValueError when it does not allow it."""
        self.set(phase=moved(self.state.phase, trigger))

    # Effects.

    def say(self, prompt: str, /, **values: str) -> None:
        """Speak a routine prompt of the grammar."""
        self.effects.append(Say(prompt, values, Priority.ROUTINE))

    def insist(self, prompt: str, /, **values: str) -> None:
        """Speak a prompt that must not be left out."""
        self.effects.append(Say(prompt, values, Priority.KEPT))

    def warn(self, prompt: str, /, **values: str) -> None:
        """Speak a warning."""
        self.effects.append(Say(prompt, values, Priority.WARNING))

    def note(self, kind: str, **facts: object) -> None:
        """Write a line for the record."""
        self.effects.append(Note(kind, self.now, facts))

    # Claims and results.

    def claim(
        self, callout: str, action: Action, words: str, start: float, end: float, channel: int
    ) -> Claim:
        """Words as a claim with a number of its own."""
        self.set(calls=self.state.calls + 1)
        visit = self.state.visit
        return Claim(self.state.calls, callout, action, words, start, end, channel, visit)

    def result_of(self, said: Claim, outcome: Outcome, *, reason: str | None = None) -> Result:
        """A result with the words, times and power under which it was called."""
        return Result(
            outcome=outcome,
            call=said.call,
            key=said.callout,
            called=said.words,
            start=said.start,
            end=said.end,
            visit=self.state.visit,
            reason=reason,
            power=self.power,
            by=self._caller(said),
        )

    def _caller(self, said: Claim) -> str | None:
        """Who called it; with one microphone nobody knows."""
        if said.touched:
            return "hand"
        return ("pilot", "second")[said.channel] if self.state.channels > 1 else None

    def unsaid(self, words: str, outcome: Outcome, reason: str, at: float) -> Result:
        """A result that rests on no call: silence, or something that ended a timing."""
        self.set(calls=self.state.calls + 1)
        call, visit = self.state.calls, self.state.visit
        return Result(outcome, call, "", words, at, at, visit, reason, power=self.power)

    def put(self, item: Item, result: Result, *, instead: str | None = None) -> None:
        """Make a result stand; the one before it moves to the past.

        instead: why the earlier one no longer counts, when this one only makes it exact.
        """
        old = self.record(item.id)
        past = old.past
        if old.now is not None:
            past = (*past, replace(old.now, withdrawn=instead or old.now.withdrawn))
        self.restore(item.id, Record(result, past))
        self._note_result(item, result)

    def put_inconclusive(self, item: Item, result: Result) -> None:
        """A result that tells nothing stands as well, but not in place of a finding."""
        old = self.record(item.id)
        if old.now is None or old.now.outcome is not Outcome.UNSATISFACTORY:
            self.put(item, result)
            return
        self.restore(item.id, Record(old.now, (*old.past, result)))
        self._note_result(item, result)

    def restore(self, item_id: str, record: Record) -> None:
        """Put a whole record in place."""
        self.set(records={**self.state.records, item_id: record})

    def keep_timing(self, timing: Timing) -> None:
        """Write a measured interval down."""
        self.set(timings=(*self.state.timings, timing))
        verdict = timing.verdict.value
        self.note("window", item=timing.item, verdict=verdict, low=timing.low, high=timing.high)

    def _note_result(self, item: Item, result: Result) -> None:
        self.note(
            "finding" if result.outcome is Outcome.UNSATISFACTORY else "result",
            item=item.id,
            outcome=result.outcome.value,
            expected=item.expected,
            called=result.called,
            start=result.start,
            end=result.end,
            reason=result.reason,
            lamps=list(result.dark),
        )
