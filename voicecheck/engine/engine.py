"""One running session: a checklist, and the state that its events have led to."""

from __future__ import annotations

from collections.abc import Mapping

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine.effects import Effect
from voicecheck.engine.events import Event
from voicecheck.engine.offers import Offer, offers
from voicecheck.engine.passing import wake
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import SessionState
from voicecheck.engine.stepping import step


class Engine:
    """Keeps the latest state for those who feed a session; all it knows is in `state`."""

    def __init__(self, checklist: Checklist, state: SessionState | None = None) -> None:
        self.checklist = checklist
        self.state = SessionState() if state is None else state

    @property
    def phase(self) -> Phase:
        """Where the session stands."""
        return self.state.phase

    @property
    def wake(self) -> float | None:
        """Stream time at which the next Passed event is wanted, if any."""
        return wake(self.checklist, self.state)

    def offers(self) -> Mapping[str, Offer]:
        """What can be said now."""
        return offers(self.checklist, self.state)

    def handle(self, event: Event) -> list[Effect]:
        """Take one event; return what follows from it, in order."""
        self.state, effects = step(self.checklist, self.state, event)
        return effects
