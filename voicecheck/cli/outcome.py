"""The end of a run, told to a person or as one JSON result."""

from __future__ import annotations

import json
import sys
from typing import Any

from rich.console import Console
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.logbook.sessions import load as load_session
from voicecheck.session.filing import SUMMARY
from voicecheck.session.run import Finished


def tell(finished: Finished, screen: Console, *, as_json: bool) -> None:
    """Print findings, what is missing, and where the files are."""
    summary = finished.summary
    if as_json:
        # The journal seals the crew's names and does not hold them; whoever ran it may see them.
        shown = {**summary, "crew": load_session(finished.folder).crew.as_json()}
        json.dump(shown, sys.stdout, ensure_ascii=False, indent=2)
        sys.stdout.write("\n")
    screen.print()
    screen.print(Text(heading(summary), "bold"))
    for finding in summary["findings"]:
        again = " (tested again since)" if finding["superseded"] else ""
        _say(screen, f"  finding     {finding['position_name']}: {finding['what']}{again}")
        _say(screen, f"              expected {finding['expected']}; called {finding['called']}")
    for item in summary["items"]:
        if item["outcome"] in ("void", "not tested"):
            _say(screen, f"  {item['outcome']:11s} {item['id']}: {item['reason']}")
    gone = [item["id"] for item in summary["items"] if item["outcome"] == "not fitted"]
    if gone:
        _say(screen, f"  not fitted  {', '.join(gone)}")
    _say(screen, f"  report      {finished.folder / 'report.html'}")
    _say(screen, f"  summary     {finished.folder / SUMMARY}")
    if finished.mixdown is not None:
        _say(screen, f"  mixdown     {finished.mixdown}")
    if finished.recording is not None:
        _say(screen, f"  recording   {finished.recording}")
    screen.print(Text(CAUTION), soft_wrap=True)


def heading(summary: dict[str, Any]) -> str:
    """One line: airframe, how much is covered, how many findings."""
    standing = sum(1 for finding in summary["findings"] if not finding["superseded"])
    state = "all positions covered" if summary["complete"] else f"incomplete: {summary['reason']}"
    return f"{summary['airframe']}  {state}; findings: {standing}"


def _say(screen: Console, text: str) -> None:
    screen.print(Text(text), soft_wrap=True)
