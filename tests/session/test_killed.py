"""kill -9 at any event: what was journalled is resumed, and the session ends alike."""

from __future__ import annotations

import json
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from cockpit import Cockpit

from voicecheck.journal.format import JOURNAL
from voicecheck.journal.writer import JournalWriter
from voicecheck.session.replay import replay

CALLS = (
    "battery on and avionics on",
    "affirm",
    "going to gear",
    "three green one red and horn sounding",
    "going to anti skid",
    "anti skid illuminated",
    "going to reversers",
    "wait",
    "anti skid out",
    "left side two",
    "left unlocked dark",
    "right side three",
    "correction",
    "selector off",
    "panel dark",
)
LIT, OUT = map(CALLS.index, ("anti skid illuminated", "anti skid out"))
ANEW = (
    "disregard all of reversers",
    "going to reversers",
    "left side two",
    "left unlocked dark",
)
"""In place of a correction that came too late: the position once more, without what was wrong."""
KILLED = """
import os, sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from cockpit import Cockpit
cockpit = Cockpit(Path({folder!r}))
print(cockpit.folder, flush=True)
for words in {calls!r}:
    cockpit.wait(3.8) if words == "wait" else cockpit.say(words)
os.kill(os.getpid(), 9)
"""


def outcomes(cockpit: Cockpit) -> dict[str, str]:
    """What the session leaves in the log."""
    summary = cockpit.conductor.end("the script ended")
    return {item["id"]: item["outcome"] for item in summary["items"]}


def resumed(journal: Path, elsewhere: Path) -> Cockpit:
    """A new cockpit whose engine is where the journal leads to; the crew has called all again.

    Of a session that was cut off neither airframe nor power nor position is known any more.
    """
    again = replay(journal)
    assert again.summary is None
    cockpit = Cockpit(elsewhere)
    cockpit.engine = again.engine
    cockpit.conductor._engine = again.engine
    cockpit.conductor._offset = again.last
    known = again.engine.state
    calls = CALLS[:2] if known.airframe else CALLS[:1] if known.power_claims else ()
    if known.position is not None:
        calls = (*calls, again.engine.checklist.position(known.position).select[0])
    cockpit.conductor.rejoin()
    assert not cockpit.engine.state.airframe
    assert cockpit.engine.state.position is None
    for words in calls:
        cockpit.quiet()  # a yes begun before its question has sounded is none
        cockpit.say(words)
    return cockpit


def say(cockpit: Cockpit, calls: tuple[str, ...]) -> None:
    """Go on with the script."""
    for words in calls:
        if words == "wait":
            cockpit.wait(3.8)
        else:
            cockpit.say(words)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """The session without a break: its journal before the end, and its outcomes."""
    folder = tmp_path_factory.mktemp("whole")
    cockpit = Cockpit(folder)
    say(cockpit, CALLS)
    shutil.copytree(cockpit.folder, folder / "before")
    made = outcomes(cockpit)
    assert made["anti-skid.out"] == made["gear.greens"] == "satisfactory"
    return folder / "before" / JOURNAL, made


def heard(lines: list[bytes]) -> list[str]:
    """The callouts in lines of a journal."""
    events = [json.loads(line).get("event", {}) for line in lines]
    return [event["words"] for event in events if event.get("type") == "heard"]


def expected(outcomes: dict[str, str], *, timed: bool) -> dict[str, str]:
    """A light whose position may have been left, or that was timed, during the gap cannot be
    judged; all else is as it was."""
    return {**outcomes, "anti-skid.out": "not tested"} if timed else outcomes


@pytest.mark.parametrize("keep", [1, 4, 6, 8, 10, 13])
def test_killed_after_some_callouts_it_ends_alike(
    tmp_path: Path, keep: int, whole: tuple[Path, dict[str, str]]
) -> None:
    tests = str(Path(__file__).parents[1])
    program = KILLED.format(tests=tests, folder=str(tmp_path / "a"), calls=CALLS[:keep])
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    cockpit = resumed(Path(done.stdout.strip()), tmp_path / "b")
    gone = LIT < keep <= OUT
    say(cockpit, tuple(w for w in CALLS[keep:] if not (gone and w in ("wait", "anti skid out"))))
    assert outcomes(cockpit) == expected(whole[1], timed=LIT < keep <= OUT)


def test_cut_off_after_any_line_or_within_it_it_ends_alike(
    tmp_path: Path, whole: tuple[Path, dict[str, str]]
) -> None:
    """Each line is on the disk before anything follows from it: a kill leaves whole lines,
    and at most one torn one, whose event nobody has acted on."""
    journal, made = whole
    lines = journal.read_bytes().splitlines(keepends=True)
    calls = heard(lines)
    cuts = 0
    for kept in range(1, len(lines)):
        torn = lines[kept][: len(lines[kept]) // 2] if kept % 3 == 0 else b""
        folder = tmp_path / str(kept)
        folder.mkdir()
        (folder / JOURNAL).write_bytes(b"".join(lines[:kept]) + torn)
        JournalWriter.reopen(folder / JOURNAL).close()
        if kept == 1:
            continue  # the header alone: nothing was decided, there is nothing to resume
        cockpit = resumed(folder, folder / "after")
        done = len(heard(lines[:kept]))
        said, left = calls[:done], calls[done:]
        timed = "anti skid illuminated" in said and "anti skid out" in left
        if left[:1] == ["correction"]:
            left = [*ANEW, *left[1:]]  # there is no last call any more that could be taken back
        for words in left:
            if words == "anti skid out":
                cockpit.wait(3.8)
            if not (timed and words == "anti skid out"):
                cockpit.say(words)
        assert outcomes(cockpit) == expected(made, timed=timed), kept
        cuts += 1
    assert cuts == len(lines) - 2
