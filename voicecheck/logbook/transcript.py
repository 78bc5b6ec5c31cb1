"""The session as plain text in fixed columns: UTC, stream time, who, what."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Final

from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.discrepancy import crew_line, discrepancy
from voicecheck.logbook.integrity import words
from voicecheck.logbook.outcome import contradictions, outcome, standing, superseded
from voicecheck.logbook.rows import Row, rows
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.summary import NotTested, Summary
from voicecheck.logbook.wording import clean, duration, moment, named, stream
from voicecheck.words import say, speaking

WIDTH: Final = 100
_COLUMNS: Final = "{:<13}  {:>7}  {:<7}  "
_LABELS: Final = 11
"""Signs of a label and the room after it, at least."""


def transcript(session: Session) -> str:
    """The whole transcript, beginning and ending with the caution."""
    with speaking(session.words):
        return _transcript(session)


def _transcript(session: Session) -> str:
    header, summary = session.journal.header, session.summary
    started = moment(header.started)
    if summary is not None:
        started = say("lasted", when=started, duration=duration(summary.duration_s))
    source = named("source", header.source.kind)
    caution = textwrap.wrap(say("caution"), WIDTH)
    columns = (say(f"column-{name}") for name in ("utc", "stream", "who"))
    top = [
        *caution,
        "",
        _labelled("session", header.session),
        _labelled("airframe", header.airframe + (f" ({summary.type})" if summary else "")),
        _labelled("operator", header.operator),
        _labelled("checklist", f"{header.checklist.title} ({header.checklist.id})"),
        _labelled("crew", crew_line(session.crew.as_json()) or say("not-named")),
        _labelled("source", f"{source} {header.source.name}"),
        _labelled("started", started),
        _labelled("result", outcome(session)),
        _labelled("record", words(session.journal.verification)),
        *(_open_matters(summary) if summary else ()),
        "",
        _COLUMNS.format(*columns) + say("column-what"),
    ]
    bottom = ["", *caution]
    return (
        "\n".join(line.rstrip() for line in [*top, *_body(rows(session.journal)), *bottom]) + "\n"
    )


def _labelled(label: str, text: str) -> str:
    return f"{say(f'label-{label}'):<{_LABELS}}{clean(text)}"


def _open_matters(summary: Summary) -> Iterator[str]:
    """Findings as ready texts, then what has no result, each under its label."""
    for label, texts in (
        ("finding", [discrepancy(f, summary) for f in standing(summary)]),
        ("retested", [discrepancy(f, summary) for f in superseded(summary)]),
        ("not-tested", [_untested(gap) for gap in summary.not_tested]),
        ("void", summary.void),
        ("caution", contradictions(summary)),
    ):
        for text in texts:
            yield from textwrap.wrap(_labelled(label, text), WIDTH, subsequent_indent=" " * _LABELS)


def _untested(gap: NotTested) -> str:
    return f"{gap.id}: {gap.reason or say('no-reason-word')}"


def _body(entries: list[Row]) -> Iterator[str]:
    day = ""
    for row in entries:
        date, _, clock = format_utc(parse(row.utc)).partition("T")
        if date != day:
            day = date
            yield say("day", day=day)
        time = stream(row.start) if row.start is not None else ""
        lead = _COLUMNS.format(clock, time, named("who", row.who.lower()))
        lines = textwrap.wrap(row.text, WIDTH - len(lead)) or [""]
        yield lead + lines[0]
        yield from (" " * len(lead) + line for line in lines[1:])
