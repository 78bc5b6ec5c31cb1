"""Callouts by key: numbers that never change their meaning, and a session with no ears at all."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
import termios
import time
from collections.abc import Iterable
from pathlib import Path

import pytest
from cockpit import Cockpit
from fleet import loaded
from soundcard import wait_until

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.said import network_of
from voicecheck.cli.keys import TerminalKeys
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Heard
from voicecheck.journal.reader import read
from voicecheck.session.keyboard import LIST, TALK, Entry, Numbers
from voicecheck.session.shutter import HANG, Shutter, TalkKey

CALLS = [Callout(key, (words,), Stakes.ASKS) for key, words in (("a", "one"), ("b", "two words"))]


def test_a_number_never_means_another_callout() -> None:
    """Over a whole walk through a checklist: each number belongs to one callout for good."""
    engine = Engine(loaded("ZZ-HJC").checklist)
    engine.handle(Began(0.0))
    numbers = Numbers()
    meaning: dict[int, str] = {}
    for at, position in enumerate(engine.checklist.positions):
        numbers.offer([offer.callout for offer in engine.offers().values()])
        for choice in numbers.choices:
            assert meaning.setdefault(choice.number, choice.callout.key) == choice.callout.key
        key = "selector:off" if position.id == "off" else f"select:{position.id}"
        engine.handle(Heard(key, "", at * 2.0, at * 2.0 + 1, 1.0))
    assert len(meaning) > 40
    assert len(set(meaning.values())) == len(meaning)


def test_a_number_that_came_too_late_means_nothing() -> None:
    numbers = Numbers()
    assert [str(choice) for choice in numbers.offer(CALLS)] == ["1 one", "2 two words"]
    numbers.offer([Callout("c", ("three",), Stakes.ASKS)])
    assert numbers.find("1") is None
    assert numbers.find("one") is None
    found = numbers.find("3")
    assert found is not None
    assert found.callout.key == "c"


def test_words_may_be_typed_instead() -> None:
    numbers = Numbers()
    numbers.offer(CALLS)
    found = numbers.find("  Two   WORDS ")
    assert found is not None
    assert found.callout.key == "b"
    assert numbers.find("two") is None


def _numbers(position: str) -> Numbers:
    """With the fleet's wordings, at a position."""
    made = loaded("ZZ-HJC")
    engine = Engine(made.checklist)
    engine.handle(Began(0.0))
    engine.handle(Heard(f"select:{position}", "", 1.0, 2.0, 1.0))
    numbers = Numbers(network_of(made.checklist, made.language.sayings))
    numbers.offer([offer.callout for offer in engine.offers().values()])
    return numbers


@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("and the horn's loud and clear", "gear.horn:good"),
        ("I'm not hearing the horn", "gear.horn:bad"),
        ("horn won't shut up", "gear.horn-silence:bad"),
        ("just two greens", "gear.greens:2"),
        ("okay going to thrust reversers", "select:reverser"),
        ("battery's on", "power:battery:on"),
    ],
)
def test_words_that_nobody_taught_may_be_typed(typed: str, key: str) -> None:
    numbers = _numbers("gear")
    found = numbers.find(typed)
    assert found is not None
    assert found.callout.key == key
    assert [choice.callout.key for choice in numbers.which(typed)] == [key]


@pytest.mark.parametrize(
    ("typed", "which"),
    [
        ("horn", "gear.horn:good gear.horn:bad gear.horn-silence:good gear.horn-silence:bad "
         "gear.horn-returns:good gear.horn-returns:bad"),
        ("unsafe light", "gear.unsafe:1 gear.unsafe:0"),
        ("horn's gone", "gear.horn:bad gear.horn-silence:good"),
        ("three blind mice", ""),
        ("shaker", ""),
    ],
)  # fmt: skip
def test_a_name_alone_and_two_meanings_are_a_question(typed: str, which: str) -> None:
    numbers = _numbers("gear")
    assert numbers.find(typed) is None
    assert [choice.callout.key for choice in numbers.which(typed)] == which.split()


def test_a_question_names_what_to_say(tmp_path: Path) -> None:
    """Nothing is written down for a name alone; the screen says what it could be."""
    cockpit = Cockpit(tmp_path)
    cockpit.conductor.typed("select fire")
    before = cockpit.engine.state
    cockpit.conductor.typed("the bell")
    assert cockpit.engine.state == before
    notice = cockpit.display.texts[-1]
    assert notice.endswith("say one of: bell sounding, no bell, bell silenced, bell continues")
    cockpit.conductor.typed("the shaker")
    assert cockpit.display.texts[-1] == "'the shaker' cannot be called now; ? lists what can"
    cockpit.conductor.typed("not hearing the bell")
    events = [line["event"] for line in cockpit.lines() if line["kind"] == "event"]
    assert [e["callout"] for e in events if "callout" in e] == ["select:fire", "fire.bell:bad"]


def test_the_talk_key_opens_and_lets_a_word_end() -> None:
    key = TalkKey()
    shutter = Shutter(talk_key=key)
    assert key.shut(0.0)
    key.toggle(1.0)
    assert not key.shut(1.0)
    key.toggle(3.0)
    assert not key.shut(3.0 + HANG - 0.02)
    assert key.shut(3.0 + HANG)
    assert shutter.talk_key is key


def taken(keys: TerminalKeys, into: list[str]) -> int:
    """Take what was typed; how much there is now."""
    into += [entry.text for entry in keys.pending()]
    return len(into)


def test_an_entry_is_as_old_as_its_first_key() -> None:
    ours, theirs = pty.openpty()
    with os.fdopen(theirs, "r+b", buffering=0) as terminal:
        keys = TerminalKeys(terminal)  # type: ignore[arg-type]
        try:
            os.write(ours, b"aff")
            wait_until(lambda: os.read(ours, 10), "the echo")
            time.sleep(0.3)
            os.write(ours, b"irm\n")
            entries: list[Entry] = []
            wait_until(lambda: entries.extend(keys.pending()) or entries, "the entry")
        finally:
            keys.close()
    os.close(ours)
    assert entries[0].text == "affirm"
    assert 0.3 <= entries[0].age < 30


def test_at_a_terminal_single_keys_count_and_words_are_edited() -> None:
    ours, theirs = pty.openpty()
    before = termios.tcgetattr(theirs)
    with os.fdopen(theirs, "r+b", buffering=0) as terminal:
        keys = TerminalKeys(terminal)  # type: ignore[arg-type]
        try:
            os.write(ours, b" ?12\x7f3\nthree gren\x7f\x7fen now\x1bgear\n")
            entries: list[str] = []
            wait_until(
                lambda: entries.extend(e.text for e in keys.pending()) or len(entries) >= 4,
                "entries",
            )
            shown = os.read(ours, 200).decode()
        finally:
            keys.close()
        assert termios.tcgetattr(theirs) == before
    os.close(ours)
    assert entries == [TALK, LIST, "13", "gear"]
    assert shown.startswith("12\b \b3\r\nthree gren\b \b\b \ben now")
    assert shown.endswith("\b \bgear\r\n")


def test_from_a_pipe_lines_count() -> None:
    inward, outward = os.pipe()
    with os.fdopen(inward, "r") as pipe:
        keys = TerminalKeys(pipe)
        os.write(outward, b"three green\n\n?\n")
        os.close(outward)
        entries: list[str] = []
        wait_until(
            lambda: entries.extend(e.text for e in keys.pending()) or len(entries) >= 3, "entries"
        )
        keys.close()
    assert entries == ["three green", TALK, LIST]


def session(folder: Path, *options: str) -> subprocess.Popen[str]:
    """A live session with keys from a pipe, on a machine without any sound device."""
    env = {**os.environ, "VOICECHECK_SETTINGS": str(folder / "settings.yaml")}
    env |= {"PULSE_SERVER": "unix:/nonexistent", "XDG_RUNTIME_DIR": str(folder)}
    return subprocess.Popen(
        [
            *(sys.executable, "-m", "voicecheck", "run", "skerry-j2", "--airframe", "ZZ-HJC"),
            *("--keys", "--log", str(folder / "log"), "--second-listener", "off"),
            *("--rate", "450", *options),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=env,
    )


def until(text: str, lines: Iterable[str], shown: list[str]) -> None:
    """Read on until something is said; what is read goes to `shown`."""
    for line in lines:
        shown.append(line)
        if text in line:
            return


TYPED = (
    "battery on", "affirm", "avionics on", "affirm", "going to gear", "three green", "one red",
    "999", "?", "selector off", "test complete", "affirm",
)  # fmt: skip


@pytest.mark.parametrize("options", [(), ("--deaf", "--mute", "--no-tones")])
def test_a_session_is_finished_by_key_alone(tmp_path: Path, options: tuple[str, ...]) -> None:
    running = session(tmp_path, *options)
    shown: list[str] = []
    assert running.stdout is not None
    assert running.stdin is not None
    try:
        until("Call power", running.stdout, shown)
        for before, words in zip(("", *TYPED), TYPED, strict=False):
            if words == "affirm":  # typed before its question is there it is not taken
                asked = "End without" if before == "test complete" else "Is that so"
                until(asked, running.stdout, shown)
            running.stdin.write(words + "\n")
            running.stdin.flush()
            time.sleep(0.05)
        rest, _ = running.communicate(timeout=60)
    finally:
        running.kill()
    text = "".join(shown) + rest
    assert running.returncode == 3, text
    if not options:
        assert "deaf: no microphone found" in text
    assert "mute: " in text or "--mute" in options
    assert "keys: " in text
    assert "'999' cannot be called now" in text
    (folder,) = (tmp_path / "log").glob("*Z-*")
    journal = read(folder / "journal.jsonl")
    assert journal.header.source.kind == "keys"
    pressed = [
        line.fields["event"]["callout"]  # type: ignore[index,call-overload]
        for line in journal.lines
        if "event" in line.fields and line.fields["event"]["type"] == "keypressed"  # type: ignore[index,call-overload]
    ]
    assert len(pressed) == len(TYPED) - 2
    assert pressed[-1] == "command:affirm"
