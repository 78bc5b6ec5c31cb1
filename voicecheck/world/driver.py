"""The one loop: somebody speaks, time passes, the session is fed, and prompts come back.

A *crew* says what comes next. A *way* is how it meets a session: a clock, a way in (words, touch,
sound, a virtual microphone) and a way back (effects, a journal, a loudspeaker). The loop itself
does nothing while time passes; whoever runs it lets time pass, and it goes as fast as that.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from typing import Final, Protocol

from voicecheck.world.acts import Act, Utterance, Wait

MOST_STEPS: Final = 6000
"""Steps of a crew after which a session is cut off; its patience ends long before."""
_SHORTEST: Final = 0.05
"""Seconds that a wait takes at least."""


class Crew(Protocol):
    """Who acts. is_over: has nothing more to say."""

    @property
    def is_over(self) -> bool: ...  # noqa: D102

    def next(self, now: float) -> Act:
        """What it does now."""

    def spoke(self, utterance: Utterance, start: float, end: float) -> None:
        """Its words were said, at these seconds."""

    def hears(self, prompt: str, values: Mapping[str, str], at: float) -> None:
        """A prompt was spoken."""

    def after_utterance(self) -> None:
        """Everything that came of the last utterance has been heard."""


class Recital:
    """A crew that says what a generator gives, one thing after another, whatever it hears."""

    def __init__(self, course: Iterator[Act]) -> None:
        self._course = course
        self.is_over = False

    def next(self, now: float) -> Act:
        """The next of them; by then all that came of the one before is known."""
        act = next(self._course, None)
        self.is_over = act is None
        return Wait(now) if act is None else act

    def spoke(self, utterance: Utterance, start: float, end: float) -> None:
        """Nothing to write down."""

    def hears(self, prompt: str, values: Mapping[str, str], at: float) -> None:
        """Nothing to heed."""

    def after_utterance(self) -> None:
        """Nothing to wonder about."""


class Way(ABC):
    """How a crew meets a session; each kind of session overrides what is different in it.

    now: seconds. heard: prompts (id, values) that came and that the crew has not been told.
    patience: seconds after an utterance in which something comes of it.
    """

    patience: float = 0.0

    def __init__(self) -> None:
        self.heard: list[tuple[str, Mapping[str, str]]] = []

    @property
    @abstractmethod
    def now(self) -> float:
        """The session's clock."""

    @property
    def over(self) -> bool:
        """Whether the session has ended."""
        return False

    @property
    def speaking(self) -> bool:
        """Whether the last utterance still goes on."""
        return False

    @property
    def answered(self) -> bool:
        """Whether something has come of the last utterance."""
        return bool(self.heard)

    def turn(self, said: Utterance, begin: float | None) -> float:
        """When an utterance may begin, as far as can be told now; asked again as time passes.

        begin: what it said last; None the first time.
        """
        return self.now + said.pause if begin is None else begin

    def absent(self, said: Utterance) -> bool:
        """Whether somebody is to say this who is no part of the crew."""
        return False

    @abstractmethod
    def utter(self, said: Utterance) -> float:
        """Begin to say it; returns when the last word will have been said."""

    @abstractmethod
    def let(self, until: float) -> None:
        """Let some time pass, at most to `until` if the way can tell."""


def acting(crew: Crew, way: Way, most: int = MOST_STEPS) -> Iterator[float]:
    """All that a crew does, at most so many acts.

    Gives, again and again, until when there is nothing to do.
    """
    _tell(crew, way)
    for _ in range(most):
        if way.over or crew.is_over:
            return
        act = crew.next(way.now)
        if isinstance(act, Utterance):
            yield from (_listen if way.absent(act) else _say)(crew, way, act)
        else:
            until = max(act.until, way.now + _SHORTEST)
            while way.now < until and not way.over and not way.heard:
                yield until
            _tell(crew, way)


def play(crew: Crew, way: Way) -> bool:
    """Act to the end, letting time pass; whether this ended it, and neither crew nor session."""
    for until in acting(crew, way):
        way.let(until)
    return not way.over and not crew.is_over


def _say(crew: Crew, way: Way, said: Utterance) -> Iterator[float]:
    begin = way.turn(said, None)
    while way.now < begin and not way.over:
        yield begin
        begin = way.turn(said, begin)
    if way.over:
        return
    _tell(crew, way)  # of what came before it spoke: no answer to what it says now
    start = way.now
    end = way.utter(said)
    crew.spoke(said, start, end)
    while way.speaking and not way.over:
        yield end
    until = way.now + way.patience
    while way.now < until and not way.over and not way.answered:
        yield until
    _tell(crew, way)
    crew.after_utterance()


def _listen(crew: Crew, way: Way, said: Utterance) -> Iterator[float]:
    """Somebody else's turn: until he has spoken, or has been silent for long."""
    until = way.turn(said, None)
    while way.now < until and not way.over and not way.answered and not crew.is_over:
        yield until
        _tell(crew, way)


def _tell(crew: Crew, way: Way) -> None:
    heard, way.heard = way.heard, []
    for prompt, values in heard:
        crew.hears(prompt, values, way.now)
