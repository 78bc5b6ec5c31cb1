"""Two microphones in one cockpit: who spoke, and what the other's microphone picked up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fleet import loaded

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import BLOCK, RATE, Block, SoundDropped
from voicecheck.callouts import Callout
from voicecheck.engine import Engine
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.display import Quiet
from voicecheck.session.equipment import Equipment
from voicecheck.session.lanes import Judged, Lanes
from voicecheck.session.prompter import Prompter
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict


class ToldEar:
    """Hears what it is told to have heard, once its sound has been fed."""

    def __init__(self) -> None:
        self.due: list[Verdict] = []
        self.offered: tuple[str, ...] = ()
        self.fed = 0
        self.speaking_since: float | None = None

    def listen(self, callouts: list[Callout]) -> None:
        self.offered = tuple(callout.key for callout in callouts)

    def feed(self, samples: np.ndarray) -> list[Verdict]:
        self.fed += len(samples)
        ripe = [v for v in self.due if v.decided <= self.fed / RATE]
        self.due = [v for v in self.due if v not in ripe]
        return ripe

    def finish(self) -> list[Verdict]:
        return self.due


def call(key: str, words: str, start: float, end: float) -> Accepted:
    return Accepted((Spoken(key, words, start, end, 0.9),), start, end, end + 0.4)


def sound(level: int, begin: float, end: float, seconds: float) -> np.ndarray:
    """Noise of an RMS level from begin to end over a floor that every microphone has."""
    random = np.random.default_rng(round(level + begin * 7))
    samples = random.normal(0, 20, round(seconds * RATE))
    first, last = round(begin * RATE), round(end * RATE)
    samples[first:last] += random.normal(0, level, last - first)
    return np.clip(samples, -32768, 32767).astype(np.int16)


def through(lanes: Lanes, pilot: np.ndarray, second: np.ndarray) -> list[Judged]:
    heard = []
    for at in range(0, len(pilot), BLOCK):
        block = Block(pilot[at : at + BLOCK], second[at : at + BLOCK])
        heard += lanes.feed(block, lambda samples, _channel: samples)
    return heard + lanes.finish()


def heard(own: int, other: int, who: int) -> list[Judged]:
    """A call on channel `who`, that loud there and on the other; both ears heard it."""
    ears = [ToldEar(), ToldEar()]
    for ear in ears:
        ear.due = [call("gear.greens:3", "three green", 1.0, 1.8)]
    levels = (own, other) if who == 0 else (other, own)
    sounds = [sound(level, 1.0, 1.8, 2.5) for level in levels]
    return through(Lanes(ears), *sounds)


@pytest.mark.parametrize("who", [0, 1])
def test_a_call_counts_once_on_the_speakers_own_channel(who: int) -> None:
    judged = {one.channel: one.verdict for one in heard(3000, 300, who)}
    assert isinstance(judged[who], Accepted)
    assert isinstance(judged[1 - who], Ignored)


@pytest.mark.parametrize(
    ("own", "leak", "elsewhere"),
    [
        ((1.0, 1.8), (1.1, 1.7), True),  # the faint ends of it are lost on the way
        ((1.0, 1.8), (0.8, 2.0), True),  # within the detector's slack
        ((1.0, 1.4), (1.0, 1.8), False),  # something else was said here, too
        (None, (1.0, 1.8), False),  # loud there, and yet not noticed
    ],
)
@pytest.mark.parametrize("understood", [True, False])
def test_what_the_louder_microphone_has_heard_whole_is_no_news_on_the_other(
    own: tuple[float, float] | None,
    leak: tuple[float, float],
    elsewhere: bool,
    understood: bool,
) -> None:
    ears = [ToldEar(), ToldEar()]
    if own is not None:
        ears[0].due = [call("anti-skid.out:out", "anti skid out", *own)]
    faint = replace(call("anti-skid.out:out", "anti skid out", *leak), decided=2.45)
    ears[1].due = [faint] if understood else [Ignored(*leak, 2.45, "unlike a callout")]
    sounds = [sound(level, 0.8, 2.0, 2.5) for level in (3000, 300)]
    (other,) = [one for one in through(Lanes(ears), *sounds) if one.channel == 1]
    assert isinstance(other.verdict, Ignored)
    assert other.elsewhere is elsewhere


def test_an_utterance_that_still_goes_on_at_the_louder_microphone_covers_its_echo() -> None:
    ears = [ToldEar(), ToldEar()]
    ears[0].speaking_since = 1.0
    ears[1].due = [Ignored(1.1, 1.7, 1.9, "unlike a callout")]
    sounds = [sound(level, 1.0, 1.8, 2.5) for level in (3000, 300)]
    assert [one.elsewhere for one in through(Lanes(ears), *sounds)] == [True]
    ears[0].speaking_since = 1.5
    ears[1].due = [Ignored(1.1, 1.7, 1.9, "unlike a callout")]
    assert [one.elsewhere for one in through(Lanes(ears), *sounds)] == [False]


def test_where_nobody_can_say_who_spoke_it_is_asked_for_again() -> None:
    """One signal on both channels (a mono intercom on two plugs) never reads itself back."""
    assert [type(one.verdict) for one in heard(3000, 2500, 0)] == [Unclear, Unclear]


def test_a_channel_that_is_missing_from_a_block_is_silence() -> None:
    lanes = Lanes([ToldEar(), ToldEar()])
    assert lanes.feed(Block(np.ones(BLOCK, np.int16)), lambda samples, _channel: samples) == []


class Cockpit:
    """A conductor on ZZ-HAA, which has an item to be read back, with two told ears."""

    def __init__(self) -> None:
        self.ears = [ToldEar(), ToldEar()]
        self.engine = Engine(loaded("ZZ-HAA").checklist)
        self.lines: list[dict[str, object]] = []
        clock = StreamClock()
        self.prompter = Prompter(SilentPlayer(clock), None, 165)
        self.conductor = Conductor(
            self.engine,
            Equipment(loaded("ZZ-HAA").language, self.prompter, self.ears),
            self,
            Quiet(),
            lambda summary, _: summary,
        )
        clock.start(lambda: self.conductor.now)
        self.conductor.begin(second=True)

    refused = False

    def write(self, kind: object, fields: dict[str, object], at: float) -> None:
        self.lines.append({"kind": str(kind), **fields})

    def say(self, who: int, key: str) -> None:
        """Who says it: loud on their own channel, faint on the other, where it is heard too."""
        now = self.conductor.now
        for ear in self.ears:
            ear.due = [call(key, key, now + 0.1, now + 0.7)]
        loud, faint = sound(3000, 0.1, 0.7, 1.5), sound(200, 0.1, 0.7, 1.5)
        lanes = (loud, faint) if who == 0 else (faint, loud)
        for at in range(0, len(loud), BLOCK):
            self.conductor.take(Block(lanes[0][at : at + BLOCK], lanes[1][at : at + BLOCK]))

    @property
    def events(self) -> list[str]:
        return [line["event"]["type"] for line in self.lines if "event" in line]  # type: ignore[index]

    def outcome(self, item: str) -> str | None:
        record = self.engine.state.records.get(item)
        return None if record is None or record.now is None else record.now.outcome.value


def marked(cockpit: Cockpit) -> tuple[str, str, str]:
    """Position, item and good reading of something that must be read back."""
    for position in cockpit.engine.checklist.positions:
        for item in position.items:
            if item.read_back and not item.after:
                return position.id, item.id, item.readings[0].key
    raise AssertionError("nothing is to be read back")


def to_the_marked_item(cockpit: Cockpit) -> tuple[str, str]:
    position, item, key = marked(cockpit)
    for bus, state in cockpit.engine.checklist.position(position).power.items():
        cockpit.say(0, f"power:{bus}:{state}")
        cockpit.say(0, "command:affirm")
    cockpit.say(0, f"select:{position}")
    return item, key


def test_the_pilots_voice_in_the_others_microphone_is_no_read_back() -> None:
    cockpit = Cockpit()
    item, key = to_the_marked_item(cockpit)
    cockpit.say(0, key)
    cockpit.say(0, key)
    assert cockpit.outcome(item) is None
    assert "overheard" not in cockpit.events, "it was heard, not overheard"
    cockpit.say(1, key)
    assert cockpit.outcome(item) == "satisfactory"
    assert cockpit.engine.state.records[item].now.read_back == "by the other microphone"  # type: ignore[union-attr]


def test_dropped_sound_is_told_and_whatever_ran_is_not_timed() -> None:
    cockpit = Cockpit()
    cockpit.conductor.take(SoundDropped(2))
    assert any("sound was lost" in str(line.get("text")) for line in cockpit.lines)
    assert cockpit.events[-2:] == ["lost", "restored"]
