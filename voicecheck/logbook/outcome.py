"""The result of a session in words that claim no more than was recorded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from voicecheck.logbook.filed import Listed
from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Finding, Item, Summary
from voicecheck.logbook.wording import joined
from voicecheck.words import say, speaking


def result_of(listed: Listed) -> str:
    """The result of a filed session, and that its date is before what was filed earlier."""
    if listed.behind is None:
        return listed.result
    return say("behind-line", result=listed.result, session=listed.behind.session)


def standing(summary: Summary) -> list[Finding]:
    """Findings that no later test has replaced."""
    return [finding for finding in summary.findings if not finding.superseded]


def intermittent(summary: Summary) -> set[str]:
    """Items that stand as good although a finding of this session came and went."""
    return {finding.item for finding in summary.findings if finding.intermittent}


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
    count: Counter[str] = Counter(item.outcome for item in summary.items)
    count["not tested"] = max(count["not tested"], len(summary.not_tested))
    count["void"] = max(count["void"], len(summary.void))
    findings = len(standing(summary))
    parts = [
        say({0: "findings-none", 1: "findings-one"}.get(findings, "findings-many"), n=findings)
    ]
    if came_and_went := sum(finding.intermittent for finding in summary.findings):
        parts.append(say("result-intermittent", n=came_and_went))
    if retested := len(superseded(summary)):
        parts.append(say("result-retested", n=retested))
    told = [("not tested", "result-not-tested"), ("void", "result-void")]
    if not findings:
        told += [("satisfactory", "result-good"), ("not fitted", "result-not-fitted")]
    parts += [say(key, n=count[word]) for word, key in told if count[word]]
    parts.append(say("result-complete" if summary.complete else "result-incomplete"))
    return joined(parts)


def contradictions(summary: Summary) -> Sequence[str]:
    """Where the summary does not agree with itself, one sentence each; normally none.

    A record in which an item is both good and found wanting must not be read as good.
    """
    wanting = _wanting(summary)
    found = [told for item in summary.items for told in _against(item, wanting)]
    untested = [entry.id for entry in summary.not_tested]
    for key, names in (
        ("contradicts-void", _unlisted(summary, "void", summary.void)),
        ("contradicts-not-tested", _unlisted(summary, "not tested", untested)),
        ("contradicts-unknown", sorted(wanting - {item.id for item in summary.items})),
    ):
        found += [say(key, item=name) for name in names]
    still_open = [item.id for item in summary.items if item.outcome in ("not tested", "void")]
    if summary.complete and still_open:
        found.append(say("contradicts-complete", items=joined(still_open)))
    return found


def _wanting(summary: Summary) -> set[str]:
    """Items that a finding stands against, not counting what came and went."""
    return {finding.item for finding in standing(summary) if not finding.intermittent}


def _unlisted(summary: Summary, word: str, listed: Collection[str]) -> Sequence[str]:
    """Items that have an outcome and are not listed under it, or are listed and have it not."""
    marked = {item.id for item in summary.items if item.outcome == word}
    return sorted(marked.symmetric_difference(listed))


def _against(item: Item, wanting: Collection[str]) -> Iterator[str]:
    """Where an item's outcome does not agree with its callout and the findings."""
    if item.outcome == "satisfactory":
        if item.id in wanting:
            yield say("contradicts-found", item=item.id)
        if item.called is None or item.times is None:
            yield say("contradicts-uncalled", item=item.id)
    if item.outcome == "unsatisfactory" and item.id not in wanting:
        yield say("contradicts-unlisted", item=item.id)
