"""How long after the end of speech an utterance is known to be over, and whether pauses cut it.

Callouts of known length stand at known places in silence or noise. Latency is stream time
from the last sound of the speaker to the decision; computing comes on top. Two callouts that a
pause parts may well be two verdicts; one callout that is cut in two is not heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.language import load_language
from voicecheck.measure.stream import NOISES, Placed, Stream, label, spread
from voicecheck.measure.table import Cell, Table
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import grammars_dir
from voicecheck.speech import open_ear
from voicecheck.speech.detector import new_detector
from voicecheck.speech.endpoint import BLOCK, RATE, Endpointer, Rules, Utterance
from voicecheck.speech.verdict import Accepted, Verdict
from voicecheck.world.mixing import audible
from voicecheck.world.synthesis import Talker

TALKERS: Final = (
    Talker("flite", "slt"),
    Talker("flite", "rms"),
    Talker("flite", "awb"),
    Talker("espeak-ng", "en-us"),
    Talker("espeak-ng", "en-gb+f4", 0.95),
    Talker("espeak-ng", "en-us+m7"),
    Talker("festival", "kal_diphone"),
)
SHORT: Final = (
    *("three green", "horn sounding", "no horn", "battery on", "say again", "one red"),
    *("negative", "both fire lights", "selector off", "left beta dark"),
)
PAUSED: Final = (
    *(("three green", "one red"), ("horn sounding", "battery on")),
    *(("both fire lights", "dark"), ("left beta", "dark")),
)
"""Said with a pause inside: two callouts in one breath, and one callout."""
PAUSES: Final = (0.2, 0.3)
"""Seconds of the pause (a comma in read speech; common practice, no source)."""
OTHERS: Final = ("two green", "bell sounding", "avionics on", "left beta illuminated")
"""Callouts that nobody says here, so that there is something to choose from."""
RULES: Final = (
    ("fixed", Rules(pause=12, hang_over=12)),
    ("early", Rules()),
)
"""The rules compared: one hang-over of 384 ms for everything, and those of a session."""
_SEED: Final = 11


def stream_of(talker: Talker, decibels: float | None) -> tuple[NDArray[np.int16], list[Placed]]:
    """All callouts of one talker one after another, and where they stand."""
    stream = Stream(odd=37, first=1)
    for text in SHORT:
        stream.put(text, audible(talker.say(text)))
    for first, second in PAUSED:
        for pause in PAUSES:
            quiet = np.zeros(int(pause * RATE), np.int16)
            before, after = audible(talker.say(first)), audible(talker.say(second))
            sound = np.concatenate([before, quiet, after])
            stream.put(f"{first} {second}", sound, pause=pause)
    return stream.mixed(decibels, _SEED), stream.placed


def utterances(sound: NDArray[np.int16], endpointer: Endpointer) -> list[Utterance]:
    """All utterances that the endpointer finds."""
    found = []
    for at in range(0, sound.size // BLOCK * BLOCK, BLOCK):
        ended = endpointer.feed(sound[at : at + BLOCK])
        if ended is not None:
            found.append(ended)
    return found


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one placed callout.

    delay: seconds from its end to the verdict on its last part, None where there was none;
    right: acted on word for word, in one or in several verdicts.
    """

    placed: Placed
    delay: float | None
    right: bool


def judge(placed: Sequence[Placed], verdicts: Sequence[Verdict]) -> list[Outcome]:
    """Which verdicts lie over each callout."""
    outcomes = []
    for callout in placed:
        over = [v for v in verdicts if v.start < callout.end and v.end > callout.start]
        acted = [spoken.words for v in over if isinstance(v, Accepted) for spoken in v.spoken]
        whole = " ".join(acted) == callout.text and all(isinstance(v, Accepted) for v in over)
        delay = over[-1].decided - callout.end if over else None
        outcomes.append(Outcome(callout, delay, whole))
    return outcomes


def measure_endpoint(
    talkers: Sequence[Talker] = TALKERS,
    noises: Sequence[float | None] = NOISES,
    rules: Sequence[tuple[str, Rules]] = RULES,
    *,
    second: str = "auto",
    cache: Path,
) -> Table:
    """One row for each noise and set of rules. second, cache: as speech.open_ear has them."""
    language = load_language(grammars_dir() / "en")
    opened = open_ear(lexicon_of(language), second=second, cache=cache)
    texts = {*SHORT, *(" ".join(row) for row in PAUSED[2:]), *PAUSED[0], *PAUSED[1], *OTHERS}
    opened.ear.listen(
        [Callout(text, (text,), Stakes.ADVANCES, joins=True) for text in sorted(texts)]
    )
    rows: list[tuple[Cell, ...]] = []
    for decibels in noises:
        streams = [stream_of(talker, decibels) for talker in talkers]
        for name, rule in rules:
            outcomes: list[Outcome] = []
            for sound, placed in streams:
                ear = opened.ear.anew(Endpointer(new_detector(), rule))
                outcomes += judge(placed, [*ear.feed(sound), *ear.finish()])
            rows.append((label(decibels), name, *_row(outcomes)))
    return Table(
        "endpoint: stream time from the end of speech to the decision",
        (
            *("noise", "rules", "callouts", "right", "median ms", "p95 ms"),
            *("all: median ms", "p95 ms of all", "right with a pause"),
        ),
        tuple(rows),
        (
            "median and p95 are of those that were acted on; computing comes on top",
            f"pauses of {', '.join(f'{pause:g}' for pause in PAUSES)} s; {len(talkers)} synthetic "
            f"talkers, propeller noise; {', '.join(opened.listeners)}",
        ),
    )


def _row(outcomes: Sequence[Outcome]) -> tuple[Cell, ...]:
    paused = [o for o in outcomes if o.placed.pause]
    every = [o.delay for o in outcomes if o.delay is not None]
    acted = [o.delay for o in outcomes if o.delay is not None and o.right]
    return (
        len(outcomes),
        len(acted),
        *spread(acted, 50, 95),
        *spread(every, 50, 95),
        f"{sum(o.right for o in paused)} of {len(paused)}",
    )
