"""The listener that writes phones: a small model of our own, trained for callouts.

It hears an utterance once, and tells of any phrase how well it explains what was heard. So all
callouts on offer, what must not be taken for them, and what it would write unguided are compared
over the same sound. How it was made, and how well it hears: docs/listener.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from rapidfuzz.distance import Levenshtein

from voicecheck.speech import ctc
from voicecheck.speech.accents import tolerant
from voicecheck.speech.ctc import Floats, Way
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Word
from voicecheck.speech.phone_fit import Fit
from voicecheck.speech.phone_ways import Pronouncing
from voicecheck.speech.phone_weights import NAME, whole
from voicecheck.speech.rows import Piece, Rows

FRAME: Final = 0.012
"""Seconds of one frame."""
FAR: Final = 50.0
"""A lead where there is nothing to lead over."""
OF_DECOY: Final = 3
"""Ways of a decoy that are tried."""
LEAN: Final = 5.0
"""Frames for which a phone may have sounded before it was written, and after."""
SHORTEST: Final = 3200
"""Samples below which the model finds nothing to work on (0.2 s)."""


class PhoneListener:
    """Compares phrases over one utterance at a time; depends on nothing said before."""

    name: Final = NAME.removesuffix(".onnx")

    def __init__(self, session: Any, pronouncing: Pronouncing, lexicon: Lexicon) -> None:
        self._session = session
        self._pronouncing = pronouncing
        self._lexicon = lexicon
        self._against: tuple[str, ...] = ()
        self._rows: Rows | None = None
        self._grammar = Grammar((), lexicon.joiners)
        self._able = False

    def listen(self, grammar: Grammar) -> None:
        """Compare these from now on. A callout that has no known sound: none can be compared."""
        self._grammar = grammar
        self._able = all(self._pronouncing.ways(phrase) for phrase in grammar.phrases)
        if not self._able:
            return
        near = decoys_of(grammar.phrases, grammar, self._lexicon)
        self._against = tuple(
            p for p in dict.fromkeys((*near, *self._lexicon.chatter)) if p not in grammar.phrases
        )
        pieces = list(self._pieces())
        self._rows = Rows(pieces) if pieces else None

    def _pieces(self) -> Iterable[Piece]:
        for phrase in self._grammar.joining:
            yield from (Piece(phrase, w, True, True) for w in self._pronouncing.ways(phrase)[:2])
        for word in self._grammar.joiners if self._grammar.joining else ():
            yield from (Piece(word, w, False, False) for w in self._pronouncing.ways(word)[:2])
        for phrase in self._grammar.corrections if self._grammar.joining else ():
            yield from (Piece(phrase, w, True, False) for w in self._pronouncing.ways(phrase)[:2])

    def frames(self, samples: NDArray[np.int16]) -> Floats:
        """(time, classes): how much less likely each is than the likeliest there, in nats."""
        sound = np.pad(samples.astype(np.float32) / 32768, (0, max(0, SHORTEST - samples.size)))
        (told,) = self._session.run(None, {"sound": sound[None]})
        frames = told[0].astype(np.float64)
        return np.asarray(frames - frames.max(1, keepdims=True))

    def fit(self, frames: Floats, also: Iterable[str] = ()) -> Fit | None:
        """What frames() found, compared with everything that can be said now.

        also: texts that others read in it, such as rows. None where it cannot tell, or nothing
        fits in so short a sound.
        """
        if not self._able:
            return None
        texts = self._texts(frames, also)
        options = [(text, way) for text in texts for way in self._fitting(text, frames)]
        if not options:
            return None
        totals = ctc.totals(frames, [way for _, way in options])
        first = int(totals.argmax())
        text, gap, keys = options[first][0], float(totals[first]), texts[options[first][0]]
        others = [
            (float(total), other)
            for (other, _), total in zip(options, totals, strict=True)
            if texts[other] != keys
        ]
        least, rival = max(others, default=(gap - FAR, ""))
        decoys = gap - self._decoys(frames, text, keys, texts)
        return self._described(frames, text, gap, (gap - least, decoys, rival))

    def _texts(self, frames: Floats, also: Iterable[str]) -> dict[str, tuple[str, ...]]:
        """Everything that may have been said, and the callouts in it."""
        texts: dict[str, tuple[str, ...]] = {
            text: (callout.key,) for text, callout in self._grammar.phrases.items()
        }
        row = [self._rows.best(frames)] if self._rows is not None else []
        for text in dict.fromkeys((*row, *also)):
            read = self._grammar.read(text.split())
            if read is not None and text not in texts and self._pronouncing.ways(text):
                texts[text] = tuple(part.callout.key for part in read)
        return texts

    def _fitting(self, text: str, frames: Floats) -> list[Way]:
        room = len(frames) - 1
        return [way for way in self._pronouncing.ways(text) if len(way) * 2 < room]

    def _decoys(
        self, frames: Floats, text: str, keys: tuple[str, ...], texts: dict[str, tuple[str, ...]]
    ) -> float:
        """Ln P of the likeliest phrase that must not be acted on; what sounds the same is none."""
        mine = {w for t, said in texts.items() if said == keys for w in self._pronouncing.ways(t)}
        of_row = () if text in self._grammar.phrases else self._decoys_of(text)
        against = [
            way
            for decoy in (*self._against, *of_row)
            for way in self._fitting(decoy, frames)[:OF_DECOY]
            if way not in mine
        ]
        return float(ctc.totals(frames, against).max()) if against else -np.inf

    def _decoys_of(self, text: str) -> tuple[str, ...]:
        return decoys_of([text], self._grammar, self._lexicon)

    def _described(
        self, frames: Floats, text: str, gap: float, leads: tuple[float, float, str]
    ) -> Fit:
        accented = tolerant(frames)
        mine = self._fitting(text, frames)
        way = mine[int(ctc.totals(accented, mine).argmax())]
        aligned = ctc.align(accented, way)
        lead, decoys, rival = leads
        return Fit(
            text=text,
            phones=len(way),
            gap=gap,
            worst=float(aligned.phones.min()),
            mean=float(aligned.phones.mean()),
            lead=lead,
            decoys=min(decoys, FAR),
            alike=max(Levenshtein.normalized_similarity(ctc.written(frames), w) for w in mine),
            rival=rival,
            words=self._timed(text, way, aligned.spans),
        )

    def _timed(self, text: str, way: Way, spans: NDArray[np.int64]) -> tuple[Word, ...]:
        """The words; where one ends and the next begins: half way between their phones.

        But no farther than LEAN from either: between them may be a pause.
        """
        owners = np.array(self._pronouncing.owners(text, way))
        words = text.split()
        edges = [
            (spans[owners == at][0, 0], spans[owners == at][-1, 1]) for at in range(len(words))
        ]
        found = []
        for at, word in enumerate(words):
            start, end = (float(edge) for edge in edges[at])
            if at > 0:
                start = max(start - LEAN, (edges[at - 1][1] + start) / 2)
            if at < len(words) - 1:
                end = min(end + LEAN, (end + edges[at + 1][0]) / 2)
            found.append(Word(word, round(start * FRAME, 3), round((end + 1) * FRAME, 3)))
        return tuple(found)


@lru_cache(maxsize=1)
def load_session() -> Any:
    """One model in memory however many channels listen. Raises VoicecheckError."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    # It is done before the grammar is decoded: one thread leaves that its processor.
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.enable_cpu_mem_arena = False  # it would keep the memory of the longest utterance
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    return onnxruntime.InferenceSession(whole(), options, providers=["CPUExecutionProvider"])
