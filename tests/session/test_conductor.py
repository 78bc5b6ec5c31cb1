"""The conductor with an ear that hears a script: order of time, journal, faults."""

from __future__ import annotations

import itertools
import json
import resource
import signal
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from cockpit import Cockpit, Notices
from fleet import loaded

from voicecheck.audio.player import SilentPlayer
from voicecheck.audio.source import BLOCK, Block, SoundDropped, SourceLost, SourceRestored
from voicecheck.engine import Engine
from voicecheck.engine.phases import Phase
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.journal.reader import read, verify
from voicecheck.journal.writer import JournalWriter
from voicecheck.rehearsal.scripted_ear import ScriptedEar
from voicecheck.session.assembly import Wanted
from voicecheck.session.clock import StreamClock
from voicecheck.session.conductor import Conductor
from voicecheck.session.equipment import Equipment
from voicecheck.session.options import (
    CockpitOptions,
    HearingOptions,
    LogOptions,
    RunOptions,
    VoiceOptions,
)
from voicecheck.session.prompter import Prompter
from voicecheck.session.replay import replay
from voicecheck.session.result import exit_status
from voicecheck.session.resume import resume
from voicecheck.session.run import header_of
from voicecheck.session.shutter import Shutter
from voicecheck.session.touches import Press
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Verdict


@pytest.fixture
def cockpit(tmp_path: Path) -> Cockpit:
    return Cockpit(tmp_path)


def _to_the_window(cockpit: Cockpit) -> None:
    for words in ("battery on and avionics on", "affirm", "going to anti skid"):
        cockpit.say(words)
    cockpit.say("anti skid illuminated")
    cockpit.say("selector off")


def test_a_session_is_journalled_and_replays_to_the_same_result(cockpit: Cockpit) -> None:
    _to_the_window(cockpit)
    cockpit.wait(3.2)
    cockpit.say("anti skid out")
    summary = cockpit.close()
    assert {i["id"]: i["outcome"] for i in summary["items"]}["anti-skid.out"] == "satisfactory"
    assert verify(cockpit.folder / "journal.jsonl").ok
    replayed = replay(cockpit.folder)
    assert json.loads(json.dumps(replayed.summary)) == json.loads(json.dumps(summary))
    assert exit_status(summary) == 3


def test_a_changed_decision_is_named_by_its_line(cockpit: Cockpit, tmp_path: Path) -> None:
    cockpit.say("battery on")
    cockpit.close()
    lines = cockpit.lines()
    other = tmp_path / "other"
    other.mkdir()
    writer = JournalWriter.create(other, {k: v for k, v in lines[0].items() if k not in
                                          ("n", "prev", "kind", "utc")})  # fmt: skip
    for line in lines[1:]:
        fields = {k: v for k, v in line.items() if k not in ("n", "prev", "kind", "utc", "seal")}
        if line["kind"] == "event" and line["event"]["type"] == "heard":
            fields["event"] = {**line["event"], "callout": "power:battery:off"}
        writer.append(line["kind"], fields, line["utc"])
    writer.close()
    with pytest.raises(InputError, match="the decision differs from the record") as caught:
        replay(other / "journal.jsonl")
    number = next(i for i, x in enumerate(lines) if x.get("event", {}).get("type") == "heard")
    assert caught.value.place.line == number + 1


def test_what_was_said_is_held_by_the_chain(cockpit: Cockpit) -> None:
    cockpit.say("battery on")
    cockpit.close()
    journal = cockpit.folder / "journal.jsonl"
    journal.write_bytes(
        journal.read_bytes().replace(b"Call power: battery", b"Call power: nothing")
    )
    with pytest.raises(InputError, match="chain broken"):
        replay(journal)


def test_a_summary_that_the_events_do_not_come_to_is_refused(
    cockpit: Cockpit, tmp_path: Path
) -> None:
    """Chain and seal are whole, as whoever writes a journal of his own can make them."""
    _to_the_window(cockpit)
    cockpit.wait(3.2)
    cockpit.say("anti skid out")
    cockpit.close()
    own = ("n", "prev", "kind", "utc", "seal")
    head, *lines = cockpit.lines()
    other = tmp_path / "other"
    other.mkdir()
    writer = JournalWriter.create(other, {k: v for k, v in head.items() if k not in own})
    for line in lines:
        fields = {k: v for k, v in line.items() if k not in own}
        if line["kind"] == "summary":
            fields["summary"] = {**line["summary"], "complete": True}
        writer.append(line["kind"], fields, line["utc"])
    writer.close()
    assert verify(other / "journal.jsonl").ok
    with pytest.raises(InputError, match="not what the events") as caught:
        replay(other)
    assert caught.value.place.line == len(lines) + 1


def test_a_deadline_waits_for_speech_that_began_before_it(cockpit: Cockpit) -> None:
    """A slow decision cannot let a deadline overtake a callout."""
    _to_the_window(cockpit)
    anchor = cockpit.engine.state.windows[0].anchor
    deadline = cockpit.engine.state.windows[0].deadline
    cockpit.wait(deadline - cockpit.conductor.now - 0.1)
    cockpit.say("anti skid stays lit", length=3.0)
    events = [line["event"] for line in cockpit.lines() if line["kind"] == "event"]
    heard_at = max(n for n, event in enumerate(events) if event["type"] == "heard")
    assert anchor < events[heard_at]["start"] < deadline < events[heard_at]["end"]
    before = [event["now"] for event in events[:heard_at] if event["type"] == "passed"]
    assert all(now < deadline for now in before)
    now = cockpit.engine.state.records["anti-skid.out"].now
    assert now is not None
    assert now.start == events[heard_at]["start"]


def test_prompts_end_before_they_are_reported(cockpit: Cockpit) -> None:
    cockpit.wait(30)
    spans = [
        (line["event"]["start"], line["event"]["end"], line["utc"])
        for line in cockpit.lines()
        if line["kind"] == "event" and line["event"]["type"] == "prompted"
    ]
    assert len(spans) >= 4
    for (_, end, _), (start, _, _) in itertools.pairwise(spans):
        assert start >= end


def test_a_lost_microphone_holds_the_session(cockpit: Cockpit) -> None:
    _to_the_window(cockpit)
    cockpit.conductor.take(SourceLost("unplugged"))
    assert cockpit.engine.phase is Phase.HELD
    cockpit.conductor.take(SourceRestored(2.0))
    assert cockpit.engine.phase is Phase.AT_REST
    summary = cockpit.close()
    outcome = {item["id"]: item["outcome"] for item in summary["items"]}
    assert outcome["anti-skid.out"] == "not tested"
    assert any("microphone lost" in text for text in cockpit.display.texts)


def test_a_full_disk_is_told_once_and_loses_nothing(cockpit: Cockpit) -> None:
    """A real refusal of the kernel: the file may not grow any further (RLIMIT_FSIZE)."""
    cockpit.say("battery on")
    size = (cockpit.folder / "journal.jsonl").stat().st_size
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, before[1]))
        cockpit.say("affirm")
        cockpit.say("avionics on")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert sum("record lost" in text for text in cockpit.display.texts) == 1
    assert "Record lost." in cockpit.display.said_texts
    assert cockpit.record.pending > 0
    cockpit.say("affirm")
    assert cockpit.record.pending == 0
    cockpit.close()
    assert verify(cockpit.folder / "journal.jsonl").ok
    heard = [
        line["event"]["words"]
        for line in cockpit.lines()
        if line["kind"] == "event" and line["event"]["type"] == "heard"
    ]
    assert heard == ["battery on", "affirm", "avionics on", "affirm"]


def test_a_finished_journal_line_for_every_event(cockpit: Cockpit) -> None:
    cockpit.say("battery on")
    cockpit.close()
    journal = read(cockpit.folder / "journal.jsonl")
    assert journal.lines[-1].kind == "summary"
    assert [line.n for line in journal.lines] == list(
        range(journal.lines[0].n, journal.lines[-1].n + 1)
    )


def test_options_stand_in_the_header(tmp_path: Path) -> None:
    options = RunOptions(
        "skerry-j2",
        "ZZ-HJC",
        tmp_path,
        hearing=HearingOptions(second="off"),
        voice=VoiceOptions(speak=False),
    )
    header = header_of(options, loaded("ZZ-HJC"), "x", ("a",), datetime.now(UTC))
    assert header["settings"]["timing"]["word_error"] >= 0
    assert header["settings"]["voice"]["speak"] is False
    assert header["crew"] == {"pilot": None, "second": None}


def test_a_journal_of_another_version_is_refused_with_its_place(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError):
        replay(tmp_path / "none.jsonl")


class Deaf(ScriptedEar):
    """Keeps the sound that reaches it."""

    def __init__(self) -> None:
        super().__init__(loaded("ZZ-HJC"))
        self.sound: list[np.ndarray] = []

    def feed(self, samples: np.ndarray) -> list[Verdict]:
        self.sound.append(samples)
        return super().feed(samples)


@pytest.mark.parametrize("headset", [True, False])
def test_nothing_is_heard_while_a_prompt_sounds_unless_there_is_a_headset(
    tmp_path: Path, headset: bool
) -> None:
    cockpit = Cockpit(tmp_path)
    ear = Deaf()
    clock = StreamClock()
    player = SilentPlayer(clock)
    prompter = Prompter(player, None, 165)
    conductor = Conductor(
        Engine(cockpit.loaded.checklist),
        Equipment(
            cockpit.loaded.language, prompter, [ear], Shutter() if headset else Shutter(player)
        ),
        cockpit.record,
        cockpit.display,
        lambda summary, _ignored: summary,
    )
    loud = Block(np.full(BLOCK, 1000, np.int16))
    clock.start(lambda: conductor.now)
    conductor.begin()
    during: list[bool] = []
    for _ in range(1500):
        during.append(prompter.audible)
        conductor.take(loud)
    heard = [bool(sound.any()) for sound in ear.sound]
    assert any(during)
    assert not during[-1]
    if headset:
        assert all(heard)
    else:
        assert not any(h for h, speaking in zip(heard, during, strict=True) if speaking)
        assert heard[-1]


def test_a_summary_that_a_crash_cut_short_is_made_again(cockpit: Cockpit) -> None:
    """The longest line of a journal is the likeliest to be cut; its events are all there."""
    cockpit.say("battery on and avionics on")
    summary = cockpit.close()
    journal = cockpit.folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes()[:-200])
    wanted = Wanted(None, None, CockpitOptions(), HearingOptions(), VoiceOptions())
    log = cockpit.folder.parent
    finished = resume(LogOptions(log), "latest", wanted, log / "cache", Notices())
    assert json.loads(json.dumps(finished.summary)) == json.loads(json.dumps(summary))
    assert verify(journal).ok
    assert (cockpit.folder / "report.html").is_file()
    assert replay(cockpit.folder).summary == finished.summary
    with pytest.raises(VoicecheckError, match="is finished"):
        resume(LogOptions(log), "latest", wanted, log / "cache", Notices())


def test_a_listener_that_lacks_a_word_is_refused_before_a_session_is_resumed(
    cockpit: Cockpit, monkeypatch: pytest.MonkeyPatch
) -> None:
    cockpit.say("battery on")
    cockpit.writer.close()
    before = cockpit.lines()
    ear = SimpleNamespace(missing=lambda words: tuple(w for w in words if w == "skid"))
    monkeypatch.setattr("voicecheck.session.resume.open_ears", lambda *_: (ear,))
    wanted = Wanted(None, None, CockpitOptions(), HearingOptions(), VoiceOptions())
    log = cockpit.folder.parent
    with pytest.raises(VoicecheckError, match="no pronunciation for skid; resume it with"):
        resume(LogOptions(log), "latest", wanted, log / "cache", Notices())
    assert cockpit.lines() == before


def _about_to_end(cockpit: Cockpit) -> None:
    cockpit.say("abandon the test")
    cockpit.quiet()


@pytest.mark.parametrize("how", ["spoken", "touched", "lost"])
def test_what_comes_with_the_last_callout_does_not_spoil_a_finished_record(
    cockpit: Cockpit, how: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other microphone hears the last yes too, a hand touches it twice, sound is lost."""
    _about_to_end(cockpit)
    now = cockpit.conductor.now
    if how == "spoken":
        yes = Spoken("reason:power lost", "power lost", now, now + 0.02, 1.0)
        heard: list[Verdict] = [
            Accepted((yes,), now, now + 0.02, now + 0.02),
            Ignored(now, now + 0.02, now + 0.02, "louder on the other microphone"),
        ]
        monkeypatch.setattr(cockpit.ear, "feed", lambda _: heard)
        assert not cockpit.conductor.take(Block(np.zeros(BLOCK, np.int16)))
    else:
        marks = cockpit.conductor._pictures.marks
        cockpit.conductor.press(Press("reason:power lost", "touch", marks, now))
        if how == "touched":
            cockpit.conductor.press(Press("reason:power lost", "touch", marks, now))
        else:
            assert not cockpit.conductor.take(SoundDropped(1))
    summary = cockpit.close()
    assert summary["complete"] is False
    assert verify(cockpit.folder / "journal.jsonl").ok
    assert cockpit.lines()[-1]["kind"] == "summary"
