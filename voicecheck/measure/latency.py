"""From the end of a callout to the start of the answer's sound, at the ends of a sound card.

A synthetic crew speaks into a virtual microphone and the loudspeaker is recorded, in real time, in
a session like any other. Nothing of it is timed inside voicecheck but the moment of decision.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import cycle, islice
from pathlib import Path
from typing import Final

from voicecheck.audio.source import RATE
from voicecheck.audio.tones import Tone, tone
from voicecheck.errors import VoicecheckError
from voicecheck.measure.stream import spread
from voicecheck.measure.table import Table
from voicecheck.session.options import HearingOptions, VoiceOptions
from voicecheck.world.acts import Act, Utterance
from voicecheck.world.at_the_card import AtTheCard, at_the_card
from voicecheck.world.fleet import airframe
from voicecheck.world.rounds import usual_calls
from voicecheck.world.synthesis import Talker

CALLOUTS: Final = 40
_AIRFRAME: Final = ("skerry-j2", "ZZ-HJC")
_CREW: Final = Talker("flite", "rms")


@dataclass(frozen=True, slots=True)
class Answer:
    """Seconds on the machine's clock of one callout and its answer."""

    said: float
    decided: float
    sounded: float


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
    checklist = airframe(*_AIRFRAME).checklist
    script = list(islice(cycle(usual_calls(checklist)), callouts))
    sounds = {words: _CREW.say(words) for words in dict.fromkeys(script)}

    def course(way: AtTheCard) -> Iterator[Act]:
        yield from way.greeting()
        for words in script:
            yield Utterance(0, (), words, 0.0)

    options = HearingOptions(second=second), VoiceOptions(tones=tones)
    _, way = at_the_card(_AIRFRAME, folder, options, sounds.__getitem__, course)
    said, answered = way.microphone.stretches(), way.loudspeaker.stretches()
    return answers(said, answered, way.screen.times)


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


def _spread(seconds: list[float]) -> tuple[int | None, ...]:
    if not seconds:
        raise VoicecheckError("no callout was answered; is the crew's voice installed (flite)?")
    return len(seconds), *spread(seconds, 50, 95, 100)
