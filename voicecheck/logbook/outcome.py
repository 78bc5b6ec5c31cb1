"""The result of a session in words that claim no more than was recorded."""

from __future__ import annotations

from collections.abc import Sequence

from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Finding, Summary
from voicecheck.logbook.wording import joined
from voicecheck.words import say, speaking


def standing(summary: Summary) -> list[Finding]:
    """Findings that no later test has replaced."""
    return [finding for finding in summary.findings if not finding.superseded]


def superseded(summary: Summary) -> list[Finding]:
    """Findings whose item was tested again afterwards."""
    return [finding for finding in summary.findings if finding.superseded]


def outcome(session: Session) -> str:
    """The result in words; a record that was changed has none."""
    with speaking(session.words):
        return say("result-broken") if is_broken(session) else result_line(session.summary)


def result_line(summary: Summary | None) -> str:
    """In English "2 findings, 1 not tested, incomplete"; never that all is well."""
    if summary is None:
        return say("ended-no-summary")
    count = {
        outcome: sum(item.outcome == outcome for item in summary.items)
        for outcome in ("not tested", "void", "not fitted", "satisfactory")
    }
    count["not tested"] = max(count["not tested"], len(summary.not_tested))
    count["void"] = max(count["void"], len(summary.void))
    findings = len(standing(summary))
    parts = [
        say({0: "findings-none", 1: "findings-one"}.get(findings, "findings-many"), n=findings)
    ]
    if retested := len(superseded(summary)):
        parts.append(say("result-retested", n=retested))
    if count["not tested"]:
        parts.append(say("result-not-tested", n=count["not tested"]))
    if count["void"]:
        parts.append(say("result-void", n=count["void"]))
    if not findings and count["satisfactory"]:
        parts.append(say("result-good", n=count["satisfactory"]))
    if not findings and count["not fitted"]:
        parts.append(say("result-not-fitted", n=count["not fitted"]))
    parts.append(say("result-complete" if summary.complete else "result-incomplete"))
    return joined(parts)


def contradictions(summary: Summary) -> Sequence[str]:
    """Where the summary does not agree with itself, one sentence each; normally none.

    A record in which an item is both good and found wanting must not be read as good.
    """
    found = []
    wanting = {finding.item for finding in standing(summary)}
    known = {item.id: item for item in summary.items}
    for item in summary.items:
        if item.outcome == "satisfactory" and item.id in wanting:
            found.append(say("contradicts-found", item=item.id))
        if item.outcome == "satisfactory" and (item.called is None or item.times is None):
            found.append(say("contradicts-uncalled", item=item.id))
        if item.outcome == "unsatisfactory" and item.id not in wanting:
            found.append(say("contradicts-unlisted", item=item.id))
    for word, key, listed in (
        ("void", "contradicts-void", set(summary.void)),
        ("not tested", "contradicts-not-tested", {entry.id for entry in summary.not_tested}),
    ):
        marked = {item.id for item in summary.items if item.outcome == word}
        found += [say(key, item=name) for name in sorted(listed ^ marked)]
    for name in sorted(wanting - known.keys()):
        found.append(say("contradicts-unknown", item=name))
    still_open = [item.id for item in summary.items if item.outcome in ("not tested", "void")]
    if summary.complete and still_open:
        found.append(say("contradicts-complete", items=joined(still_open)))
    return found
