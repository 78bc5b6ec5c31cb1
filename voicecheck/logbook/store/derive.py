"""From a journal to the rows that stand for it: a pure step, so it can be checked again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from voicecheck.journal.format import Kind
from voicecheck.journal.reader import Journal
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.discrepancy import discrepancy, what
from voicecheck.logbook.lamps import lamps_in, lamps_of
from voicecheck.logbook.outcome import outcome
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.summary import Summary
from voicecheck.logbook.wording import clean
from voicecheck.words import say, speaking

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Rows:
    """Plain values by column. checks are (item, position_name, expected), one for each item."""

    session: Row
    items: list[Row]
    checks: list[tuple[str, str, str]]
    findings: list[Row]
    timings: list[Row]


def derive(session: Session) -> Rows:
    """All rows that follow from one session, in a fixed order and in its own words."""
    with speaking(session.words):
        return _derive(session)


def _derive(session: Session) -> Rows:
    journal, summary = session.journal, session.summary
    header, found = journal.header, journal.verification
    own = {
        "checklist": header.checklist.id,
        "started": format_utc(parse(header.started)),
        "ended": format_utc(parse(summary.ended)) if summary else None,
        "duration_s": summary.duration_s if summary else None,
        "complete": summary.complete if summary else None,
        "result": outcome(session),
        "zone": header.zone,
        "source": header.source.kind,
        "state": found.state.value,
        "lines": found.lines,
        "head": found.head,
    }
    if summary is None:
        return Rows(own, [], [], list(_noted(journal)), [])
    items = [
        {
            "ordinal": number,
            "outcome": item.outcome,
            "called": item.called,
            "reason": item.reason,
            "utc": format_utc(parse(item.times.utc)) if item.times else None,
        }
        for number, item in enumerate(summary.items, 1)
    ]
    checks = [(item.id, item.position_name, item.expected) for item in summary.items]
    return Rows(
        own, items, checks, list(_findings(session, summary)), list(_timings(journal, summary))
    )


def _findings(session: Session, summary: Summary) -> Iterator[Row]:
    for number, finding in enumerate(summary.findings, 1):
        mel = finding.mel
        yield {
            "ordinal": number,
            "item": finding.item,
            "position_name": finding.position_name,
            "what": what(finding),
            "utc": format_utc(parse(finding.utc)),
            "chapter": finding.chapter,
            "mel_item": mel.item if mel else None,
            "mel_category": mel.category if mel else None,
            "mel_days": mel.days if mel else None,
            "superseded": finding.superseded,
            "text": discrepancy(finding, summary, session.journal.header),
            "lamps": lamps_of(session.journal, finding),
        }


def _noted(journal: Journal) -> Iterator[Row]:
    """Findings of a session that broke off: the last result of each item, where it was bad.

    A crash must not hide what was called. The full text needs the summary and says so.
    """
    number = 0
    for item, (utc, facts) in _last_words(journal).items():
        if not facts:
            continue
        number += 1
        told = {
            key: clean(str(facts.get(key) or say("not-stated"))) for key in ("expected", "called")
        }
        reason = clean(str(facts.get("reason") or say("finding-none")))
        if facts.get("intermittent"):
            reason = say("finding-intermittent", what=reason)
        yield {
            "ordinal": number,
            "item": item,
            "position_name": item.partition(".")[0],
            "what": reason,
            "utc": utc,
            "chapter": None,
            "mel_item": None,
            "mel_category": None,
            "mel_days": None,
            "superseded": False,
            "text": say(
                "text-broken-off",
                airframe=clean(journal.header.airframe),
                item=item,
                what=reason,
                **told,
            ),
            "lamps": lamps_in(journal, item, facts.get("called"), facts.get("lamps")),
        }


_Noted = tuple[str, Mapping[str, Any]]


def _last_words(journal: Journal) -> dict[str, _Noted]:
    """When each item was last found bad, and what was noted then; nothing where it is good."""
    last: dict[str, _Noted] = {}
    visit: object = None
    for utc, kind, facts in _notes(journal):
        item = facts.get("item")
        if kind == "position":
            visit = facts.get("visit")
        elif kind == "finding" and isinstance(item, str):
            last[item] = (utc, {**facts, "visit": visit})
        elif kind in ("result", "withdrawn") and isinstance(item, str):
            last[item] = _after(last.get(item, (utc, {})), utc, facts, visit)
    return last


def _after(found: _Noted, utc: str, facts: Mapping[str, Any], visit: object) -> _Noted:
    """What is left of a finding: on another visit good news shows only that it came and went."""
    when, what = found
    if what and facts.get("outcome") == "satisfactory" and what["visit"] != visit:
        return when, {**what, "intermittent": True}
    return utc, {}


def _timings(journal: Journal, summary: Summary) -> Iterator[Row]:
    asked = list(_asked(journal))
    for number, timing in enumerate(summary.timings, 1):
        at = timing.at
        yield {
            "ordinal": number,
            "item": timing.item,
            "utc": _at(journal, at) if at is not None else format_utc(parse(summary.ended)),
            "lower": timing.lower,
            "upper": timing.upper,
            "low": timing.low,
            "high": timing.high,
            "verdict": timing.verdict,
            "asked": asked[number - 1] if number <= len(asked) else False,
        }


def _asked(journal: Journal) -> Iterator[bool]:
    """For each timing in turn: was the crew asked? Then it is an answer, not a measurement."""
    waiting: set[object] = set()
    for _, kind, facts in _notes(journal):
        if kind != "window":
            continue
        item, verdict = facts.get("item"), facts.get("verdict")
        if verdict == "asked":
            waiting.add(item)
        elif verdict == "running":
            waiting.discard(item)
        elif "low" in facts and "high" in facts:
            yield item in waiting
            waiting.discard(item)


def _notes(journal: Journal) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """(utc, kind, facts) of every note, in order."""
    for line in journal.lines:
        effects = line.fields.get("effects")
        if line.kind is not Kind.EVENT or not isinstance(effects, list):
            continue
        for effect in effects:
            if isinstance(effect, Mapping) and effect.get("type") == "note":
                facts = effect.get("facts")
                if isinstance(facts, Mapping):
                    yield format_utc(parse(line.utc)), str(effect.get("kind")), facts


def _at(journal: Journal, seconds: float) -> str:
    return format_utc(parse(journal.header.started) + timedelta(seconds=seconds))
