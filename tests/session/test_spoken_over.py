"""Words over a prompt, with an open speaker: never acted on, and never as if nothing was said."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from cockpit import Cockpit
from numpy.typing import NDArray

from voicecheck.audio.source import BLOCK, RATE
from voicecheck.session.shutter import Shutter, TalkKey
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict
from voicecheck.words import english

CHATTER = "nothing that can be said now"


class Player:
    """Audible at these stream times."""

    def __init__(self, *spans: tuple[float, float]) -> None:
        self.spans = spans

    def sounded(self, begin: float, end: float) -> bool:
        return any(first < end and begin < last for first, last in self.spans)

    def sound(self, begin: float, count: int) -> NDArray[np.int16]:
        at = begin + np.arange(count) / RATE
        return sum(
            (((first <= at) & (at < last)) * np.int16(1000) for first, last in self.spans),
            np.zeros(count, np.int16),
        )


class Cancels:
    """A perfect canceller in a room without delay."""

    def without(self, own: NDArray[np.int16], heard: NDArray[np.int16]) -> NDArray[np.int16]:
        return heard - own


def shutter(
    *spans: tuple[float, float], key: TalkKey | None = None, until: float = 40.0
) -> Shutter:
    made = Shutter(Player(*spans), 0.3, key, [Cancels()])
    run(made, 0.0, until)
    return made


def run(made: Shutter, begin: float, until: float) -> NDArray[np.int16]:
    """Our own sound comes back; returns what may be heard of it."""
    player = made._player
    assert player is not None
    heard = []
    for number in range(round(begin * RATE / BLOCK), round(until * RATE / BLOCK)):
        at = number * BLOCK / RATE
        heard.append(made.over(at, at + BLOCK / RATE)(player.sound(at, BLOCK), 0))
    return np.concatenate(heard)


def accepted(start: float, end: float) -> Accepted:
    return Accepted((Spoken("gear.greens:3", "three green", start, end, 0.9),), start, end, end)


def ignored(start: float, end: float, reason: str = CHATTER) -> Ignored:
    return Ignored(start, end, end, reason)


LONG_PROMPT = (2.0, 8.0)
"""Long enough to learn a room by."""
PROMPT = (20.0, 23.0)


@pytest.mark.parametrize(
    "verdict",
    [accepted(21.0, 21.8), ignored(21.0, 21.8), Unclear(21.0, 21.8, 21.8, (), "too faint")],
)
@pytest.mark.parametrize("offset", [0.0, 10.0])
def test_whatever_is_spoken_over_a_prompt_is_asked_for_again(
    verdict: Verdict, offset: float
) -> None:
    made = shutter(LONG_PROMPT, (PROMPT[0] + offset, PROMPT[1] + offset))
    found = made.judged(verdict, offset)
    assert isinstance(found, Unclear)
    assert found.reason == "spoken over a prompt"
    assert found.guess == (), "what is left of it is too distorted to be asked about"
    assert (found.start, found.end) == (verdict.start, verdict.end)


@pytest.mark.parametrize(
    "verdict",
    [
        ignored(
            21.0, 22.0, english()("speech-other-microphone")
        ),  # asked for on the speaker's own channel
        ignored(25.0, 26.0),  # chatter after it
        accepted(25.0, 26.0),
        ignored(19.0, 19.95),  # chatter before it
    ],
)
def test_what_is_none_of_it_stays_as_it_is(verdict: Verdict) -> None:
    assert shutter(LONG_PROMPT, PROMPT).judged(verdict) is verdict


@pytest.mark.parametrize("verdict", [ignored(21.0, 21.2), accepted(21.0, 21.2)])
def test_what_is_shorter_than_a_word_is_only_noted(verdict: Verdict) -> None:
    """A click, a breath, or the little that the canceller left of a word."""
    assert isinstance(shutter(LONG_PROMPT, PROMPT).judged(verdict), Ignored)


def test_chatter_into_a_prompt_is_asked_for_again() -> None:
    """The end of it may have been a call."""
    assert isinstance(shutter(LONG_PROMPT, PROMPT).judged(ignored(19.0, 21.0)), Unclear)


def test_the_ears_get_the_sound_without_our_own() -> None:
    made = Shutter(Player(PROMPT), 0.3, None, [Cancels()])
    assert not run(made, 0.0, 30.0).any()
    crew = np.full(BLOCK, 500, np.int16)
    through = made.over(PROMPT[1] - 0.02, PROMPT[1])
    assert (through(crew + np.int16(1000), 0) == 500).all()


def test_a_talk_key_that_is_not_pressed_keeps_everything_away() -> None:
    key = TalkKey()
    made = Shutter(Player(PROMPT), 0.3, key, [Cancels()])
    crew = np.full(BLOCK, 500, np.int16)
    assert not made.over(21.0, 21.02)(crew, 0).any()
    assert isinstance(made.judged(ignored(20.9, 21.5)), Ignored)
    key.toggle(22.0)
    assert made.over(22.0, 22.02)(crew, 0).any()


def test_until_the_room_is_known_it_may_be_our_own_voice() -> None:
    made = shutter((2.0, 4.0), until=5.0)
    found = made.judged(accepted(2.2, 3.2))
    assert isinstance(found, Ignored), "noted as words that may have been a call"
    # What goes on after the prompt is not ours.
    assert isinstance(made.judged(accepted(3.5, 5.0)), Unclear)


def test_a_room_in_which_every_prompt_sounds_like_speech_is_doubted_and_recovers() -> None:
    spans = [(float(at), at + 3.0) for at in range(14, 70, 6)]
    made = Shutter(Player(LONG_PROMPT, *spans), 0.3, None, [Cancels()])
    run(made, 0.0, 11.0)
    kinds: list[type[Verdict]] = []
    for number, (begin, end) in enumerate(spans):
        run(made, begin - 3.0, end + 3.0)
        if number != 6:
            kinds.append(type(made.judged(accepted(begin + 0.5, begin + 1.5))))
    assert kinds == [Unclear] * 3 + [Ignored] * 3 + [Unclear] * 3
    assert not made.doubted


def test_half_said_words_are_asked_for_again_even_in_a_doubted_room() -> None:
    spans = [(float(at), at + 3.0) for at in range(14, 44, 6)]
    made = Shutter(Player(LONG_PROMPT, *spans), 0.3, None, [Cancels()])
    run(made, 0.0, 11.0)
    for begin, end in spans:
        run(made, begin - 3.0, end + 3.0)
        made.judged(accepted(begin + 0.5, begin + 1.5))
    assert made.doubted
    begin, end = spans[-1]
    assert isinstance(made.judged(accepted(end - 0.5, end + 0.8)), Unclear)
    assert isinstance(made.judged(accepted(begin - 0.5, begin + 0.8)), Unclear)


def test_a_prompt_that_was_not_cancelled_is_not_taken_for_the_crew() -> None:
    class Fails:
        def without(self, own: NDArray[np.int16], heard: NDArray[np.int16]) -> NDArray[np.int16]:
            return heard

    noise = np.random.default_rng(4).normal(0, 3000, 40 * RATE).astype(np.int16)

    crew = np.random.default_rng(5).normal(0, 3000, BLOCK).astype(np.int16)
    made = Shutter(Player(LONG_PROMPT, PROMPT), 0.3, None, [Fails()])
    late = round(0.1 * RATE)
    for number in range(24 * RATE // BLOCK):
        at = number * BLOCK / RATE
        sounds = any(first < at + 0.02 and at < last for first, last in (LONG_PROMPT, PROMPT))
        own = noise[number * BLOCK :][:BLOCK] if sounds else np.zeros(BLOCK, np.int16)
        made._player.sound = lambda *_, own=own: own  # type: ignore[method-assign, union-attr]
        back = noise[max(0, number * BLOCK - late) :][:BLOCK] // 4
        made.over(at, at + BLOCK / RATE)(back if at < 21.9 else crew, 0)
    assert isinstance(made.judged(accepted(20.5, 21.5)), Ignored)
    assert made.judged(ignored(20.5, 20.7)) is None
    assert isinstance(made.judged(ignored(22.0, 22.2)), Ignored)
    assert isinstance(made.judged(accepted(22.0, 22.8)), Unclear), "the crew resembles no prompt"


class TestSession:
    """ZZ-HJC with an open speaker; the crew waits for the prompts, except where it does not."""

    @pytest.fixture
    def cockpit(self, tmp_path: Path) -> Iterator[Cockpit]:
        cockpit = Cockpit(tmp_path, open_speaker=True)
        cockpit.quiet()
        self.call(cockpit, "battery on", "affirm", "avionics on", "affirm")
        yield cockpit
        if cockpit.conductor.summary is None:
            cockpit.close()

    def call(self, cockpit: Cockpit, *calls: str) -> None:
        for words in calls:
            cockpit.say(words)
            cockpit.quiet()

    def over_a_prompt(self, cockpit: Cockpit, words: str, after: str) -> float:
        """Call `after`, and `words` as the answer sounds; when those began."""
        cockpit.say(after)
        while not cockpit.prompter.audible:
            cockpit.wait(0.02)
        start = cockpit.conductor.now
        cockpit.say(words, length=0.5)
        return start

    def events(self, cockpit: Cockpit) -> list[dict[str, Any]]:
        return [line["event"] for line in cockpit.lines() if "event" in line]

    def outcome(self, cockpit: Cockpit, item: str) -> str:
        found = next(i for i in cockpit.close()["items"] if i["id"] == item)
        return str(found["outcome"])

    def test_a_correction_over_a_prompt_is_asked_for_again(self, cockpit: Cockpit) -> None:
        self.call(cockpit, "going to gear")
        start = self.over_a_prompt(cockpit, "correction", after="three green")
        cockpit.quiet()
        event = next(e for e in self.events(cockpit) if e["type"] == "unclear")
        assert event["start"] == pytest.approx(start, abs=0.01)
        assert cockpit.display.said_texts[-1] == "Say again."
        self.call(cockpit, "correction")
        assert self.outcome(cockpit, "gear.greens") == "not tested"

    def test_a_lamp_called_out_too_early_over_a_prompt_is_not_good_when_called_again(
        self, cockpit: Cockpit
    ) -> None:
        self.call(cockpit, "going to anti skid", "anti skid illuminated")
        left = cockpit.conductor.now + 0.8
        called = self.over_a_prompt(cockpit, "anti skid out", after="selector off")
        assert called - left < 2.5, "the lamp's limits are 3 to 5 s"
        cockpit.wait(left + 4.3 - cockpit.conductor.now)
        cockpit.say("anti skid out")
        cockpit.quiet()
        assert self.outcome(cockpit, "anti-skid.out") == "not tested"

    def test_the_same_lamp_called_once_between_prompts_is_good(self, cockpit: Cockpit) -> None:
        self.call(cockpit, "going to anti skid", "anti skid illuminated")
        left = cockpit.conductor.now + 0.8
        cockpit.say("selector off")
        cockpit.wait(left + 4.3 - cockpit.conductor.now)
        cockpit.say("anti skid out")
        cockpit.quiet()
        assert self.outcome(cockpit, "anti-skid.out") == "satisfactory"
