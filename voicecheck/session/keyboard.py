"""Callouts by key: every callout has a number that it keeps for the whole session.

A number is never given to another callout, so a number that is typed a moment too late does
nothing, it cannot mean what has since taken its place in a list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from voicecheck.callouts import Callout
from voicecheck.meaning.network import Meant, Network

TALK: Final = " "
"""What a keyboard gives for the talk key."""
LIST: Final = "?"
"""What asks for all numbers that can be typed now."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What was typed: a number, words, TALK or LIST. age: seconds since its first key."""

    text: str
    age: float = 0.0


class Keys(Protocol):
    """Where typed entries come from; both methods return at once."""

    def pending(self) -> list[Entry]:
        """Entries completed since the last call."""

    def close(self) -> None:
        """Leave the terminal as it was."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A callout that can be typed."""

    number: int
    callout: Callout

    def __str__(self) -> str:
        return f"{self.number} {self.callout.phrases[0]}"


class Numbers:
    """The numbers of one session."""

    def __init__(self, network: Network | None = None) -> None:
        """network: for other words than those that are taught."""
        self._network = network or Network({}, {})
        self._numbers: dict[str, int] = {}
        self._offered: dict[str, Choice] = {}

    def offer(self, callouts: Sequence[Callout]) -> list[Choice]:
        """Take the callouts of the moment; returns those that could not be typed before."""
        before = self._offered
        self._offered = {
            callout.key: Choice(self._number(callout.key), callout) for callout in callouts
        }
        return [choice for key, choice in self._offered.items() if key not in before]

    @property
    def choices(self) -> list[Choice]:
        """All that can be typed now."""
        return list(self._offered.values())

    def find(self, entry: str) -> Choice | None:
        """The callout of a number or of words for it; None if it is not on offer."""
        wanted = " ".join(entry.casefold().split())
        for choice in self._offered.values():
            if wanted == str(choice.number) or wanted in choice.callout.phrases:
                return choice
        return self._offered.get(self._meant(entry).key or "")

    def which(self, entry: str) -> list[Choice]:
        """The callouts among which the words leave a doubt: a name alone, or two meanings.

        Of words that mean nothing as they stand, the nearest.
        """
        meant = self._meant(entry)
        if not meant.keys:
            meant = self._network.nearest(self._network.words(entry), self._offered)
        return [self._offered[key] for key in self._offered if key in meant.keys]

    def _meant(self, entry: str) -> Meant:
        return self._network.meant(self._network.words(entry), self._offered)

    def _number(self, key: str) -> int:
        return self._numbers.setdefault(key, len(self._numbers) + 1)


def listed(choices: Sequence[Choice]) -> str:
    """One line for the screen."""
    return "   ".join(map(str, choices))
