"""The loop in real time: a session of its own program, with a sound card made of software.

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

from voicecheck.audio.source import RATE
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.measure.synthesis import Talker
from voicecheck.measure.virtual_card import SoundCard
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.listening_in import Line, ListeningIn
from voicecheck.rehearsal.patience import PATIENCE
from voicecheck.rehearsal.performer import Performer
from voicecheck.rehearsal.sound import Sounded
from voicecheck.session.options import HearingOptions

READY: Final = 120.0
"""Seconds in which the listeners have loaded and the first prompt has come."""
ENDING: Final = 60.0
"""Seconds from the crew's last word to the end of the session's program."""
LONGEST: Final = PATIENCE + 400.0
"""Seconds after which a session that goes on is taken to hang."""
_TICK: Final = 0.02


class LiveLoop:
    """One crew in front of a real session. Raises VoicecheckError where no card can be made."""

    def __init__(
        self,
        loaded: Loaded,
        crew: Crew,
        hearing: HearingOptions,
        talkers: tuple[Talker, Talker],
        cache: Path,
    ) -> None:
        self._loaded = loaded
        self._crew = crew
        self._hearing = hearing
        self._talkers = talkers
        self._cache = cache
        self._said: list[tuple[float, NDArray[np.int16]]] = []

    def play(self) -> Sounded:
        """The whole session. Raises VoicecheckError when it does not begin or end."""
        with tempfile.TemporaryDirectory() as folder, SoundCard() as card:
            log, told = Path(folder) / "log", Path(folder) / "told.txt"
            with told.open("wb") as err, (Path(folder) / "result.json").open("w+b") as out:
                running = subprocess.Popen(self._command(log), stdout=out, stderr=err, env=card.env)
                try:
                    return self._perform(card, running, log, Path(out.name))
                except VoicecheckError as error:
                    last = told.read_text("utf-8", "replace").strip().splitlines()[-3:]
                    raise VoicecheckError(f"{error}: {'; '.join(last)}") from None
                finally:
                    running.kill()
                    running.wait()

    def _command(self, log: Path) -> list[str]:
        hearing, checklist = self._hearing, self._loaded
        model = [] if hearing.model is None else ["--model", str(hearing.model)]
        second = ["--second", "second"] if self._crew.account.two_crew else []
        return [
            *(sys.executable, "-m", "voicecheck", "run", str(checklist.files[0])),
            *("--airframe", checklist.checklist.registration, "--headset", "--terse", "--json"),
            *("--log", str(log), "--listener", hearing.listener, *model, *second),
            *("--second-listener", hearing.second),
        ]

    def _perform(
        self, card: SoundCard, running: subprocess.Popen[bytes], log: Path, result: Path
    ) -> Sounded:
        heard = ListeningIn(log)
        begun = time.monotonic()
        lines: list[Line] = []
        while not lines:
            if running.poll() is not None or time.monotonic() - begun > READY:
                raise VoicecheckError("the live session did not begin")
            time.sleep(_TICK)
            lines = heard.poll() if log.exists() else []
        begun = time.monotonic()
        performer = Performer(
            self._crew, self._talkers, self._cache, lambda sound: self._speak(card, sound, begun)
        )
        over: float | None = None
        while running.poll() is None:
            now = time.monotonic() - begun
            for line in lines:
                performer.hear(line, now)
            performer.tick(now)
            lines = heard.poll()
            over = now if over is None and self._crew.is_over else over
            if now > LONGEST or (over is not None and now > over + ENDING):
                raise VoicecheckError("the live session did not end")
            time.sleep(_TICK)
        seconds = time.monotonic() - begun
        heard.poll()
        try:
            summary: dict[str, Any] = json.loads(result.read_text("utf-8"))
        except (OSError, ValueError):
            raise VoicecheckError("the live session ended without a result") from None
        return Sounded(summary, seconds, False, heard.lines, self._track())

    def _speak(self, card: SoundCard, sound: NDArray[np.int16], begun: float) -> None:
        self._said.append((time.monotonic() - begun, sound))
        threading.Thread(target=card.speak, args=(sound,), daemon=True).start()

    def _track(self) -> NDArray[np.int16]:
        """What the crew said, each in its time."""
        length = max((int(at * RATE) + len(sound) for at, sound in self._said), default=0)
        track = np.zeros(length, np.int16)
        for at, sound in self._said:
            track[int(at * RATE) : int(at * RATE) + len(sound)] = sound
        return track
