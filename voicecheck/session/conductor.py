"""One live session: sound in, events to the engine, effects to voice, journal and display.

Time is stream time. A Passed event is sent only up to the beginning of speech that is not
yet decided, so a slow decode cannot let a deadline overtake a callout, and a recording gives
the same events as the same sound live.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np

from voicecheck.audio.level import Level, Loudness
from voicecheck.audio.source import RATE, Block, Item, SoundDropped, SourceLost, SourceRestored
from voicecheck.audio.tones import Tone
from voicecheck.callouts import Callout
from voicecheck.checklist.said import network_of
from voicecheck.engine import Engine, effects, events
from voicecheck.engine.effects import Priority, Say
from voicecheck.engine.events import Part
from voicecheck.journal.format import Kind
from voicecheck.session.codec import effects_digest, event_to_json, kept_effects
from voicecheck.session.connections import Connections
from voicecheck.session.display import Display
from voicecheck.session.equipment import Equipment
from voicecheck.session.from_log import Told
from voicecheck.session.glance import glance
from voicecheck.session.keyboard import LIST, TALK, Numbers, listed
from voicecheck.session.lanes import Judged, Lanes
from voicecheck.session.meter import Meter
from voicecheck.session.prompter import Line, lines_of
from voicecheck.session.record import Writes
from voicecheck.session.touches import Pictures, Press
from voicecheck.session.wording import word
from voicecheck.speech.verdict import Accepted, Ignored, Unclear
from voicecheck.words import say

ADVICE_SECONDS: Final = 20.0
"""From one advice about the microphone's level to the next, at least."""
ANSWERS: Final = frozenset({"command:affirm", "command:negative"})
GREETING: Final = "begin"
"""The prompt that names checklist and airframe; what the logbook knows follows it."""


class Conductor:
    """Runs one session to its end.

    offset: stream time already used by a resumed session.
    """

    def __init__(
        self,
        engine: Engine,
        equipment: Equipment,
        record: Writes,
        display: Display,
        summarise: Callable[[dict[str, Any], int], dict[str, Any]],
        offset: float = 0.0,
    ) -> None:
        self._engine = engine
        self._lanes = Lanes(equipment.ears)
        self._channels = max(1, len(equipment.ears))
        self._shutter = equipment.shutter
        self._language = equipment.language
        self._prompter = equipment.prompter
        self._record = record
        self._display = display
        self._summarise = summarise
        self._samples = 0
        self._asked_at = 0.0
        self._offset = offset
        self._numbers = Numbers(network_of(engine.checklist, equipment.language.sayings))
        self._keys = equipment.keys
        self._manner = equipment.manner
        self._ahead = equipment.ahead
        self._recording = equipment.recording
        self._wake: float | None = None
        self._ignored = 0
        self._advise_from = offset
        self._connections = Connections(self._part_lost, self._part_back)
        self._told_once: set[str] = set()
        self._pictures = Pictures()
        self._meter = Meter(display.sound)
        self._greeting: list[Line] = []
        self.summary: dict[str, Any] | None = None

    @property
    def now(self) -> float:
        """Stream time in seconds: all sound taken in so far."""
        return self._offset + self._samples / RATE

    def begin(self, *, second: bool = False, from_log: Sequence[Told] = ()) -> None:
        """The first event of a new session. second: a second crew member takes part.

        from_log: what the logbook has to say, read out after the greeting.
        """
        self._tell_recording()
        worded = [word(Say(t.prompt, t.values), self._language, self._manner) for t in from_log]
        self._greeting = [line for text in worded for line in lines_of(text, Priority.KEPT)]
        self.handle(events.Began(self.now, second or self._channels == 2, self._channels))
        for text in worded:
            self._display.said(self.now, text.shown, Priority.KEPT)
        if worded:
            shown = " ".join(text.shown for text in worded)
            self._record.write(Kind.REMARK, {"text": say("remark-read-out", text=shown)}, self.now)

    def rejoin(self) -> None:
        """The first events of a resumed session: its memory of sound is gone."""
        self._refresh()
        self._tell_recording()
        self.handle(events.Lost(Part.SESSION, self.now))
        self.handle(events.Restored(Part.SESSION, self.now))

    def _tell_recording(self) -> None:
        """Nobody is recorded without being told aloud."""
        if self._recording is None:
            return
        text = word(effects.Say("recording"), self._language, self._manner)
        self._remark(say("remark-recorded", name=self._recording.path.name), self.now)
        self._display.said(self.now, text.shown, effects.Priority.KEPT)
        self._prompter.speak(lines_of(text, effects.Priority.KEPT))

    def take(self, item: Item) -> bool:
        """Take one item of sound; False once the session has ended."""
        match item:
            case Block():
                self._block(item)
                speaking = self._lanes.speaking_since is not None
                self._meter.take(item, self.now, speaking=speaking)
            case SourceLost(reason):
                self._connections.report(Part.MICROPHONE, reason)
            case SourceRestored():
                self._connections.report(Part.MICROPHONE, None)
            case SoundDropped(times):
                self._dropped(times)
        return self.summary is None

    def typed(self, entry: str, age: float = 0.0) -> None:
        """An entry of the keyboard: a number, words, the talk key, or the wish for a list.

        age: seconds since its first key; a yes or no to what has been asked since is not taken.
        """
        if entry == TALK:
            self._talk()
        elif entry == LIST:
            self._display.notice(say("notice-keys", keys=listed(self._numbers.choices)))
        elif (choice := self._numbers.find(entry)) is None:
            self._prompter.tone(Tone.NOT_UNDERSTOOD)
            which = say("comma").join(c.callout.phrases[0] for c in self._numbers.which(entry))
            key = "notice-which" if which else "notice-not-now"
            self._display.notice(say(key, entry=repr(entry), which=which))
        elif choice.callout.key in ANSWERS and self._asked_at > self.now - age:
            self._prompter.tone(Tone.NOT_UNDERSTOOD)
            self._display.notice(say("notice-question-changed", entry=repr(entry)))
            self._remark(say("remark-typed", entry=entry), self.now)
        else:
            self._prompter.lapse()
            self._prompter.tone(Tone.HEARD)
            self._display.pressed(self.now, choice.callout.phrases[0], "key", None)
            self.handle(events.KeyPressed(choice.callout.key, self.now))

    def _talk(self) -> None:
        key = self._shutter.talk_key
        if key is None:
            self._display.notice(say("notice-no-talk-key"))
            return
        key.toggle(self.now)
        if key.pressed:
            self._prompter.give_way()
        self._display.notice(say("notice-listening" if key.pressed else "notice-not-listening"))

    def press(self, press: Press) -> None:
        """A callout entered on a screen; one made on an older picture is refused and noted."""
        offer = self._engine.offers().get(press.callout)
        words = press.callout if offer is None else offer.callout.phrases[0]
        refused = None
        if offer is None:
            refused = say("refused-not-now")
        elif not self._pictures.fits(press):
            refused = say("refused-changed")
        self._display.pressed(press.at, words, press.by, refused)
        if refused is None:
            self.handle(events.KeyPressed(press.callout, round(press.at, 3), press.by))
        else:
            text = say("remark-entered", by=say(f"by-{press.by}"), words=words, why=refused)
            self._remark(text, round(press.at, 3))

    def end(self, reason: str) -> dict[str, Any]:
        """The sound is over: decide what is left, end the session, return its summary."""
        if self.summary is None:
            self._verdicts(self._lanes.finish())
        if self.summary is None:
            self.handle(events.Ended(self.now, reason))
        assert self.summary is not None  # Ended always finishes a session
        return self.summary

    def idle(self, seconds: float) -> bool:
        """Let time pass without sound (after the end); True when no prompt is left."""
        count = int(seconds * RATE)
        if self._recording is not None:
            self._recording.add(Block(np.zeros(count, np.int16)))
        self._samples += count
        self._prompter.poll()
        return self._prompter.idle

    def _block(self, block: Block) -> None:
        begin = self.now
        self._samples += len(block)
        if self._recording is not None:
            self._recording.add(block)
            self._connections.report(Part.RECORDING, self._recording.failed)
        self._verdicts(self._lanes.feed(block, self._shutter.over(begin, self.now)))
        if self._shutter.doubted:
            self._tell_once(say("notice-over-prompts"))
        if (why := self._lanes.failed) is not None:
            self._tell_once(say("notice-second-listener", why=why))
        key = self._shutter.talk_key
        speaks = self._lanes.speaking_since is not None or (key is not None and key.pressed)
        for start, end in self._prompter.poll(crew_speaks=speaks):
            self.handle(events.Prompted(round(start, 3), round(end, 3)))
        self._connections.report(Part.VOICE, self._prompter.failed)
        away = say("notice-disconnected") if self._prompter.loudspeaker_lost else None
        self._connections.report(Part.LOUDSPEAKER, away)
        refused = say("notice-disk") if self._record.refused else None
        self._connections.report(Part.RECORD, refused)
        self._pass_time()

    def _tell_once(self, text: str) -> None:
        if text not in self._told_once:
            self._told_once.add(text)
            self._display.notice(text)
            self._remark(text, self.now)

    def _remark(self, text: str, at: float) -> None:
        """A line of the record that the engine knows nothing of; nothing follows a summary."""
        if self.summary is None:
            self._record.write(Kind.REMARK, {"at": at, "text": text}, self.now)

    def _dropped(self, times: int) -> None:
        """Words may be among what was lost, so nothing that runs can be timed any more."""
        text = say("remark-dropped", n=times)
        self._display.notice(text)
        self._remark(text, self.now)
        self.handle(events.Lost(Part.MICROPHONE, self.now))
        self.handle(events.Restored(Part.MICROPHONE, self.now))

    def _caption(self, start: float, end: float, channel: int, words: str) -> None:
        if self._recording is not None:
            self._recording.heard(start + self._offset, end + self._offset, channel, words)

    def _advise(self, level: Level) -> None:
        """A microphone that is badly set is told of, in words, and not at every utterance."""
        ill = level.loudness in (Loudness.TOO_QUIET, Loudness.CLIPPING)
        if ill and self.now >= self._advise_from:
            self._advise_from = self.now + ADVICE_SECONDS
            self._display.notice(say("notice-microphone", level=level.in_words()))

    def _part_lost(self, part: Part, problem: str) -> None:
        self._display.notice(say("notice-part-lost", part=say(f"part-{part}"), why=problem))
        self.handle(events.Lost(part, self.now))

    def _part_back(self, part: Part) -> None:
        self.handle(events.Restored(part, self.now))

    def _pass_time(self) -> None:
        since = self._lanes.speaking_since
        decided = self.now if since is None else min(self.now, since + self._offset)
        if self._wake is not None and decided >= self._wake:
            self.handle(events.Passed(round(decided, 3)))

    def _verdicts(self, heard: Sequence[Judged]) -> None:
        for judged in heard:
            if self.summary is not None:  # what comes with the last callout has no place in it
                return
            verdict = self._shutter.judged(judged.verdict, self._offset, judged.channel)
            if verdict is None:
                continue
            if not isinstance(verdict, Ignored):
                self._advise(judged.level)
            start = verdict.start + self._offset
            end = verdict.end + self._offset
            match verdict:
                case Accepted(spoken):
                    if spoken:
                        self._prompter.lapse()
                        self._prompter.tone(Tone.HEARD)
                    for part in spoken:
                        self._caption(part.start, part.end, judged.channel, part.words)
                        self._display.heard(part.start + self._offset, part.words, part.confidence)
                        self.handle(
                            events.Heard(
                                part.callout,
                                part.words,
                                round(part.start + self._offset, 3),
                                round(part.end + self._offset, 3),
                                round(part.confidence, 4),
                                judged.channel,
                            )
                        )
                case Unclear():
                    self._prompter.tone(Tone.NOT_UNDERSTOOD)
                    self._display.not_understood(start, verdict.reason)
                    self._caption(
                        verdict.start, verdict.end, judged.channel, f"({say('caption-unclear')})"
                    )
                    guess = tuple(part.callout for part in verdict.guess)
                    self.handle(
                        events.Unclear(round(start, 3), round(end, 3), guess, judged.channel)
                    )
                case Ignored():
                    self._ignored += 1
                    facts = {"start": start, "end": end, "reason": verdict.reason, "text": ""}
                    self._record.write(Kind.SPEECH, facts, self.now)
                    if not judged.elsewhere:
                        self.handle(events.Overheard(round(start, 3), round(end, 3)))

    def handle(self, event: events.Event) -> None:
        """One event: decide, write it down, then act on it."""
        question = self._engine.state.question
        made = self._engine.handle(event)
        if self._engine.state.question != question:
            self._asked_at = self.now
        if not made:
            return
        worded = [word(e, self._language, self._manner) for e in made if isinstance(e, effects.Say)]
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
                    text = word(effect, self._language, self._manner)
                    lines += lines_of(text, effect.priority)
                    if effect.prompt == GREETING:
                        lines += self._greeting
                    self._display.said(self.now, text.shown, effect.priority)
                case effects.Listen(callouts):
                    self._listen(callouts)
                case effects.Note(kind, at, facts):
                    self._display.noted(at, kind, facts)
                case effects.Show():
                    self._display.state(self._pictures.mark(glance(self._engine)))
                case effects.Wake(at):
                    self._wake = at
                case effects.Finish(summary):
                    self.summary = self._summarise(dict(summary), self._ignored)
                    self._record.write(Kind.SUMMARY, {"summary": self.summary}, self.now)
        self._prompter.speak(lines)
        self._prompter.poll()
        if self.summary is None:
            self._ahead(self._engine)

    def _refresh(self) -> None:
        """Take over what a resumed engine has said before: its offers and its next deadline."""
        self._wake = self._engine.wake
        self._listen([offer.callout for offer in self._engine.offers().values()])

    def _listen(self, callouts: Sequence[Callout]) -> None:
        self._lanes.listen(callouts)
        self._display.offered(callouts)
        fresh = self._numbers.offer(callouts)
        if self._keys and fresh:
            self._display.notice(say("notice-keys", keys=listed(fresh)))
