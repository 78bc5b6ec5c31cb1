"""What may have been said: a readable text and its callouts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from voicecheck.speech.grammar import Grammar, Part


@dataclass(frozen=True, slots=True)
class Candidate:
    """text: readable words; parts: the callouts in it."""

    text: str
    parts: tuple[Part, ...]

    @property
    def keys(self) -> tuple[str, ...]:
        """The callouts, in order."""
        return tuple(part.callout.key for part in self.parts)


def keys_of(words: Iterable[str], grammar: Grammar) -> tuple[str, ...] | None:
    """The callouts that words say, or None when they are none of ours."""
    read = grammar.read(tuple(words))
    return None if read is None else tuple(part.callout.key for part in read)


def within(value: float, low: float, high: float) -> float:
    """The value, or the limit that it exceeds."""
    return max(low, min(high, value))
