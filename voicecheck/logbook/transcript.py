"""The session as plain text in fixed columns: UTC, stream time, who, what."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from voicecheck.caution import CAUTION
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.discrepancy import discrepancy
from voicecheck.logbook.integrity import words
from voicecheck.logbook.outcome import contradictions, outcome, standing, superseded
from voicecheck.logbook.rows import Row, rows
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.summary import Summary
from voicecheck.logbook.wording import clean, duration, moment, stream

WIDTH: Final = 100
_COLUMNS: Final = "{:<13}  {:>7}  {:<7}  "


def transcript(session: Session) -> str:
    """The whole transcript, beginning and ending with the caution."""
    header, summary = session.journal.header, session.summary
    crew = [
        f"{role} {clean(name)}"
        for role, name in (("pilot", session.crew.pilot), ("second", session.crew.second))
        if name
    ]
    top = [
        *textwrap.wrap(CAUTION, WIDTH),
        "",
        f"Session    {header.session}",
        f"Airframe   {clean(header.airframe)}" + (f" ({clean(summary.type)})" if summary else ""),
        f"Operator   {clean(header.operator)}",
        f"Checklist  {clean(header.checklist.title)} ({clean(header.checklist.id)})",
        f"Crew       {', '.join(crew) or 'not named'}",
        f"Source     {clean(header.source.kind)} {clean(header.source.name)}",
        f"Started    {moment(header.started)}"
        + (f", lasted {duration(summary.duration_s)}" if summary else ""),
        f"Result     {outcome(session)}",
        f"Record     {words(session.journal.verification)}",
        *(_open_matters(summary) if summary else ()),
        "",
        _COLUMNS.format("UTC", "STREAM", "WHO") + "WHAT",
    ]
    bottom = ["", *textwrap.wrap(CAUTION, WIDTH)]
    return (
        "\n".join(line.rstrip() for line in [*top, *_body(rows(session.journal)), *bottom]) + "\n"
    )


def _open_matters(summary: Summary) -> Iterator[str]:
    """Findings as ready texts, then what has no result, each under its label."""
    for label, texts in (
        ("Finding", [discrepancy(f, summary) for f in standing(summary)]),
        ("Re-tested", [discrepancy(f, summary) for f in superseded(summary)]),
        ("Not tested", [f"{gap.id}: {gap.reason or 'no reason'}" for gap in summary.not_tested]),
        ("Void", summary.void),
        ("Caution", contradictions(summary)),
    ):
        for text in texts:
            yield from textwrap.wrap(f"{label:<11}{clean(text)}", WIDTH, subsequent_indent=" " * 11)


def _body(entries: list[Row]) -> Iterator[str]:
    day = ""
    for row in entries:
        date, _, clock = format_utc(parse(row.utc)).partition("T")
        if date != day:
            day = date
            yield f"-- {day} UTC --"
        time = stream(row.start) if row.start is not None else ""
        lead = _COLUMNS.format(clock, time, row.who)
        lines = textwrap.wrap(row.text, WIDTH - len(lead)) or [""]
        yield lead + lines[0]
        yield from (" " * len(lead) + line for line in lines[1:])
