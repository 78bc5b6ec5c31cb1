"""A scripted session whose calls a simulated aircraft follows, drawn on its page."""

from __future__ import annotations

import random

from stage import Stage

from voicecheck.rehearsal.trainer import Showing, Trainer
from voicecheck.session.display import Quiet
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from
from voicecheck.world.panel import Panel


class Rehearsed:
    """The aircraft of a stage. faults: as a user writes them."""

    def __init__(self, stage: Stage, faults: str) -> None:
        self._stage = stage
        self.checklist = stage.cockpit.loaded.checklist
        chance = random.Random(1)
        self._aircraft = Aircraft(self.checklist, faults_from(faults, self.checklist, chance))
        showing = Showing(self._aircraft, lambda _at, _text: None, stage.board.cockpit)
        self.trainer = Trainer(self._aircraft, Quiet(), showing)

    @property
    def panel(self) -> Panel:
        """What the cockpit shows now."""
        return self._aircraft.panel(0.0)  # never earlier than the last look

    def show(self) -> None:
        """The aircraft follows what was called, and settles."""
        now = self._stage.cockpit.conductor.now
        state = self._stage.board.picture()["state"]
        here = state["position"]
        self.trainer.noted(now, "position", {"position": here["id"] if here else "off", "at": now})
        for bus in state["power"]:
            if bus["state"]:
                self.trainer.noted(now, "power", {"bus": bus["bus"], "state": bus["state"]})
        self.trainer.tick(now + 0.5)
