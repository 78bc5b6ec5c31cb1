"""One event being handled: the state as it becomes, and the effects collected on the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Item, Position
from voicecheck.engine.effects import Effect, Note, Priority, Say
from voicecheck.engine.phases import Phase, PhaseKeeper
from voicecheck.engine.state import Outcome, Record, Result, SessionState

_NOTHING: Final = Record()


class Turn:
    """Mutable only while one event is handled; `state` itself is always a frozen value."""

    def __init__(
        self,
        checklist: Checklist,
        items: Mapping[str, Item],
        phases: PhaseKeeper,
        state: SessionState,
        now: float,
    ) -> None:
        self.checklist = checklist
        self._items = items
        self.phases = phases
        self.state = state
        self.now = now
        self.effects: list[Effect] = []

    @property
    def phase(self) -> Phase:
        """The current phase."""
        return self.phases.phase

    @property
    def position(self) -> Position | None:
        """Where the selector is, if it is known."""
        if self.state.position is None:
            return None
        return self.checklist.position(self.state.position)

    def set(self, **changes: Any) -> None:
        """Replace fields of the state."""
        self.state = replace(self.state, **changes)

    def say(self, prompt: str, /, **values: str) -> None:
        """Speak a routine prompt of the grammar."""
        self.effects.append(Say(prompt, values, Priority.ROUTINE))

    def ask(self, prompt: str, /, **values: str) -> None:
        """Speak a prompt that must not be left out."""
        self.effects.append(Say(prompt, values, Priority.KEPT))

    def warn(self, prompt: str, /, **values: str) -> None:
        """Speak a warning."""
        self.effects.append(Say(prompt, values, Priority.WARNING))

    def note(self, kind: str, **facts: object) -> None:
        """Write a line for the record."""
        self.effects.append(Note(kind, self.now, facts))

    def record(self, item_id: str) -> Record:
        """An item's record, empty when nothing was called yet."""
        return self.state.records.get(item_id, _NOTHING)

    def put(self, item: Item, result: Result, *, instead: str | None = None) -> None:
        """Make a result stand; the one before it moves to the past.

        instead: why the earlier one no longer counts, when this one only makes it exact.
        """
        old = self.record(item.id)
        past = old.past
        if old.now is not None:
            past = (*past, replace(old.now, withdrawn=instead or old.now.withdrawn))
        self._store(item.id, Record(result, past))
        self._note_result(item, result)

    def put_inconclusive(self, item: Item, result: Result) -> None:
        """A result that tells nothing stands as well, but not in place of a finding."""
        old = self.record(item.id)
        if old.now is None or old.now.outcome is not Outcome.UNSATISFACTORY:
            self.put(item, result)
            return
        self._store(item.id, Record(old.now, (*old.past, result)))
        self._note_result(item, result)

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

    def result(self, item_id: str) -> Result | None:
        """An item's standing result."""
        return self.record(item_id).now

    def this_visit(self, item_id: str) -> Result | None:
        """The standing result, if it was called in the present visit."""
        now = self.record(item_id).now
        return now if now is not None and now.visit == self.state.visit else None

    def restore(self, item_id: str, record: Record) -> None:
        """Put a whole record in place (taking back a call)."""
        self._store(item_id, record)

    def _store(self, item_id: str, record: Record) -> None:
        self.set(records={**self.state.records, item_id: record})

    def item(self, item_id: str) -> Item:
        """The item with this id."""
        return self._items[item_id]
