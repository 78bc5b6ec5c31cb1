"""A session of this process in real time, with a crew at the ends of a virtual sound card.

The crew speaks into the microphone, listens at the loudspeaker for its turn, and sees on the
screen what was understood.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

from voicecheck.audio.source import Samples
from voicecheck.errors import VoicecheckError
from voicecheck.session.display import Quiet
from voicecheck.session.keyboard import Entry
from voicecheck.session.options import CockpitOptions, HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.run import Finished, run
from voicecheck.world.acts import Act, Utterance, Wait
from voicecheck.world.driver import Recital, Way, play
from voicecheck.world.tap import Tap
from voicecheck.world.virtual_card import SoundCard

QUIET: Final = 0.9
"""Seconds of quiet at the loudspeaker after which the crew speaks: more than a room's tail."""
_ANSWER: Final = 1.0
"""Seconds after a decision in which its sound begins."""
_LONGEST_TURN: Final = 30.0
_START_SECONDS: Final = 120.0
_TICK: Final = 0.02


class Screen(Quiet):
    """What a crew learns of what was understood. times: of each decision, as time.monotonic."""

    def __init__(self) -> None:
        self.times: list[float] = []
        self.words: list[str] = []
        self.asked = 0

    def heard(self, at: float, words: str, confidence: float) -> None:
        """Understood."""
        self.words.append(words)
        self.times.append(time.monotonic())

    def not_understood(self, at: float, reason: str) -> None:
        """Asked again."""
        self.asked += 1
        self.times.append(time.monotonic())


class AtTheCard(Way):
    """A crew in a thread of its own; in the session's place of keys it ends the session.

    said: words to 16 kHz mono. failed: why the crew gave up, if it did: nothing it did not do
    may pass for a measurement.
    """

    patience = 8.0

    def __init__(self, card: SoundCard, said: Callable[[str], Samples], taps: tuple[Tap, Tap]):
        super().__init__()
        self._card = card
        self._to_sound = said
        self.microphone, self.loudspeaker = taps
        self.screen = Screen()
        self.failed: Exception | None = None
        self._ended = threading.Event()
        self.said_at = 0.0
        self._asked_from = 0.0
        self._decisions = 0

    def perform(self, course: Iterator[Act]) -> None:
        """The whole of it; then the session is over, also when the crew fails."""
        try:
            play(Recital(course), self)
        except Exception as error:
            self.failed = error
        finally:
            self.close()

    def pending(self) -> list[Entry]:
        """As keys: nothing, until it is over."""
        if self.over:
            raise KeyboardInterrupt
        return []

    def close(self) -> None:
        """Nobody speaks any more."""
        self._ended.set()

    def greeting(self) -> Iterator[Wait]:
        """Until the session is heard for the first time. Raises VoicecheckError."""
        until = self.now + _START_SECONDS
        while not self.loudspeaker.stretches():
            if self.now > until:
                raise VoicecheckError(
                    f"nothing was heard of the session within {_START_SECONDS:g} s; has this "
                    "machine a voice (espeak-ng)?"
                )
            yield Wait(self.now + 0.2)

    @property
    def now(self) -> float:
        """The machine's clock."""
        return time.monotonic()

    @property
    def over(self) -> bool:
        """Whether nobody speaks any more."""
        return self._ended.is_set()

    @property
    def answered(self) -> bool:
        """Whether the last words were understood, or asked about."""
        return len(self.screen.times) > self._decisions

    def turn(self, said: Utterance, begin: float | None) -> float:
        """Once the loudspeaker has fallen silent after the last answer, if it waits for that."""
        if begin is None:
            self._asked_from = self.now
        decided = self.screen.times[-1] if self.screen.times else 0.0
        free = self.loudspeaker.quiet_for() > QUIET and self.now > decided + _ANSWER
        if not said.waits or free or self.now > self._asked_from + _LONGEST_TURN:
            return self.now
        return float("inf")

    def utter(self, said: Utterance) -> float:
        """Into the microphone; it takes as long as it takes."""
        sound = self._to_sound(said.words)
        self._decisions = len(self.screen.times)
        self._card.speak(sound)
        self.said_at = self.now
        return self.said_at

    def let(self, until: float) -> None:
        """A moment."""
        time.sleep(_TICK)


def at_the_card(
    airframe: tuple[str, str],
    folder: Path,
    options: tuple[HearingOptions, VoiceOptions],
    said: Callable[[str], Samples],
    course: Callable[[AtTheCard], Iterator[Act]],
    air: tuple[int, float] | None = None,
) -> tuple[Finished, AtTheCard]:
    """One session. Raises VoicecheckError for missing parts.

    airframe: checklist and registration. folder: for its files. course: what the crew does.
    air: milliseconds and decibels of what comes back from loudspeaker to microphone; None: the
    crew wears headsets.
    """
    (checklist, registration), (hearing, voice) = airframe, options
    cockpit = CockpitOptions(headset=air is None)
    log = folder / "log"
    wanted = RunOptions(checklist, registration, log, cockpit=cockpit, hearing=hearing, voice=voice)
    with SoundCard() as card:
        if air is not None:
            card.join_room(*air)
        taps = Tap("vmic_in.monitor", card.env), Tap("vspk.monitor", card.env)
        way = AtTheCard(card, said, taps)
        crew = threading.Thread(target=way.perform, args=(course(way),))
        crew.start()
        try:
            finished = run(wanted, folder / "cache", way.screen, way)
        finally:
            way.close()
            crew.join()
            for tap in taps:
                tap.close()
    if way.failed is not None:
        raise way.failed
    return finished, way
