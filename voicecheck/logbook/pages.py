"""The pages of one airframe across its sessions, and of the fleet; each needs nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from voicecheck.logbook.context import Airframe, History
from voicecheck.logbook.report import environment
from voicecheck.words import say


def history_page(history: History) -> str:
    """Trends, open items and results of one airframe."""
    context = history.context
    return (
        environment()
        .get_template("history.html.j2")
        .render(
            title=say("history-title", airframe=context.airframe),
            now=context.now,
            history=history,
        )
    )


def fleet_page(airframes: Sequence[Airframe], now: datetime) -> str:
    """Which airframe is due, what is open, and how its timed windows drift."""
    return (
        environment()
        .get_template("fleet.html.j2")
        .render(title=say("fleet-title"), now=now, airframes=airframes)
    )
