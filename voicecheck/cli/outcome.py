"""The end of a run, told to a person or as one JSON result."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.cli.screen import print_json, say
from voicecheck.logbook.sessions import load as load_session
from voicecheck.session.filing import SUMMARY
from voicecheck.session.run import Finished


def tell(finished: Finished, screen: Console, *, as_json: bool) -> None:
    """Print findings, what is missing, and where the files are."""
    summary = finished.summary
    if as_json:
        # The journal seals the crew's names and does not hold them; whoever ran it may see them.
        shown = {**summary, "crew": load_session(finished.folder).crew.as_json()}
        print_json(shown)
    screen.print()
    say(heading(summary), screen, "bold")
    for finding in summary["findings"]:
        again = " (tested again since)" if finding["superseded"] else ""
        say(f"  finding     {finding['position_name']}: {finding['what']}{again}", screen)
        say(f"              expected {finding['expected']}; called {finding['called']}", screen)
    for item in summary["items"]:
        if item["outcome"] in ("void", "not tested"):
            say(f"  {item['outcome']:11s} {item['id']}: {item['reason']}", screen)
    gone = [item["id"] for item in summary["items"] if item["outcome"] == "not fitted"]
    if gone:
        say(f"  not fitted  {', '.join(gone)}", screen)
    say(f"  report      {finished.folder / 'report.html'}", screen)
    say(f"  summary     {finished.folder / SUMMARY}", screen)
    if finished.mixdown is not None:
        say(f"  mixdown     {finished.mixdown}", screen)
    if finished.recording is not None:
        say(f"  recording   {finished.recording}", screen)
    say(CAUTION, screen)


def heading(summary: dict[str, Any]) -> str:
    """One line: airframe, how much is covered, how many findings."""
    standing = sum(1 for finding in summary["findings"] if not finding["superseded"])
    state = "all positions covered" if summary["complete"] else f"incomplete: {summary['reason']}"
    return f"{summary['airframe']}  {state}; findings: {standing}"
