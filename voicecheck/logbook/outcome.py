"""The result of a session in words that claim no more than was recorded."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence

from voicecheck.logbook.sessions import Session, is_broken
from voicecheck.logbook.summary import Finding, Item, Summary


def standing(summary: Summary) -> list[Finding]:
    """Findings that no later test has replaced."""
    return [finding for finding in summary.findings if not finding.superseded]


def superseded(summary: Summary) -> list[Finding]:
    """Findings whose item was tested again afterwards."""
    return [finding for finding in summary.findings if finding.superseded]


def outcome(session: Session) -> str:
    """The result in words; a record that was changed has none."""
    if is_broken(session):
        return "not reliable: the record was changed after it was written"
    return result_line(session.summary)


def result_line(summary: Summary | None) -> str:
    """For instance "2 findings, 1 not tested, incomplete"; never that all is well."""
    if summary is None:
        return "incomplete: the session ended without a summary"
    count: Counter[str] = Counter(item.outcome for item in summary.items)
    count["not tested"] = max(count["not tested"], len(summary.not_tested))
    count["void"] = max(count["void"], len(summary.void))
    findings = len(standing(summary))
    parts = [f"{findings or 'no'} finding{'' if findings == 1 else 's'}"]
    if retested := len(superseded(summary)):
        parts.append(f"{retested} more re-tested")
    parts += [f"{count[word]} {word}" for word in ("not tested", "void") if count[word]]
    if not findings:
        good = (("satisfactory", "called as expected"), ("not fitted", "not fitted"))
        parts += [f"{count[word]} {told}" for word, told in good if count[word]]
    parts.append("complete" if summary.complete else "incomplete")
    return ", ".join(parts)


def contradictions(summary: Summary) -> Sequence[str]:
    """Where the summary does not agree with itself, one sentence each; normally none.

    A record in which an item is both good and found wanting must not be read as good.
    """
    wanting = {finding.item for finding in standing(summary)}
    found = [told for item in summary.items for told in _against(item, wanting)]
    found += _unlisted(summary, "void", summary.void)
    found += _unlisted(summary, "not tested", [entry.id for entry in summary.not_tested])
    for name in sorted(wanting - {item.id for item in summary.items}):
        found.append(f"A finding names {name}, which is not among the items.")
    still_open = [item.id for item in summary.items if item.outcome in ("not tested", "void")]
    if summary.complete and still_open:
        found.append(f"The session is marked complete, but {', '.join(still_open)} stand open.")
    return found


def _unlisted(summary: Summary, word: str, listed: Collection[str]) -> Iterator[str]:
    """Items that have an outcome and are not listed under it, or are listed and have it not."""
    marked = {item.id for item in summary.items if item.outcome == word}
    for name in sorted(marked.symmetric_difference(listed)):
        yield f"{name} is {word} in one list and not in the other."


def _against(item: Item, wanting: Collection[str]) -> Iterator[str]:
    """Where an item's outcome does not agree with its callout and the findings."""
    if item.outcome == "satisfactory":
        if item.id in wanting:
            yield f"{item.id} is recorded as satisfactory, but a finding stands against it."
        if item.called is None or item.times is None:
            yield f"{item.id} is recorded as satisfactory, but no callout is recorded."
    if item.outcome == "unsatisfactory" and item.id not in wanting:
        yield f"{item.id} is recorded as unsatisfactory, but no finding is listed."
