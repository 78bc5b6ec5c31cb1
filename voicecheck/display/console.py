"""A session as lines in a terminal, readable over ssh and in a file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from rich.console import Console
from rich.text import Text

from voicecheck.callouts import Callout
from voicecheck.engine.effects import Priority
from voicecheck.words import Words, say, spoken

_WARNING: Final = "bold"
_SHOWN_NOTES: Final = frozenset(
    ("void", "refused", "withdrawn", "left-early", "hold", "resume", "lost", "restored")
)


class ConsoleDisplay:
    """Writes a line for everything that is heard, said and recorded.

    verbose: also show what was not understood and every recorded result.
    """

    def __init__(self, console: Console, *, verbose: bool = False) -> None:
        self._console = console
        self._verbose = verbose

    def speaks(self, words: Words) -> None:
        """The lines follow the language of the moment."""

    def heard(self, at: float, words: str, confidence: float) -> None:
        """The crew was understood."""
        self._line(at, say("console-crew"), words, "")

    def pressed(self, at: float, words: str, by: str, refused: str | None) -> None:
        """A callout was entered by hand."""
        told = words if refused is None else say("console-refused", words=words, why=refused)
        self._line(at, say(f"console-{by}"), told, "")

    def not_understood(self, at: float, reason: str) -> None:
        """Somebody spoke to us and was not understood."""
        self._line(at, say("console-crew"), say("console-unclear", why=reason), "dim")

    def said(self, at: float, text: str, priority: Priority) -> None:
        """A prompt was given out."""
        warning = priority is Priority.WARNING
        who = say("console-warning" if warning else "console-voice")
        self._line(at, who, text, _WARNING if warning else "")

    def noted(self, at: float, kind: str, facts: Mapping[str, object]) -> None:
        """A line for the record."""
        if kind == "finding":
            told = say("console-item", item=facts["item"], what=facts["reason"])
            self._line(at, say("console-finding"), told, _WARNING)
        elif kind == "result" and self._verbose:
            outcome = say(f"outcome-{str(facts['outcome']).replace(' ', '-')}")
            told = say("console-item", item=facts["item"], what=outcome)
            self._line(at, say("console-record"), told, "dim")
        elif kind in _SHOWN_NOTES and self._verbose:
            told = f"{say(f'shown-{kind}')} {_plain(facts)}"
            self._line(at, say("console-record"), told, "dim")

    def state(self, view: Mapping[str, object]) -> None:
        """Lines show changes; the state as a whole is the kneeboard's business."""

    def offered(self, callouts: Sequence[Callout]) -> None:
        """What can be called is listed by the views that take keys."""

    def sound(self, at: float, level: float, speaking: bool) -> None:
        """A level moves too fast for lines."""

    def notice(self, text: str) -> None:
        """Something about voicecheck itself."""
        self._console.print(Text(f"         {say('console-note'):8s} {text}", "dim"))

    def _line(self, at: float, who: str, text: str, style: str) -> None:
        minutes, seconds = divmod(at, 60)
        self._console.print(Text(f"{int(minutes):3d}:{seconds:04.1f} {who:8s} {text}", style))


def _plain(facts: Mapping[str, object]) -> str:
    told = (
        (_name(key), _value(key, value)) for key, value in facts.items() if value not in (None, [])
    )
    return say("comma").join(say("row-fact", name=name, value=value) for name, value in told)


def _name(key: str) -> str:
    known = f"fact-{key}"
    return say(known) if spoken().has(known) else key


def _value(key: str, value: object) -> object:
    known = f"part-{value}"
    return say(known) if key == "part" and spoken().has(known) else value
