"""What a listener is, and what it says of one utterance."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from voicecheck.speech.grammar import Grammar


@dataclass(frozen=True, slots=True)
class Word:
    """One recognised word; start, end: seconds from the first sample of the utterance.

    sure: the recogniser's own confidence 0..1, None where it has none. Not to be believed
    alone: in a small grammar it is high for anything.
    """

    text: str
    start: float
    end: float
    sure: float | None = None


@dataclass(frozen=True, slots=True)
class Hearing:
    """What a grammar listener heard.

    words: the best word sequence in the grammar, possibly only the beginning of a phrase;
    rival: the best word sequence when decoys and chatter are allowed as well, or None when
    no such pass was made; again: the best word sequence of the same sound a little quieter
    and later, or None when it was not asked for; proves: whether the listener puts what it
    heard to the proof; proof: then the best word sequence when every word of it may be another
    word of the language, and another word may stand between; empty where nothing was heard;
    first: what was heard before, where all this is of a second look.
    """

    words: tuple[Word, ...]
    rival: tuple[str, ...] | None = None
    again: tuple[str, ...] | None = None
    proves: bool = False
    proof: tuple[str, ...] = ()
    first: Hearing | None = None

    @property
    def text(self) -> tuple[str, ...]:
        """The words alone."""
        return tuple(word.text for word in self.words)

    def trimmed(self, joiners: Sequence[str]) -> Hearing:
        """Without joiners at either end: a decoder's path may stop at the "and"."""
        words = list(self.words)
        while words and words[-1].text in joiners:
            words.pop()
        while words and words[0].text in joiners:
            words.pop(0)
        rival, again = _trimmed(self.rival, joiners), _trimmed(self.again, joiners)
        return replace(self, words=tuple(words), rival=rival, again=again)


def _trimmed(words: tuple[str, ...] | None, joiners: Sequence[str]) -> tuple[str, ...] | None:
    if words is None:
        return None
    left = list(words)
    while left and left[-1] in joiners:
        left.pop()
    while left and left[0] in joiners:
        left.pop(0)
    return tuple(left)


class Listener(Protocol):
    """Hears one utterance at a time against the grammar of the moment."""

    @property
    def name(self) -> str:
        """As shown to the user and written to the journal."""
        ...

    def missing(self, words: Iterable[str]) -> tuple[str, ...]:
        """Of these words, those that it cannot pronounce."""
        ...

    def listen(self, grammar: Grammar) -> None:
        """Hear these callouts from now on. Never called in mid-utterance."""
        ...

    def hear(self, samples: NDArray[np.int16]) -> Hearing:
        """A whole utterance, 16 kHz int16, with some quiet on both sides."""
        ...


@runtime_checkable
class Follows(Protocol):
    """A listener that can begin while an utterance is still being said."""

    def follow(self, blocks: Sequence[NDArray[np.int16]]) -> None:
        """All blocks of the utterance in progress so far. What hear() says is the same."""
        ...


@runtime_checkable
class LooksAgain(Protocol):
    """A listener that can hear the same sound in another way, and so waver where it is unsure."""

    def look_again(self, samples: NDArray[np.int16]) -> Hearing:
        """As hear(), otherwise."""
        ...


@runtime_checkable
class Proves(Protocol):
    """A listener that can put what it heard to the proof, at the cost of another look."""

    def prove(self, hearing: Hearing) -> Hearing:
        """The same with its proof, of the utterance that was heard last, untrimmed."""
        ...


@dataclass(frozen=True, slots=True)
class Scores:
    """What a scoring listener thinks of each candidate text.

    per_token: candidate -> mean natural log probability per token, higher is likelier;
    tokens: candidate -> number of tokens; free: the text it would have written unguided,
    in our spelling, which is among the candidates unless empty; worst: candidate -> log
    probability of its least likely token, where known; regret: candidate -> nats by which the
    token it would rather have written at each place is likelier, in sum, where known; kind: of
    the scorer, which names its calibration.
    """

    per_token: Mapping[str, float]
    tokens: Mapping[str, int]
    free: str
    worst: Mapping[str, float] = field(default_factory=dict)
    regret: Mapping[str, float] = field(default_factory=dict)
    kind: str = "whisper"

    def lead(self, text: str, other: str) -> float:
        """How much likelier text is than other, in nats over the longer of the two.

        Per token first, so that short texts do not win by being short; then times the
        length, so that one wrong word in a long text counts as much as in a short one.
        """
        longer = max(self.tokens[text], self.tokens[other])
        return (self.per_token[text] - self.per_token[other]) * longer

    def ratio(self, text: str) -> float:
        """Score per token against the free text's; 0 where it wrote the same or nothing."""
        return self.per_token[text] - self.per_token[self.free] if self.free else 0.0


class Scorer(Protocol):
    """Scores texts against a sound; knows no grammar."""

    @property
    def name(self) -> str:
        """As shown to the user and written to the journal."""
        ...

    def score(self, samples: NDArray[np.int16], propose: Callable[[str], Sequence[str]]) -> Scores:
        """A whole utterance, 16 kHz int16; `propose` names candidates given the free text."""
        ...
