"""What a display must be able to show; displays are mirrors and decide nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from voicecheck.callouts import Callout
from voicecheck.engine.effects import Priority
from voicecheck.words import Words


class Display(Protocol):
    """A mirror of the session for an eye. Times are stream seconds."""

    def speaks(self, words: Words) -> None:
        """The language of the session, before anything else of it."""

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        """A callout was entered by hand ("key" or "touch"). refused: why it did nothing."""

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """A line for the record."""

    def state(self, view: Mapping[str, object]) -> None:
        """The state after an event, as session.glance tells it."""

    def offered(self, callouts: Sequence[Callout]) -> None:
        """What can be called from now on."""

    def sound(self, at: float, level: float, speaking: bool) -> None:
        """The input, some ten times a second. level: peak in dBFS; speaking: undecided speech."""

    def notice(self, text: str) -> None:
        """Something about voicecheck itself: a part is missing or failed."""


class Several:
    """Several displays as one."""

    _displays: tuple[Display, ...] = ()

    def __init__(self, *displays: Display) -> None:
        self._displays = displays

    def speaks(self, words: Words) -> None:
        """The language of the session."""
        for display in self._displays:
            display.speaks(words)

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""
        for display in self._displays:
            display.heard(at, words, confidence)

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        """A callout was entered by hand."""
        for display in self._displays:
            display.pressed(at, words, by, refused)

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""
        for display in self._displays:
            display.not_understood(at, reason)

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""
        for display in self._displays:
            display.said(at, text, priority)

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """A line for the record."""
        for display in self._displays:
            display.noted(at, kind, facts)

    def state(self, view: Mapping[str, object]) -> None:
        """The state after an event."""
        for display in self._displays:
            display.state(view)

    def offered(self, callouts: Sequence[Callout]) -> None:
        """What can be called from now on."""
        for display in self._displays:
            display.offered(callouts)

    def sound(self, at: float, level: float, speaking: bool) -> None:
        """The input level."""
        for display in self._displays:
            display.sound(at, level, speaking)

    def notice(self, text: str) -> None:
        """Something about voicecheck itself."""
        for display in self._displays:
            display.notice(text)


class Quiet(Several):
    """Shows nothing: none at all as one. What differs from that is overridden."""
