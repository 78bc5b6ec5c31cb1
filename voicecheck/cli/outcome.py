"""The end of a run, told to a person or as one JSON result."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from rich.console import Console

from voicecheck.cli.screen import print_json, print_line
from voicecheck.logbook.filing import REPORT
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.sessions import load as load_session
from voicecheck.logbook.wording import joined, named
from voicecheck.session.filing import SUMMARY
from voicecheck.session.run import Finished
from voicecheck.words import say, speaking


def tell(finished: Finished, screen: Console, *, as_json: bool) -> None:
    """Print findings, what is missing, and where the files are, in the words of the session."""
    session = load_session(finished.folder)
    with speaking(session.words):
        _tell(finished, session, screen, as_json=as_json)


def _tell(finished: Finished, session: Session, screen: Console, *, as_json: bool) -> None:
    summary = finished.summary
    if as_json:
        # The journal seals the crew's names and does not hold them; whoever ran it may see them.
        print_json({**summary, "crew": session.crew.as_json()})
    screen.print()
    print_line(heading(summary), screen, "bold")
    for finding in summary["findings"]:
        key = "run-finding-again" if finding["superseded"] else "run-finding-line"
        key = "run-finding-intermittent" if finding.get("intermittent") else key
        told = say(key, position=finding["position_name"], what=finding["what"])
        _line(screen, say("run-finding"), told)
        told = say("run-expected", expected=finding["expected"], called=finding["called"])
        _line(screen, "", told)
    for item in summary["items"]:
        if item["outcome"] in ("void", "not tested"):
            told = say("console-item", item=item["id"], what=item["reason"])
            _line(screen, named("outcome", item["outcome"]), told)
    gone = [item["id"] for item in summary["items"] if item["outcome"] == "not fitted"]
    if gone:
        _line(screen, named("outcome", "not fitted"), joined(gone))
    for label, path in _files(finished):
        _line(screen, say(label), path)
    print_line(say("caution"), screen)


def _files(finished: Finished) -> Iterator[tuple[str, Path]]:
    """What this run wrote, each with the key of its label."""
    for label, name in (("run-report", REPORT), ("run-summary", SUMMARY)):
        if finished.folder / name in finished.written:
            yield label, finished.folder / name
    for label, path in (("run-mixdown", finished.mixdown), ("run-recording", finished.recording)):
        if path is not None:
            yield label, path


def heading(summary: dict[str, Any]) -> str:
    """One line: airframe, how much is covered, how many findings."""
    standing = sum(1 for finding in summary["findings"] if not finding["superseded"])
    state = say("run-covered")
    if not summary["complete"]:
        state = say("run-incomplete", reason=summary["reason"])
    return say("run-heading", airframe=summary["airframe"], state=state, n=standing)


def _line(screen: Console, label: str, text: object) -> None:
    print_line(f"  {label:11s} {text}", screen)
