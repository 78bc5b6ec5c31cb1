"""A session in real time, of its own program, with a sound card made of software.

Everything is as for a user: `voicecheck run` opens a microphone and a loudspeaker, and
the simulated crew speaks into the one. It hears the prompts through the journal; they are the
short ones, for here every second is one.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE, Samples
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.patience import PATIENCE
from voicecheck.rehearsal.played import Played
from voicecheck.rehearsal.real_time import RealTime
from voicecheck.session.options import HearingOptions
from voicecheck.world.driver import play
from voicecheck.world.journal_lines import ListeningIn
from voicecheck.world.virtual_card import SoundCard
from voicecheck.world.voices import Voices

READY: Final = 120.0
"""Seconds in which the listeners have loaded and the first prompt has come."""
ENDING: Final = 60.0
"""Seconds from the crew's last word to the end of the session's program."""
LONGEST: Final = PATIENCE + 400.0
"""Seconds after which a session that goes on is taken to hang."""
_TICK: Final = 0.02


class LiveLoop(RealTime):
    """One crew in front of a real session. Raises VoicecheckError where no card can be made."""

    def __init__(self, loaded: Loaded, crew: Crew, hearing: HearingOptions, voices: Voices) -> None:
        super().__init__(voices, self._speak)
        self._loaded = loaded
        self._crew = crew
        self.played = Played()
        self._hearing = hearing
        self._said: list[tuple[float, Samples]] = []

    def play(self) -> Played:
        """The whole session. Raises VoicecheckError when it does not begin or end."""
        with tempfile.TemporaryDirectory() as folder, SoundCard() as self._card:
            log, told = Path(folder) / "log", Path(folder) / "told.txt"
            self._listening = ListeningIn(log)
            with told.open("wb") as err, (Path(folder) / "result.json").open("w+b") as out:
                self._running = subprocess.Popen(
                    self._command(log), stdout=out, stderr=err, env=self._card.env
                )
                try:
                    return self._perform(Path(out.name))
                except VoicecheckError as error:
                    last = told.read_text("utf-8", "replace").strip().splitlines()[-3:]
                    raise VoicecheckError(f"{error}: {'; '.join(last)}") from None
                finally:
                    self._running.kill()
                    self._running.wait()

    def _command(self, log: Path) -> list[str]:
        hearing, checklist = self._hearing, self._loaded
        model = [] if hearing.model is None else ["--model", str(hearing.model)]
        second = ["--second", "second"] if self._crew.account.two_crew else []
        return [
            *(sys.executable, "-m", "voicecheck", "run", str(checklist.files[0])),
            *("--airframe", checklist.checklist.registration, "--headset", "--terse", "--json"),
            *("--log", str(log), "--listener", hearing.listener, *model, *second),
            *("--second-listener", hearing.second),
            "--own-listener" if hearing.own else "--no-own-listener",
        ]

    def _perform(self, result: Path) -> Played:
        self._begun = time.monotonic()
        while not self.heard:
            self._step(READY, "begin")
            if self.over:
                raise VoicecheckError("the live session did not begin")
        self._begun = time.monotonic()
        play(self._crew, self)
        ending = self.clock + ENDING
        while not self.over:
            self._step(ending, "end")
        self._listening.poll()
        try:
            summary: dict[str, Any] = json.loads(result.read_text("utf-8"))
        except (OSError, ValueError):
            raise VoicecheckError("the live session ended without a result") from None
        lines = self._listening.lines
        self.played = Played(summary, self.clock, lines=lines, sound=self._track())
        return self.played

    @property
    def over(self) -> bool:
        """Whether the session's program has ended."""
        return self._running.poll() is not None

    def let(self, until: float) -> None:
        """A moment."""
        self._step(LONGEST, "end")

    def _step(self, deadline: float, what: str) -> None:
        time.sleep(_TICK)
        self.clock = time.monotonic() - self._begun
        for line in self._listening.poll():
            self.hear(line)
        if self.clock > deadline:
            raise VoicecheckError(f"the live session did not {what}")

    def _speak(self, sound: Samples) -> None:
        self._said.append((self.clock, sound))
        threading.Thread(target=self._card.speak, args=(sound,), daemon=True).start()

    def _track(self) -> NDArray[np.int16]:
        """What the crew said, each in its time."""
        length = max((int(at * RATE) + len(sound) for at, sound in self._said), default=0)
        track = np.zeros(length, np.int16)
        for at, sound in self._said:
            track[int(at * RATE) : int(at * RATE) + len(sound)] = sound
        return track
