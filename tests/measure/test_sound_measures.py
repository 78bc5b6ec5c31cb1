"""The arithmetic behind the measurements of latency, and a short soak."""

from __future__ import annotations

import json
import os
import threading
from pathlib import Path

import numpy as np
import pytest

from voicecheck.audio.source import RATE, Samples
from voicecheck.errors import VoicecheckError
from voicecheck.measure import latency
from voicecheck.measure.latency import Answer, answers
from voicecheck.measure.open_speaker import Flown, acted_on_over_prompts
from voicecheck.measure.soak import measure_soak
from voicecheck.world import at_the_card, synthesis
from voicecheck.world.acts import Utterance
from voicecheck.world.at_the_card import AtTheCard
from voicecheck.world.synthesis import Talker
from voicecheck.world.tap import Tap, loud_stretches
from voicecheck.world.virtual_card import SoundCard


def test_stretches_of_sound_are_parted_by_quiet_alone() -> None:
    samples = np.zeros(32_000, np.int16)
    samples[1000:3000] = 900
    samples[5000:6000] = -900  # 0.125 s later: the same utterance
    samples[20_000:21_000] = 900
    samples[25_000] = 100  # too faint to be anything
    assert loud_stretches(samples) == [(1000, 6000), (20_000, 21_000)]
    assert loud_stretches(np.zeros(100, np.int16)) == []


def test_each_callout_is_paired_with_its_own_answer() -> None:
    said = [(1.0, 2.0), (5.0, 6.0), (9.0, 10.0)]
    decided = [2.5, 10.4]
    answered = [(0.2, 0.8), (2.6, 3.5), (10.5, 11.0)]
    assert answers(said, answered, decided) == [
        Answer(2.0, 2.5, 2.6),
        Answer(10.0, 10.4, 10.5),
    ]


def test_a_short_soak_leaves_files_and_threads_as_they_were() -> None:
    for thread in threading.enumerate():  # a pool that an earlier test broke off still ends
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join(60)
    rows = measure_soak(0.02).as_json()["rows"]
    assert len(rows) == 9
    assert rows[-1]["callouts"] + rows[-1]["asked again"] > 0
    for flat in ("open files", "threads"):
        assert rows[-1][flat] == rows[1][flat]
    assert rows[-1]["stream h"] == pytest.approx(0.02, abs=0.005)


def test_a_flight_is_judged_by_what_the_crew_called() -> None:
    flown = Flown(truth={"a": "satisfactory", "b": "unsatisfactory", "c": "satisfactory"})
    outcomes = {"a": "satisfactory", "b": "satisfactory", "c": "not tested"}
    outcomes |= {"d": "satisfactory", "e": "not tested"}  # of which nothing was called
    flown.summary = {"items": [{"id": i, "outcome": o} for i, o in outcomes.items()]}
    assert flown.differences() == [
        "b: called unsatisfactory, recorded satisfactory",
        "c: called satisfactory, recorded not tested",
        "d: called None, recorded satisfactory",
    ]
    assert flown.dangerous() == [
        "b: called unsatisfactory, recorded satisfactory",
        "d: called None, recorded satisfactory",
    ]


def test_a_session_ends_when_its_crew_cannot_speak(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody else would end it: the measurement would go on for ever."""

    class Broken:
        def speak(self, sound: Samples) -> None:
            raise VoicecheckError("pulled out")

    class Heard:
        def stretches(self) -> list[tuple[float, float]]:
            return [(0.0, 1.0)]

        def quiet_for(self) -> float:
            return 9.0

    taps = Heard(), Heard()
    way = AtTheCard(Broken(), lambda _: np.zeros(9, np.int16), taps)  # type: ignore[arg-type]
    way.perform(iter([Utterance(0, (), "three green", 0.0)]))
    assert str(way.failed) == "pulled out"
    with pytest.raises(KeyboardInterrupt):
        way.pending()
    # A talker that is not there is told of before there is a session.
    monkeypatch.setattr(synthesis, "_PROGRAMS", {"flite": "no-such-program"})
    monkeypatch.setattr(at_the_card, "SoundCard", None)
    with pytest.raises(VoicecheckError, match="no-such-program is not installed"):
        latency.measure_latency(1)


def test_half_a_sample_of_a_pipe_waits_for_its_other_half() -> None:
    tap = Tap.__new__(Tap)
    tap._lock, tap._parts, tap._origin = threading.Lock(), [b"\xff\x7f" * 9, b"\xff"], 3.0
    assert tap.stretches() == [(3.0, 3.0 + 9 / RATE)]


def test_a_sound_card_that_does_not_start_leaves_nothing_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = dict(os.environ)
    card = SoundCard()

    def broken() -> None:
        raise VoicecheckError("no server")

    monkeypatch.setattr(card, "restart", broken)
    with pytest.raises(VoicecheckError, match="no server"), card:
        pass
    assert dict(os.environ) == before
    assert not card._folder.exists()


def test_a_talker_that_hangs_is_told_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(synthesis, "_SECONDS", 0.2)
    talker = Talker("espeak-ng", "en-us")
    monkeypatch.setattr(Talker, "_command", lambda *_: (["sleep", "9"], None))
    with pytest.raises(VoicecheckError, match=r"espeak-ng did not say 'three green' within 0\.2 s"):
        talker.say("three green")


def test_a_callout_over_a_prompt_is_found_in_the_journal(tmp_path: Path) -> None:
    events = [
        {"type": "prompted", "start": 2.0, "end": 4.0},
        {"type": "heard", "start": 3.9, "end": 4.5},
        {"type": "heard", "start": 4.1, "end": 4.5},
        {"type": "unclear", "start": 3.0, "end": 3.5},
    ]
    journal = tmp_path / "journal.jsonl"
    lines = [json.dumps({"event": event}) for event in events]
    journal.write_text("\n".join(['{"kind": "header"}', *lines]), "utf-8")
    assert acted_on_over_prompts(journal) == 1
