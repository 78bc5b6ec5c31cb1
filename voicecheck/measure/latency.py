"""From the end of a callout to the start of the answer's sound, at the ends of a sound card.

A synthetic crew speaks into a virtual microphone and the loudspeaker is recorded, in real time, in
a session like any other. Nothing of it is timed inside voicecheck but the moment of decision.
"""

from __future__ import annotations

import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from voicecheck.audio.source import RATE, Samples
from voicecheck.audio.tones import Tone, tone
from voicecheck.checklist.loader import load_checklist
from voicecheck.checklist.resolved import OFF, Checklist, Grade
from voicecheck.errors import VoicecheckError
from voicecheck.measure.table import Table
from voicecheck.session.display import Quiet
from voicecheck.session.keyboard import Entry
from voicecheck.session.options import CockpitOptions, HearingOptions, RunOptions, VoiceOptions
from voicecheck.session.run import run
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.world.synthesis import Talker
from voicecheck.world.tap import Tap
from voicecheck.world.virtual_card import SoundCard

CALLOUTS: Final = 40
_AIRFRAME: Final = ("skerry-j2", "ZZ-HJC")
_CREW: Final = Talker("flite", "rms")
_SETTLED: Final = 0.8
"""Seconds of quiet at the loudspeaker before the crew speaks again."""
_PATIENCE: Final = 4.0
_LONGEST_TURN: Final = 30.0
_START_SECONDS: Final = 120.0


@dataclass(frozen=True, slots=True)
class Answer:
    """Seconds on the machine's clock of one callout and its answer."""

    said: float
    decided: float
    sounded: float


class _Decisions(Quiet):
    """Notes when the session has decided."""

    def __init__(self) -> None:
        self.times: list[float] = []

    def heard(self, at: float, words: str, confidence: float) -> None:
        self.times.append(time.monotonic())

    def not_understood(self, at: float, reason: str) -> None:
        self.times.append(time.monotonic())


class EndsWhenTold:
    """What is typed in the session's place of keys: nothing; it ends the session at the end."""

    def __init__(self) -> None:
        self.over = threading.Event()

    def pending(self) -> list[Entry]:
        """Nothing, until it is over."""
        if self.over.is_set():
            raise KeyboardInterrupt
        return []

    def close(self) -> None:
        """Nothing to leave."""


def measure_latency(callouts: int = CALLOUTS, second: str = "auto") -> Table:
    """Run live sessions on a virtual sound card. Takes about 6 s for each callout.

    second: the scoring listener, as for `voicecheck run`. Raises VoicecheckError without
    PulseAudio, a voice or the synthetic crew.
    """
    with tempfile.TemporaryDirectory() as folder:
        toned = _session(callouts, second, tones=True, folder=Path(folder) / "toned")
        plain = _session(callouts, second, tones=False, folder=Path(folder) / "plain")
    rows = (
        ("end of callout to decision", *_spread([a.decided - a.said for a in (*toned, *plain)])),
        ("decision to first word, no tones", *_spread([a.sounded - a.decided for a in plain])),
        ("decision to tone", *_spread([a.sounded - a.decided for a in toned])),
        ("end of callout to first word, no tones", *_spread([a.sounded - a.said for a in plain])),
        ("end of callout to tone", *_spread([a.sounded - a.said for a in toned])),
    )
    return Table(
        "Latency of answers, measured at the loudspeaker against the microphone",
        ("from, to", "callouts", "median ms", "p95 ms", "worst ms"),
        rows,
        (
            "Live sessions on a virtual sound card, a synthetic crew, headset.",
            f"With tones the words follow {len(tone(Tone.HEARD)) / RATE * 1000:.0f} ms after "
            "the tone begins. Both ends are exact to about 20 ms.",
        ),
    )


def _session(callouts: int, second: str, *, tones: bool, folder: Path) -> list[Answer]:
    type_id, registration = _AIRFRAME
    loaded = load_checklist(
        type_id, registration, shipped=checklists_dir(), grammars=grammars_dir()
    )
    decisions, crew = _Decisions(), EndsWhenTold()
    script = _script(loaded.checklist, callouts)
    sounds = {words: _CREW.say(words) for words in dict.fromkeys(script)}
    with SoundCard() as card:
        taps = Tap("vmic_in.monitor", card.env), Tap("vspk.monitor", card.env)
        speaking = threading.Thread(
            target=_speak, args=(card, taps[1], [sounds[words] for words in script], crew)
        )
        speaking.start()
        try:
            run(
                RunOptions(
                    type_id,
                    registration,
                    folder / "log",
                    cockpit=CockpitOptions(headset=True),
                    hearing=HearingOptions(second=second),
                    voice=VoiceOptions(tones=tones),
                ),
                folder / "cache",
                decisions,
                crew,
            )
        finally:
            crew.over.set()
            speaking.join()
            for tap in taps:
                tap.close()
        said, answered = (tap.stretches() for tap in taps)
    return answers(said, answered, decisions.times)


def answers(
    said: list[tuple[float, float]], answered: list[tuple[float, float]], decided: list[float]
) -> list[Answer]:
    """Pair each callout with the decision and the sound that follow before the next callout.

    A callout that was not answered at all is left out: it was ignored, which is no latency.
    """
    found = []
    for number, (_, end) in enumerate(said):
        until = said[number + 1][0] if number + 1 < len(said) else float("inf")
        decision = next((at for at in decided if end < at < until), None)
        sound = next((start for start, _ in answered if end < start < until), None)
        if decision is not None and sound is not None:
            found.append(Answer(end, decision, sound))
    return found


def _script(checklist: Checklist, callouts: int) -> list[str]:
    """So many callouts of a usual crew, over and over."""
    round_: list[str] = []
    for bus in checklist.buses:
        round_ += [bus.on[0], "affirm"]
    for position in checklist.positions:
        if position.id == OFF:
            continue
        round_.append(position.select[0])
        for item in position.items:
            good = next((r for r in item.readings if r.grade is Grade.GOOD), None)
            if good is not None and item.window is None:
                round_.append(good.phrases[0])
    return [round_[number % len(round_)] for number in range(callouts)]


def _speak(
    card: SoundCard, loudspeaker: Tap, script: Sequence[Samples], crew: EndsWhenTold
) -> None:
    """Own thread: one callout whenever the loudspeaker has fallen silent; then it is over."""
    try:
        _say_all(card, loudspeaker, script, crew)
    finally:
        crew.over.set()  # also when the sound card fails: nobody else would end the session


def _say_all(
    card: SoundCard, loudspeaker: Tap, script: Sequence[Samples], crew: EndsWhenTold
) -> None:
    # The preamble is over when something has been said and silence has returned.
    began = time.monotonic()
    while not crew.over.is_set() and not loudspeaker.stretches():
        time.sleep(0.2)
        if time.monotonic() - began > _START_SECONDS:
            crew.over.set()
    for sound in script:
        turn = time.monotonic()
        while not crew.over.is_set() and loudspeaker.quiet_for() < _SETTLED:
            time.sleep(0.02)
            if time.monotonic() - turn > _LONGEST_TURN:
                break
        if crew.over.is_set():
            return
        card.speak(sound)
        ended = time.monotonic()
        while time.monotonic() - ended < _PATIENCE and loudspeaker.quiet_for() > _SETTLED:
            time.sleep(0.02)


def _spread(seconds: list[float]) -> tuple[int, float, float, float]:
    if not seconds:
        raise VoicecheckError("no callout was answered; is the crew's voice installed (flite)?")
    values = np.array(seconds) * 1000
    median, high = np.percentile(values, [50, 95])
    return len(seconds), round(float(median)), round(float(high)), round(float(values.max()))
