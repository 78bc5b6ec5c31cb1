"""What a display must be able to show; displays are mirrors and decide nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from voicecheck.engine.effects import Priority


class Display(Protocol):
    """A mirror of the session for an eye. Times are stream seconds."""

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """A line for the record."""

    def state(self, view: Mapping[str, object]) -> None:
        """The state after an event."""

    def notice(self, text: str) -> None:
        """Something about voicecheck itself: a part is missing or failed."""


class Quiet:
    """Shows nothing."""

    def heard(self, at: float, words: str, confidence: float) -> None:
        """Show nothing."""

    def not_understood(self, at: float, reason: str) -> None:
        """Show nothing."""

    def said(self, at: float, text: str, priority: Priority) -> None:
        """Show nothing."""

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """Show nothing."""

    def state(self, view: Mapping[str, object]) -> None:
        """Show nothing."""

    def notice(self, text: str) -> None:
        """Show nothing."""
