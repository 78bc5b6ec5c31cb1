"""The report of one session: a single HTML page that needs nothing else.

The room of templates and what they may call is shared with the pages of the airframe and the
fleet (logbook.pages).
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicecheck.journal.format import JOURNAL
from voicecheck.logbook import wording
from voicecheck.logbook.discrepancy import discrepancy, mel_data, what
from voicecheck.logbook.integrity import problem, words
from voicecheck.logbook.outcome import (
    contradictions,
    intermittent,
    outcome,
    result_of,
    standing,
    superseded,
)
from voicecheck.logbook.rows import notes, rows
from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Item, Summary
from voicecheck.logbook.timeline import LEFT, WIDTH, timeline
from voicecheck.words import say, speaking

if TYPE_CHECKING:
    from voicecheck.logbook.context import Context


def report(session: Session, context: Context | None = None) -> str:
    """The page as text. The same journal, and context, always give the same page.

    context: what the logbook knows of the airframe; without it the page is of the session alone.
    """
    with speaking(session.words):
        return _report(session, context)


def _report(session: Session, context: Context | None) -> str:
    summary = session.summary
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            session=session,
            header=session.journal.header,
            summary=summary,
            result=outcome(session),
            broken=is_broken(session),
            found=session.journal.verification,
            record=words(session.journal.verification),
            problem=problem(session.journal.verification),
            journal_name=JOURNAL,
            contradictions=contradictions(summary) if summary else [],
            standing=standing(summary) if summary else [],
            superseded=superseded(summary) if summary else [],
            intermittent=intermittent(summary) if summary else set(),
            positions=_positions(summary) if summary else [],
            names={item.id: item for item in summary.items} if summary else {},
            notes=notes(session.journal),
            rows=rows(session.journal),
            picture=timeline(session),
            left=LEFT,
            width=WIDTH,
            context=context,
        )
    )


def _positions(summary: Summary) -> list[tuple[str, list[Item]]]:
    """Items by position, in the order of the checklist."""
    groups: dict[str, list[Item]] = {}
    for item in summary.items:
        groups.setdefault(item.position, []).append(item)
    return [(items[0].position_name, items) for items in groups.values()]


@cache
def environment() -> Environment:
    """Everything is escaped and cleaned on its way into the page; nothing is trusted."""
    # Late: a session begins without its pictures.
    from voicecheck.logbook.drawing import svg
    from voicecheck.logbook.open_items import action_facts, line_of
    from voicecheck.logbook.trend.chart import chart, spark
    from voicecheck.logbook.trend.words import sentences

    environment = Environment(
        loader=PackageLoader("voicecheck.logbook"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for show in (
        action_facts,
        wording.allowed,
        wording.duration,
        wording.figure,
        wording.joined,
        wording.called,
        wording.measured,
        wording.moment,
        wording.named,
        wording.power,
        wording.stream,
        chart,
        discrepancy,
        line_of,
        mel_data,
        result_of,
        say,
        sentences,
        spark,
        svg,
        what,
    ):
        environment.globals[show.__name__] = show
    return environment


def _finalize(value: object) -> object:
    """Text without line breaks, controls or direction marks; markup of our own as it is."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return wording.printable(value)
    return value
