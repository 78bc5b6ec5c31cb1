"""One live session: sound in, events to the engine, effects to voice, journal and display.

Time is stream time. A Passed event is sent only up to the beginning of speech that is not
yet decided, so a slow decode cannot let a deadline overtake a callout, and a recording gives
the same events as the same sound live.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from voicecheck.audio.source import RATE, Block, Item, SourceLost, SourceRestored
from voicecheck.callouts import Callout
from voicecheck.engine import Engine, effects, events
from voicecheck.engine.effects import Priority, Say
from voicecheck.journal.format import Kind
from voicecheck.language import Language
from voicecheck.session.codec import effects_digest, event_to_json, kept_effects
from voicecheck.session.display import Display
from voicecheck.session.from_log import Told
from voicecheck.session.prompter import Line, Prompter
from voicecheck.session.record import Writes
from voicecheck.session.wording import word
from voicecheck.speech.verdict import Accepted, Ignored, Unclear, Verdict

ECHO_TAIL: Final = 0.3
"""Seconds for which a room still carries the end of a prompt (common practice, no source)."""


GREETING: Final = "begin"
"""The prompt that names checklist and airframe; what the logbook knows follows it."""


class Hears(Protocol):
    """The speech room as a session sees it (speech.ear.Ear)."""

    @property
    def speaking_since(self) -> float | None:
        """Stream time at which undecided speech began, or None."""

    def listen(self, callouts: Sequence[Callout]) -> None:
        """Only these can be heard from now on."""

    def feed(self, samples: NDArray[np.int16]) -> list[Verdict]:
        """Take sound; return what was decided."""

    def finish(self) -> list[Verdict]:
        """The sound is over; decide what is left."""


class Conductor:
    """Runs one session to its end.

    offset: stream time already used by a resumed session. deaf_while_speaking: our own
    prompts come back through the microphone, so nothing is heard while one sounds.
    """

    def __init__(
        self,
        engine: Engine,
        ear: Hears | None,
        language: Language,
        prompter: Prompter,
        record: Writes,
        display: Display,
        summarise: Callable[[dict[str, Any], int], dict[str, Any]],
        offset: float = 0.0,
        *,
        deaf_while_speaking: bool = False,
    ) -> None:
        self._engine = engine
        self._ear = ear
        self._language = language
        self._prompter = prompter
        self._record = record
        self._display = display
        self._summarise = summarise
        self._samples = 0
        self._offset = offset
        self._wake: float | None = None
        self._ignored = 0
        self._deaf_while_speaking = deaf_while_speaking
        self._deaf_until = 0.0
        self._told_lost: set[str] = set()
        self._greeting: list[Line] = []
        self.summary: dict[str, Any] | None = None

    @property
    def now(self) -> float:
        """Stream time in seconds: all sound taken in so far."""
        return self._offset + self._samples / RATE

    def begin(self, *, second: bool = False, from_log: Sequence[Told] = ()) -> None:
        """The first event of a new session. second: two crew, on one microphone channel.

        from_log: what the logbook has to say, read out after the greeting.
        """
        worded = [word(Say(told.prompt, told.values), self._language) for told in from_log]
        self._greeting = [Line(text.spoken, Priority.KEPT) for text in worded]
        self.handle(events.Began(self.now, second))
        for text in worded:
            self._display.said(self.now, text.shown, Priority.KEPT)
        if worded:
            shown = " ".join(text.shown for text in worded)
            self._record.write(Kind.REMARK, {"text": f"read out: {shown}"}, self.now)

    def rejoin(self) -> None:
        """The first events of a resumed session: its memory of sound is gone."""
        self._refresh()
        self.handle(events.Lost("session", self.now))
        self.handle(events.Restored("session", self.now))

    def take(self, item: Item) -> bool:
        """Take one item of sound; False once the session has ended."""
        match item:
            case Block():
                self._block(item)
            case SourceLost(reason):
                self._display.notice(f"microphone lost: {reason}")
                self.handle(events.Lost("microphone", self.now))
            case SourceRestored():
                self.handle(events.Restored("microphone", self.now))
        return self.summary is None

    def key(self, callout: str) -> None:
        """A callout entered by key at the present time."""
        self.handle(events.KeyPressed(callout, self.now))

    def end(self, reason: str) -> dict[str, Any]:
        """The sound is over: decide what is left, end the session, return its summary."""
        if self._ear is not None and self.summary is None:
            self._verdicts(self._ear.finish())
        if self.summary is None:
            self.handle(events.Ended(self.now, reason))
        assert self.summary is not None  # Ended always finishes a session
        return self.summary

    def idle(self, seconds: float) -> bool:
        """Let time pass without sound (after the end); True when no prompt is left."""
        self._samples += int(seconds * RATE)
        self._prompter.poll()
        return self._prompter.idle

    def _block(self, block: Block) -> None:
        self._samples += len(block)
        if self._ear is not None:
            self._verdicts(self._ear.feed(self._audible_to_us(block)))
        speaks = self._ear is not None and self._ear.speaking_since is not None
        for start, end in self._prompter.poll(crew_speaks=speaks):
            self.handle(events.Prompted(round(start, 3), round(end, 3)))
        self._tell_part("voice", self._prompter.failed)
        self._tell_part("record", "the disk refuses" if self._record.refused else None)
        self._pass_time()

    def _audible_to_us(self, block: Block) -> NDArray[np.int16]:
        sound = block.mixed
        if not self._deaf_while_speaking:
            return sound
        if self._prompter.audible:
            self._deaf_until = self.now + ECHO_TAIL
        return np.zeros_like(sound) if self.now < self._deaf_until else sound

    def _tell_part(self, part: str, problem: str | None) -> None:
        """Tell engine, ear and eye once when a part fails, and once when it is back."""
        if problem is not None and part not in self._told_lost:
            self._told_lost.add(part)
            self._display.notice(f"{part} lost: {problem}")
            self.handle(events.Lost(part, self.now))
        elif problem is None and part in self._told_lost:
            self._told_lost.remove(part)
            self.handle(events.Restored(part, self.now))

    def _pass_time(self) -> None:
        since = None if self._ear is None else self._ear.speaking_since
        decided = self.now if since is None else min(self.now, since + self._offset)
        if self._wake is not None and decided >= self._wake:
            self.handle(events.Passed(round(decided, 3)))

    def _verdicts(self, verdicts: Sequence[Verdict]) -> None:
        for verdict in verdicts:
            start = verdict.start + self._offset
            end = verdict.end + self._offset
            match verdict:
                case Accepted(spoken):
                    for part in spoken:
                        self._display.heard(part.start + self._offset, part.words, part.confidence)
                        self.handle(
                            events.Heard(
                                part.callout,
                                part.words,
                                round(part.start + self._offset, 3),
                                round(part.end + self._offset, 3),
                                round(part.confidence, 4),
                            )
                        )
                case Unclear():
                    self._display.not_understood(start, verdict.reason)
                    guess = tuple(part.callout for part in verdict.guess)
                    self.handle(events.Unclear(round(start, 3), round(end, 3), guess))
                case Ignored():
                    self._ignored += 1
                    facts = {"start": start, "end": end, "reason": verdict.reason, "text": ""}
                    self._record.write(Kind.SPEECH, facts, self.now)

    def handle(self, event: events.Event) -> None:
        """One event: decide, write it down, then act on it."""
        made = self._engine.handle(event)
        if not made:
            return
        worded = [word(e, self._language) for e in made if isinstance(e, effects.Say)]
        self._record.write(
            Kind.EVENT,
            {
                "event": event_to_json(event),
                "effects": kept_effects(made),
                "said": [text.shown for text in worded],
                "digest": effects_digest(made),
            },
            self.now,
        )
        self._perform(made)

    def _perform(self, made: Sequence[effects.Effect]) -> None:
        lines: list[Line] = []
        for effect in made:
            match effect:
                case effects.Say():
                    text = word(effect, self._language)
                    lines.append(Line(text.spoken, effect.priority))
                    if effect.prompt == GREETING:
                        lines += self._greeting
                    self._display.said(self.now, text.shown, effect.priority)
                case effects.Listen(callouts):
                    if self._ear is not None:
                        self._ear.listen(callouts)
                case effects.Note(kind, at, facts):
                    self._display.noted(at, kind, facts)
                case effects.Show(view):
                    self._display.state(view)
                case effects.Wake(at):
                    self._wake = at
                case effects.Finish(summary):
                    self.summary = self._summarise(dict(summary), self._ignored)
                    self._record.write(Kind.SUMMARY, {"summary": self.summary}, self.now)
        self._prompter.speak(lines)
        self._prompter.poll()

    def _refresh(self) -> None:
        """Take over what a resumed engine has said before: its offers and its next deadline."""
        self._wake = self._engine.wake
        if self._ear is not None:
            self._ear.listen([offer.callout for offer in self._engine.offers().values()])
