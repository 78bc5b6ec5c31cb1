"""The report of one session as PDF: the same facts as the page, in the same order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from voicecheck.caution import CAUTION
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.context import Context
from voicecheck.logbook.discrepancies import Done
from voicecheck.logbook.discrepancy import discrepancy, mel_data, what
from voicecheck.logbook.drawing import Box, Drawing, Line, Shape, Words
from voicecheck.logbook.integrity import words
from voicecheck.logbook.open_items import action_line, line_of
from voicecheck.logbook.outcome import contradictions, outcome, standing, superseded
from voicecheck.logbook.paper import Paper
from voicecheck.logbook.rows import notes, rows
from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Finding, Item, Summary
from voicecheck.logbook.timeline import WIDTH, timeline
from voicecheck.logbook.trend.chart import chart
from voicecheck.logbook.trend.words import sentences
from voicecheck.logbook.wording import allowed, duration, measured, moment, power, stream


def session_pdf(session: Session, context: Context | None = None) -> bytes:
    """The document. The same session and context always give the same bytes."""
    header, summary = session.journal.header, session.summary
    made = parse(summary.ended if summary else header.started)
    paper = Paper(
        f"Warning-system test, {header.airframe}", made, CAUTION, _every_word(session, context)
    )
    paper.say(CAUTION)
    paper.table(("", ""), list(_facts(session)), (30, 70))
    paper.say(f"Result: {outcome(session)}", bold=True, size=11)
    if is_broken(session):
        paper.say(
            "Do not rely on this record. It was changed after it was written: "
            f"{words(session.journal.verification)}.",
            bold=True,
        )
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
    paper.heading("Transcript")
    if summary is not None:
        counts = summary.counts
        paper.say(
            f"Callouts heard: {counts.heard}. Asked again: {counts.unclear}. "
            f"Left alone: {counts.ignored}."
        )
    told = (
        (moment(row.utc), stream(row.start) if row.start is not None else "", row.who, row.text)
        for row in rows(session.journal)
    )
    paper.table(("UTC", "Stream", "Who", "What"), told, (22, 9, 10, 59))
    _signatures(paper)
    return paper.finished()


def _facts(session: Session) -> Iterator[tuple[str, str]]:
    header, summary, found = session.journal.header, session.summary, session.journal.verification
    yield "Airframe", header.airframe + (f" ({summary.type})" if summary else "")
    yield "Operator", header.operator
    yield "Checklist", f"{header.checklist.title} ({header.checklist.id})"
    yield "Pilot", session.crew.pilot or "not named"
    yield "Second crew member", session.crew.second or "not named"
    yield "Started", moment(header.started, header.zone)
    if summary is not None:
        yield "Ended", f"{moment(summary.ended, header.zone)}, {duration(summary.duration_s)}"
    if header.temperature_c is not None:
        yield "Outside air", f"{header.temperature_c:g} °C"
    yield "Heard from", f"{header.source.kind} {header.source.name}"
    yield "Session", header.session
    yield "Record", words(found)
    yield "Checklist edition", header.checklist.sha256
    yield "Listeners", ", ".join(header.listeners)
    yield "Written by", f"voicecheck {header.voicecheck}"


def _matters(paper: Paper, session: Session, summary: Summary, context: Context | None) -> None:
    if not summary.complete:
        paper.say(f"Incomplete: {summary.reason or 'no reason recorded'}", bold=True)
    for sentence in contradictions(summary):
        paper.say(f"The record contradicts itself: {sentence}", bold=True)
    paper.heading("Findings")
    found = [
        *((f, "") for f in standing(summary)),
        *((f, "Re-tested: ") for f in superseded(summary)),
    ]
    actions = context.actions if context is not None else {}
    for finding, note in found:
        number = summary.findings.index(finding) + 1  # as in SESSION/NUMBER, the logbook's name
        paper.say(f"{number}. {note}{finding.position_name}: {what(finding)}", bold=True)
        paper.say(discrepancy(finding, summary, session.journal.header, session.crew))
        for line in _beside(finding, actions.get(number, ())):
            paper.say(line)
    if not found:
        paper.say(
            "No finding stands recorded. That says what was called, not what the systems are "
            "fit for."
        )
    _gaps(paper, summary)


def _gaps(paper: Paper, summary: Summary) -> None:
    gaps = [(gap.id, "not tested", gap.reason or "none recorded") for gap in summary.not_tested]
    gaps += [(name, "void", "see item by item") for name in summary.void]
    if gaps:
        paper.heading("Not tested and void")
        paper.table(("Item", "Outcome", "Reason"), gaps, (30, 15, 55))


def _beside(finding: Finding, actions: Iterable[Done]) -> Iterator[str]:
    if finding.caution:
        yield f"Caution: {finding.caution}"
    if finding.mel:
        yield f"MEL reference data, not a decision: {mel_data(finding.mel)}"
    yield from (f"Filed: {action_line(done)}" for done in actions)


def _items(paper: Paper, summary: Summary, zone: str) -> None:
    paper.heading("Item by item")
    told = [row for item in summary.items for row in _item(item, zone)]
    paper.table(
        ("Item", "Expected", "Called", "Outcome", "When, power"), told, (20, 21, 18, 21, 20)
    )
    if summary.power:
        paper.heading("Power as the crew called it")
        changes = ((p.bus, p.state, f"{moment(p.utc)} ({stream(p.at)})") for p in summary.power)
        paper.table(("Bus", "State", "When"), changes, (30, 15, 55))
    if summary.timings:
        paper.heading("Timings")
        timed = (
            (timing.item, allowed(timing.lower, timing.upper), measured(timing.low, timing.high),
             timing.verdict)
            for timing in summary.timings
        )  # fmt: skip
        paper.table(("Item", "Allowed", "Measured", "Verdict"), timed, (25, 20, 35, 20))


def _item(item: Item, zone: str) -> Iterator[tuple[str, ...]]:
    """The item's own row, and one for each result that was recorded before it."""
    yield (
        f"{item.position_name}: {item.id}",
        item.expected,
        item.called or "nothing",
        item.outcome + (f". {item.reason}" if item.reason else ""),
        (moment(item.times.utc, zone) if item.times else "no time")
        + (f"; power {power(item.power)}" if item.power else ""),
    )
    for past in item.history:
        yield (
            "earlier",
            "as above",
            past.called or "nothing",
            past.outcome + (f". {past.reason}" if past.reason else ""),
            stream(past.start) if past.start is not None else "no time",
        )


def _unfinished(paper: Paper, session: Session) -> None:
    paper.say(
        "Incomplete: the session has no summary. Whatever is not named here was not tested.",
        bold=True,
    )
    told = ((moment(row.utc), row.text) for row in notes(session.journal))
    paper.table(("UTC", "Noted until the session broke off"), told, (22, 78))


def _context(paper: Paper, context: Context) -> None:
    paper.heading(f"Open on {context.airframe}, as of {moment(context.now.isoformat())}")
    for entry in context.standing:
        paper.say(line_of(entry, context.now))
    if not context.standing:
        paper.say("No finding is open or deferred in the logbook.")
    for trend in context.trends:
        picture = chart(trend)
        if picture is not None:
            paper.draw(picture)
        else:
            paper.say(trend.item, bold=True)
        paper.say(" ".join(sentences(trend)))


def _signatures(paper: Paper) -> None:
    paper.heading("Signatures")
    rows_ = [(who, "", "", "") for who in ("Crew", "Maintenance")]
    paper.table(
        ("Name", "Signature", "Licence no.", "Date and time (UTC)"), rows_, (30, 30, 20, 20)
    )


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
    names = ", ".join(lane.name for lane in found.lanes)
    return Drawing(WIDTH + 8, height, "Course of the session over stream time",
                   f"Lanes for {names}. The transcript holds the same in words.",
                   tuple(shapes))  # fmt: skip


def _every_word(session: Session, context: Context | None) -> Iterator[str]:
    """All text that may be printed, so that fonts for every letter of it can be found."""
    yield from (part for pair in _facts(session) for part in pair)
    yield session.journal.header.model_dump_json(exclude={"checklist": {"resolved"}})
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
