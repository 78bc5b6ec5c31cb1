"""A session as lines in a terminal, readable over ssh and in a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from rich.console import Console
from rich.text import Text

from voicecheck.callouts import Callout
from voicecheck.engine.effects import Priority

_WARNING: Final = "bold"
_SHOWN_NOTES: Final = {
    "void": "void",
    "refused": "not counted",
    "withdrawn": "taken back",
    "left-early": "left early",
    "hold": "hold",
    "resume": "resume",
    "lost": "lost",
    "restored": "restored",
}


class ConsoleDisplay:
    """Writes a line for everything that is heard, said and recorded.

    verbose: also show what was not understood and every recorded result.
    """

    def __init__(self, console: Console, *, verbose: bool = False) -> None:
        self._console = console
        self._verbose = verbose

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""
        self._line(at, "crew", words, "")

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        """A callout was entered by hand."""
        self._line(at, by, words if refused is None else f"({words}: {refused})", "")

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""
        self._line(at, "crew", f"(not understood: {reason})", "dim")

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""
        warning = priority is Priority.WARNING
        self._line(at, "WARNING" if warning else "voice", text, _WARNING if warning else "")

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """A line for the record."""
        if kind == "finding":
            self._line(at, "FINDING", f"{facts['item']}: {facts['reason']}", _WARNING)
        elif kind == "result" and self._verbose:
            self._line(at, "record", f"{facts['item']}: {facts['outcome']}", "dim")
        elif kind in _SHOWN_NOTES and self._verbose:
            self._line(at, "record", f"{_SHOWN_NOTES[kind]} {_plain(facts)}", "dim")

    def state(self, view: Mapping[str, object]) -> None:
        """Lines show changes; the state as a whole is the kneeboard's business."""

    def offered(self, callouts: Sequence[Callout]) -> None:
        """What can be called is listed by the views that take keys."""

    def sound(self, at: float, level: float, speaking: bool) -> None:
        """A level moves too fast for lines."""

    def notice(self, text: str) -> None:
        """Something about voicecheck itself."""
        self._console.print(Text(f"         note     {text}", "dim"))

    def _line(self, at: float, who: str, text: str, style: str) -> None:
        minutes, seconds = divmod(at, 60)
        self._console.print(Text(f"{int(minutes):3d}:{seconds:04.1f} {who:8s} {text}", style))


def _plain(facts: Mapping[str, object]) -> str:
    return ", ".join(f"{key} {value}" for key, value in facts.items() if value not in (None, []))
