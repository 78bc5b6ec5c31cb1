"""What is said in training: callouts, what nearly is one, and what people say besides."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from typing import Final, Literal

from voicecheck.measure.outside_speech import CHATTER
from voicecheck.training import words
from voicecheck.training.near_misses import near_miss

Kind = Literal["shipped", "invented", "near", "wide", "trade", "prose", "chatter", "cut"]
SHARES: Final[dict[Kind, float]] = {
    "shipped": 0.08,
    "invented": 0.14,
    "near": 0.30,
    "wide": 0.20,
    "trade": 0.10,
    "prose": 0.09,
    "chatter": 0.05,
    "cut": 0.04,
}
_LENGTHS: Final = (1, 2, 2, 3, 3, 3, 4, 4, 5)
_SIDES: Final = ("left", "right", "upper", "lower", "forward", "aft", "number one", "number two")
_COUNTS: Final = ("one", "two", "three", "four", "both", "no", "all", "five", "six")
_ENDINGS: Final = ("light", "lights", "horn", "bell", "tone", "caption", "needle", "lamp", "")
_OPENINGS: Final = (
    *("did you", "have you", "it is", "we are", "i have", "ask the", "can you", "where is"),
    *(
        "tell them",
        "they are",
        "that was",
        "let me",
        "give me",
        "how about",
        "is the",
        "what about",
    ),
)
LONGEST: Final = 48
"""Phones of the longest text."""


class Texts:
    """Draws texts from a seed. clauses: see words.prose."""

    def __init__(self, seed: int, clauses: Sequence[Sequence[str]]) -> None:
        self._choose = random.Random(seed)
        self._clauses = clauses
        self._never = frozenset(CHATTER) | words.HELD
        self._makers: dict[Kind, Callable[[], str | None]] = {
            "shipped": self._shipped,
            "invented": self._invented,
            "near": self._near,
            "wide": self._wide,
            "trade": self._trade,
            "prose": self._prose,
            "chatter": self._chatter,
            "cut": self._cut,
        }

    def draw(self) -> tuple[str, Kind]:
        """One text and its kind; never a test's chatter or a held word."""
        while True:
            kind = self._choose.choices(list(SHARES), list(SHARES.values()))[0]
            text = self._makers[kind]()
            if text and text not in self._never and not words.HELD.intersection(text.split()):
                return text, kind

    def _one(self, options: Sequence[str]) -> str:
        return self._choose.choice(options)

    def _shipped(self) -> str:
        phrases, joining = words.callouts()
        if self._choose.random() < 0.25:
            return self._one(joining) + self._one((" and ", " ")) + self._one(joining)
        return self._one(phrases)

    def _invented(self) -> str:
        pattern = self._one(words.templates())
        return re.sub(r"\{\w+\}", lambda _: self._name(), pattern)

    def _name(self) -> str:
        noun = self._one(words.TRADE) if self._choose.random() < 0.4 else self._one(words.common())
        parts = [noun]
        if self._choose.random() < 0.4:
            parts.append(self._one(words.TRADE))
        if self._choose.random() < 0.35:
            parts.insert(0, self._one(_SIDES if self._choose.random() < 0.5 else _COUNTS))
        parts.append(self._one(_ENDINGS))
        return " ".join(part for part in parts if part)

    def _near(self) -> str | None:
        kind = self._choose.random()
        if kind < 0.4:
            whole = self._one(words.callouts()[0])
        elif kind < 0.75:
            whole = self._invented()
        else:  # short ones among many alike are the hardest
            whole = f"{self._one(words.TRADE)} {self._one(words.TRADE)}"
        return near_miss(whole, self._choose)

    def _wide(self) -> str:
        many = self._choose.choice(_LENGTHS)
        share = 0.7
        return " ".join(
            self._one(words.common() if self._choose.random() < share else words.dictionary())
            for _ in range(many)
        )

    def _trade(self) -> str:
        return " ".join(self._one(words.TRADE) for _ in range(self._choose.choice(_LENGTHS)))

    def _prose(self) -> str:
        clause = self._choose.choice(self._clauses)
        many = self._choose.randint(3, 9)
        start = self._choose.randrange(max(1, len(clause) - many + 1))
        return " ".join(clause[start : start + many])

    def _chatter(self) -> str:
        return f"{self._one(_OPENINGS)} {self._prose()}"

    def _cut(self) -> str | None:
        parts = self._shipped().split()
        if len(parts) < 2:
            return None
        keep = self._choose.randrange(1, len(parts))
        return " ".join(parts[:keep] if self._choose.random() < 0.7 else parts[-keep:])
