"""What somebody in a cockpit does next: words, or waiting."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Utterance:
    """Words about to be said.

    parts: (key, words) of each callout, none for other people's talk. pause: seconds from now
    to the first word. waits: for prompts to end first. looked: for each part the key of the
    reading that was true, or None. claims: what a yes or no is meant for.
    """

    who: int
    parts: tuple[tuple[str, str], ...]
    words: str
    pause: float
    waits: bool = True
    looked: tuple[str | None, ...] = ()
    claims: tuple[str, ...] = ()
    slow: bool = False
    moves: str | None = None
    """The position to which the selector goes as this is said."""
    sounds: str | None = None
    """A callout for which words to somebody else may be taken."""
    over: Utterance | None = None
    """What the other of two says at the same time."""

    @property
    def keys(self) -> tuple[str, ...]:
        """The callouts it is meant as."""
        return tuple(key for key, _ in self.parts)


@dataclass(frozen=True, slots=True)
class Wait:
    """Say nothing until then, or until a prompt comes."""

    until: float


Act = Utterance | Wait
