"""The report of one session: a single HTML page that needs nothing else."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from voicecheck.caution import CAUTION
from voicecheck.journal.format import JOURNAL
from voicecheck.logbook import wording
from voicecheck.logbook.discrepancy import discrepancy, mel_data, what
from voicecheck.logbook.integrity import words
from voicecheck.logbook.outcome import contradictions, outcome, standing, superseded
from voicecheck.logbook.rows import notes, rows
from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Item, Summary
from voicecheck.logbook.timeline import LEFT, WIDTH, timeline


def report(session: Session) -> str:
    """The page as text. The same journal always gives the same page."""
    summary = session.summary
    return (
        _environment()
        .get_template("report.html.j2")
        .render(
            session=session,
            header=session.journal.header,
            summary=summary,
            caution=CAUTION,
            result=outcome(session),
            broken=is_broken(session),
            found=session.journal.verification,
            record=words(session.journal.verification),
            journal_name=JOURNAL,
            contradictions=contradictions(summary) if summary else [],
            standing=standing(summary) if summary else [],
            superseded=superseded(summary) if summary else [],
            positions=_positions(summary) if summary else [],
            names={item.id: item for item in summary.items} if summary else {},
            notes=notes(session.journal),
            rows=rows(session.journal),
            picture=timeline(session),
            left=LEFT,
            width=WIDTH,
        )
    )


def _positions(summary: Summary) -> list[tuple[str, list[Item]]]:
    """Items by position, in the order of the checklist."""
    groups: dict[str, list[Item]] = {}
    for item in summary.items:
        groups.setdefault(item.position, []).append(item)
    return [(items[0].position_name, items) for items in groups.values()]


@cache
def _environment() -> Environment:
    """Everything is escaped and cleaned on its way into the page; nothing is trusted."""
    environment = Environment(
        loader=PackageLoader("voicecheck.logbook"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_finalize,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for show in (
        wording.allowed,
        wording.duration,
        wording.measured,
        wording.moment,
        wording.power,
        wording.stream,
        discrepancy,
        mel_data,
        what,
    ):
        environment.globals[show.__name__] = show
    return environment


def _finalize(value: object) -> object:
    """Text without line breaks, controls or direction marks; markup of our own as it is."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return wording.printable(value)
    return value
