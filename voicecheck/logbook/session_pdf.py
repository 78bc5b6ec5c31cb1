"""The report of one session as PDF: the same facts as the page, in the same order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.context import Context
from voicecheck.logbook.discrepancies import Done
from voicecheck.logbook.discrepancy import discrepancy, mel_data, what
from voicecheck.logbook.drawing import Box, Drawing, Line, Shape, Words
from voicecheck.logbook.integrity import words as record_words
from voicecheck.logbook.open_items import action_line, line_of
from voicecheck.logbook.outcome import contradictions, intermittent, outcome, standing, superseded
from voicecheck.logbook.paper import Paper
from voicecheck.logbook.rows import notes, rows
from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Finding, Item, Summary
from voicecheck.logbook.timeline import WIDTH, timeline
from voicecheck.logbook.trend.chart import chart
from voicecheck.logbook.trend.words import sentences
from voicecheck.logbook.wording import (
    allowed,
    called,
    duration,
    joined,
    measured,
    moment,
    named,
    power,
    stream,
)
from voicecheck.words import say, speaking


def session_pdf(session: Session, context: Context | None = None) -> bytes:
    """The document. The same session and context always give the same bytes."""
    with speaking(session.words):
        return _session_pdf(session, context)


def _session_pdf(session: Session, context: Context | None) -> bytes:
    header, summary = session.journal.header, session.summary
    made = parse(summary.ended if summary else header.started)
    title, caution = say("report-heading", airframe=header.airframe), say("caution")
    paper = Paper(title, made, caution, _every_word(session, context))
    paper.say(caution)
    paper.table(("", ""), list(_facts(session)), (30, 70))
    paper.say(say("result-line", result=outcome(session)), bold=True, size=11)
    if is_broken(session):
        told = say("broken-text", record=record_words(session.journal.verification))
        paper.say(f"{say('broken-head')} {told}", bold=True)
    if context is not None and context.behind is not None:
        before, when = context.behind.session, moment(context.behind.utc, header.zone)
        told = say("behind-text", session=before, when=when)
        paper.say(f"{say('behind-head')} {told}", bold=True)
    if summary is None:
        _unfinished(paper, session)
    else:
        _matters(paper, session, summary, context)
        _items(paper, summary, header.zone)
    picture = course(session)
    if picture is not None:
        paper.draw(picture)
    if context is not None:
        _context(paper, context)
    paper.heading(say("transcript"))
    if summary is not None:
        paper.say(say("counts", **summary.counts.model_dump()))
    paper.table(_columns("utc", "stream", "who", "what"), _transcript(session), (22, 9, 10, 59))
    _signatures(paper)
    return paper.finished()


def _columns(*keys: str) -> tuple[str, ...]:
    return tuple(say(key) for key in keys)


def _transcript(session: Session) -> Iterator[tuple[str, ...]]:
    for row in rows(session.journal):
        at = stream(row.start) if row.start is not None else ""
        yield moment(row.utc), at, named("who", row.who.lower()), row.text


def _facts(session: Session) -> Iterator[tuple[str, str]]:
    header, summary, found = session.journal.header, session.summary, session.journal.verification
    yield say("airframe"), header.airframe + (f" ({summary.type})" if summary else "")
    yield say("operator"), header.operator
    yield say("checklist"), f"{header.checklist.title} ({header.checklist.id})"
    yield say("pilot"), session.crew.pilot or say("not-named")
    yield say("second-crew"), session.crew.second or say("not-named")
    yield say("started"), moment(header.started, header.zone)
    if header.dated is not None:
        by, when = named("dated", header.dated.by), moment(header.dated.played, header.zone)
        yield say("dated"), say("dated-played", by=by, when=when)
    if summary is not None:
        yield (
            say("ended"),
            joined((moment(summary.ended, header.zone), duration(summary.duration_s))),
        )
    if header.temperature_c is not None:
        yield say("outside-air"), say("degrees", degrees=f"{header.temperature_c:g}")
    yield say("heard-from"), f"{named('source', header.source.kind)} {header.source.name}"
    yield say("session"), header.session
    yield say("record"), record_words(found)
    yield say("edition"), header.checklist.sha256
    yield say("listeners"), joined(header.listeners)
    yield say("written-by"), f"voicecheck {header.voicecheck}"


def _matters(paper: Paper, session: Session, summary: Summary, context: Context | None) -> None:
    if not summary.complete:
        paper.say(
            say("incomplete-line", reason=summary.reason or say("no-reason-short")), bold=True
        )
    for sentence in contradictions(summary):
        paper.say(say("contradiction-line", sentence=sentence), bold=True)
    paper.heading(say("findings"))
    found = [*standing(summary), *superseded(summary)]
    actions = context.actions if context is not None else {}
    for finding in found:
        number = summary.findings.index(finding) + 1  # as in SESSION/NUMBER, the logbook's name
        told = say("open-finding", position=finding.position_name, what=what(finding))
        told = say("retested", what=told) if finding.superseded else told
        paper.say(f"{number}. {told}", bold=True)
        paper.say(discrepancy(finding, summary, session.journal.header, session.crew))
        for line in _beside(finding, actions.get(number, ())):
            paper.say(line)
    if not found:
        paper.say(say("no-finding"))
    _gaps(paper, summary)


def _gaps(paper: Paper, summary: Summary) -> None:
    untested, void = named("outcome", "not tested"), named("outcome", "void")
    gaps = [(gap.id, untested, gap.reason or say("none-recorded")) for gap in summary.not_tested]
    gaps += [(name, void, say("see-items")) for name in summary.void]
    if gaps:
        paper.heading(say("not-tested-and-void"))
        paper.table(_columns("item", "outcome", "reason"), gaps, (30, 15, 55))


def _beside(finding: Finding, actions: Iterable[Done]) -> Iterator[str]:
    if finding.caution:
        yield say("caution-line", text=finding.caution)
    if finding.mel:
        yield say("mel-line", mel=mel_data(finding.mel))
    yield from (say("filed-line", action=action_line(done)) for done in actions)


def _items(paper: Paper, summary: Summary, zone: str) -> None:
    paper.heading(say("item-by-item"))
    gone = intermittent(summary)
    told = [row for item in summary.items for row in _item(item, zone, item.id in gone)]
    columns = _columns("item", "expected", "called", "outcome", "when-power")
    paper.table(columns, told, (20, 21, 18, 21, 20))
    if summary.power:
        paper.heading(say("power-called"))
        changes = (
            (p.bus, named("", p.state),
             say("when-in-stream", when=moment(p.utc), stream=stream(p.at)))
            for p in summary.power
        )  # fmt: skip
        paper.table(_columns("bus", "state", "when"), changes, (30, 15, 55))
    if summary.timings:
        paper.heading(say("timings"))
        timed = (
            (timing.item, allowed(timing.lower, timing.upper), measured(timing.low, timing.high),
             named("verdict", timing.verdict))
            for timing in summary.timings
        )  # fmt: skip
        paper.table(_columns("item", "allowed", "measured", "verdict"), timed, (25, 20, 35, 20))


def _item(item: Item, zone: str, intermittent: bool) -> Iterator[tuple[str, ...]]:
    """The item's own row, and one for each result that was recorded before it."""
    reason = say("intermittent-text") if intermittent else item.reason
    when = moment(item.times.utc, zone) if item.times else say("no-time")
    yield (
        f"{item.position_name}: {item.id}",
        item.expected,
        called(item),
        _because(item.outcome, reason),
        say("when-with-power", when=when, power=power(item.power)) if item.power else when,
    )
    for past in item.history:
        yield (
            say("earlier"),
            say("as-above"),
            called(past),
            _because(past.outcome, past.reason),
            stream(past.start) if past.start is not None else say("no-time"),
        )


def _because(outcome_: str, reason: str | None) -> str:
    told = named("outcome", outcome_)
    return say("outcome-because", outcome=told, reason=reason) if reason else told


def _unfinished(paper: Paper, session: Session) -> None:
    paper.say(say("incomplete-short"), bold=True)
    told = ((moment(row.utc), row.text) for row in notes(session.journal))
    paper.table(_columns("utc", "noted"), told, (22, 78))


def _context(paper: Paper, context: Context) -> None:
    when = moment(context.now.isoformat())
    paper.heading(say("open-as-of", airframe=context.airframe, when=when))
    for entry in context.standing:
        paper.say(line_of(entry, context.now))
    if not context.standing:
        paper.say(say("nothing-open"))
    for trend in context.trends:
        picture = chart(trend)
        if picture is not None:
            paper.draw(picture)
        else:
            paper.say(trend.item, bold=True)
        paper.say(" ".join(sentences(trend)))


def _signatures(paper: Paper) -> None:
    paper.heading(say("signatures"))
    rows_ = [(say(f"sign-{who}"), "", "", "") for who in ("crew", "maintenance")]
    columns = _columns("sign-name-column", "sign-signature", "sign-licence", "sign-date")
    paper.table(columns, rows_, (30, 30, 20, 20))


def course(session: Session) -> Drawing | None:
    """The timeline of the page as a drawing for paper."""
    found = timeline(session)
    if found is None:
        return None
    height = len(found.lanes) * 26 + 24
    shapes: list[Shape] = []
    for x, text in found.ticks:
        shapes += [Line(x, 0, x, height - 18, "tick"), Words(x, height - 4, text, "time", "middle")]
    for number, lane in enumerate(found.lanes):
        top = number * 26
        shapes.append(Words(0, top + 17, lane.name, "lane"))
        for bar in lane.bars:
            width = 3.0 if lane.kind == "finding" else bar.width
            shapes.append(Box(bar.x, top + 5, width, 15, bar.label, lane.kind))
            if bar.text:
                shapes.append(Words(bar.x + 4, top + 16, bar.text, "lane"))
    told = say("course-text", lanes=joined(lane.name for lane in found.lanes))
    return Drawing(WIDTH + 8, height, say("course-title"), told, tuple(shapes))


def _every_word(session: Session, context: Context | None) -> Iterator[str]:
    """All text that may be printed, so that fonts for every letter of it can be found."""
    yield from (part for pair in _facts(session) for part in pair)
    yield session.journal.header.model_dump_json(exclude={"checklist": {"resolved"}})
    yield from (*session.words.record.values(), *session.words.report.values())
    yield from (row.text for row in rows(session.journal))
    if session.summary is not None:
        yield session.summary.model_dump_json()
    if context is not None:
        yield context.airframe
        for entry in context.standing:
            yield line_of(entry, context.now)
        for actions in context.actions.values():
            yield from map(action_line, actions)
    yield "“”±°–·…"
