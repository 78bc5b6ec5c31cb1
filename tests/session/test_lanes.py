"""Two microphones in one cockpit: who spoke, and what the other's microphone picked up."""

from __future__ import annotations

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
            self.ears[0],
            loaded("ZZ-HAA").language,
            self.prompter,
            self,
            Quiet(),
            lambda summary, _: summary,
            second_ear=self.ears[1],
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
    cockpit.say(1, key)
    assert cockpit.outcome(item) == "satisfactory"
    assert cockpit.engine.state.records[item].now.read_back == "by the other microphone"  # type: ignore[union-attr]


def test_dropped_sound_is_told_and_whatever_ran_is_not_timed() -> None:
    cockpit = Cockpit()
    cockpit.conductor.take(SoundDropped(2))
    assert any("sound was lost" in str(line.get("text")) for line in cockpit.lines)
    noted = [line["event"]["type"] for line in cockpit.lines if "event" in line]  # type: ignore[index]
    assert noted[-2:] == ["lost", "restored"]
