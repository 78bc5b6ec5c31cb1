"""Error of recognised word boundaries against where the words were put.

What a timed window rests on is the end of one callout and the start of another. Callouts are
put at known samples, alone and two in one breath, and go the way of a session: endpointer,
then the grammar listener. Only what was heard word for word counts. Positive errors are late.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.callouts import Callout, Stakes
from voicecheck.language import load_language
from voicecheck.measure.endpoint_delay import utterances
from voicecheck.measure.stream import GAP, NOISES, Placed, Stream, label, spread
from voicecheck.measure.table import Cell, Table
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import grammars_dir
from voicecheck.speech.boundaries import bounded
from voicecheck.speech.detector import new_detector
from voicecheck.speech.endpoint import Endpointer, Utterance
from voicecheck.speech.grammar import Grammar, Part
from voicecheck.speech.listener import Listener, Word
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.speech.verdict import Accepted, Spoken
from voicecheck.world.mixing import audible
from voicecheck.world.synthesis import Talker

TALKERS: Final = (
    Talker("flite", "slt"),
    Talker("flite", "rms"),
    Talker("flite", "awb"),
    Talker("espeak-ng", "en-us"),
    Talker("espeak-ng", "en-us+f4", 0.95),
    Talker("espeak-ng", "en-us+m7"),
)
CALLOUTS: Final = (
    *("selector off", "anti skid out", "anti skid extinguished", "going to fire alfa"),
    *("going to bleed", "caption out", "three green", "horn sounding", "stays lit"),
)
ROWS: Final = (("selector off", "anti skid out"), ("three green", "horn sounding"))
BREATH: Final = 0.2
"""Seconds between two callouts of one breath."""
_SEED: Final = 21


def stream_of(talker: Talker, decibels: float | None) -> tuple[NDArray[np.int16], list[Placed]]:
    """All callouts of one talker, alone and in rows, and where they stand."""
    stream = Stream(odd=29, first=0)
    for row in (*((text,) for text in CALLOUTS), *ROWS):
        for text in row:
            stream.put(text, audible(talker.say(text)), GAP if text == row[-1] else BREATH)
    return stream.mixed(decibels, _SEED), stream.placed


def errors(
    listener: Listener,
    grammar: Grammar,
    found_speech: Sequence[Utterance],
    put: Sequence[Placed],
    *,
    bounds: bool,
) -> list[tuple[float, float]]:
    """(start, end) errors in seconds of each callout that was heard as said.

    bounds: hold the times to the detector's edges, as the ear does (speech.boundaries).
    """
    found = []
    for utterance in found_speech:
        inside = _put_within(utterance, put)
        words = listener.hear(utterance.samples).trimmed(grammar.joiners).words
        parts = grammar.read([word.text for word in words]) if words else None
        if parts is None or [part.phrase for part in parts] != [p.text for p in inside]:
            continue
        times = _timed(parts, words, utterance)
        held = bounded(times, utterance) if bounds else times
        assert isinstance(held, Accepted)
        for one, truth in zip(held.spoken, inside, strict=True):
            found.append((one.start - truth.start, one.end - truth.end))
    return found


def _put_within(utterance: Utterance, put: Sequence[Placed]) -> list[Placed]:
    return [p for p in put if p.start < utterance.end and p.end > utterance.start]


def _timed(parts: Sequence[Part], words: Sequence[Word], utterance: Utterance) -> Accepted:
    spoken = tuple(
        Spoken(
            part.callout.key,
            part.phrase,
            utterance.offset + words[part.first].start,
            utterance.offset + words[part.last - 1].end,
            1.0,
        )
        for part in parts
    )
    return Accepted(spoken, spoken[0].start, spoken[-1].end, utterance.decided)


def measure_words(
    talkers: Sequence[Talker] = TALKERS, noises: Sequence[float | None] = NOISES
) -> Table:
    """One row for each noise and boundary; milliseconds."""
    language = load_language(grammars_dir() / "en")
    lexicon = lexicon_of(language, [word for text in CALLOUTS for word in text.split()])
    grammar = Grammar(
        tuple(Callout(text, (text,), Stakes.RECORDS_BAD, joins=True) for text in CALLOUTS),
        lexicon.joiners,
    )
    listener = SphinxListener(lexicon)
    listener.listen(grammar)
    rows: list[tuple[Cell, ...]] = []
    for decibels in noises:
        streams = [stream_of(talker, decibels) for talker in talkers]
        total = sum(len(put) for _, put in streams)
        speech = [(utterances(sound, Endpointer(new_detector())), put) for sound, put in streams]
        for bounds in (False, True):
            found: list[tuple[float, float]] = []
            for utterance, put in speech:
                found += errors(listener, grammar, utterance, put, bounds=bounds)
            how = "bounded" if bounds else "words alone"
            heard = f"{len(found)} of {total}"
            for boundary, figures in _boundaries(found):
                rows.append((label(decibels), how, boundary, heard, *figures))
    return Table(
        "word times: error of where a callout starts and ends, in milliseconds, late positive",
        ("noise", "times", "boundary", "heard", "median", "p5", "p95", "p95 of size"),
        tuple(rows),
        (f"{len(talkers)} synthetic talkers, propeller noise; {listener.name}",),
    )


def _boundaries(found: Sequence[tuple[float, float]]) -> Iterator[tuple[str, tuple[Cell, ...]]]:
    """Each boundary and how its errors spread."""
    for at, boundary in enumerate(("start", "end")):
        off = [pair[at] for pair in found]
        yield boundary, (*spread(off, 50, 5, 95), *spread([abs(one) for one in off], 95))
