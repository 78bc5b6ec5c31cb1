"""A session through sound: synthetic voices, noise, and the listeners of a real session."""

from __future__ import annotations

from collections.abc import Sequence

from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.played import Played
from voicecheck.speech.opening import OpenedEar
from voicecheck.world.driver import play
from voicecheck.world.microphones import Microphones
from voicecheck.world.sound import Fittings, SoundWay
from voicecheck.world.voices import Voices


class SoundLoop(SoundWay):
    """One crew with its voices in front of real listeners: one, or one for each of two people."""

    def __init__(
        self,
        loaded: Loaded,
        crew: Crew,
        ears: Sequence[OpenedEar],
        voices: Voices,
        microphones: Microphones,
        fittings: Fittings | None = None,
    ) -> None:
        hears = [opened.ear for opened in ears]
        super().__init__(loaded, hears, microphones, voices.say, voices.cache, fittings)
        self._crew = crew
        self.played = Played()

    def play(self) -> Played:
        """The whole session."""
        try:
            self.conductor.begin(second=self._crew.account.two_crew)
            cut_off = play(self._crew, self)
            summary = self.conductor.end("the crew fell silent")
        finally:
            self.voice.close()
        self.played = Played(summary, self.now, cut_off, lines=self.lines, sound=self.sound)
        return self.played
