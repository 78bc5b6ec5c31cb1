"""The findings of an item that are told: those that stand, and those that came and went.

A finding is not told away by good news of another visit. Somebody saw the fault, and then it was
gone: it is intermittent, and stays open beside what stands as good. Bettered in the visit in
which it was called (a miscount) it is superseded.
"""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter

from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Outcome, Record, Result


@dataclass(frozen=True, slots=True)
class Told:
    """One finding. bettered: good was called later in its visit, and was not taken back.

    superseded: a later result took its place. intermittent: it came and went.
    """

    result: Result
    bettered: bool
    superseded: bool
    intermittent: bool


def told(record: Record) -> list[Told]:
    """The findings of one item, in the order of the calls.

    What tells nothing, or stands no longer, takes no finding away: another finding does, and
    what stands as good, if it was called good in the same visit.
    """
    if not _ever_bad(record):
        return []
    counted = _counted(record)
    bad = [result for result in counted if result.outcome is Outcome.UNSATISFACTORY]
    last = max(
        (result for result in counted if result in bad or result is record.now),
        key=attrgetter("call"),
        default=None,
    )
    found = []
    for result in bad:
        bettered = _bettered(result, counted)
        gone = last not in bad and not bettered
        found.append(Told(result, bettered, result is not last and not gone, gone))
    return found


def _ever_bad(record: Record) -> bool:
    """Whether anything bad was called of it at all: of most items nothing was, ever."""
    now = record.now
    if now is not None and now.outcome is Outcome.UNSATISFACTORY:
        return True
    return any(result.outcome is Outcome.UNSATISFACTORY for result in record.past)


def _counted(record: Record) -> list[Result]:
    """What says something of the aircraft, in order: what stands, and what was not undone."""
    past = [result for result in record.past if result.withdrawn is None]
    now = [record.now] if record.now is not None else []
    return sorted((r for r in (*past, *now) if r.counted), key=attrgetter("call"))


def _bettered(finding: Result, counted: list[Result]) -> bool:
    """Whether good was called later in the visit of the finding."""
    return any(
        result.outcome is Outcome.SATISFACTORY
        and result.visit == finding.visit
        and result.call > finding.call
        for result in counted
    )


def open_finding(record: Record) -> Result | None:
    """The finding that nothing took the place of."""
    found = [entry for entry in told(record) if not (entry.superseded or entry.intermittent)]
    return found[-1].result if found else None


def found_before(standing: Standing, item_id: str) -> Result | None:
    """A finding that good news would now follow: it stands, or was called in another visit."""
    if standing.bad_here(item_id):
        return standing.this_visit(item_id)
    found = open_finding(standing.record(item_id))
    return found if found is not None and found.visit != standing.state.visit else None


def names(standing: Standing) -> list[str]:
    """What was found, by name: all that stands and all that is intermittent."""
    return [
        standing.checklist.named(position, what(standing, entry))
        for position in standing.checklist.positions
        for item in position.called
        for entry in told(standing.record(item.id))
        if not entry.superseded
    ]


def what(standing: Standing, entry: Told) -> str:
    """A finding in few words, with its state."""
    reason = entry.result.reason or standing.text("finding-none")
    return standing.text("finding-intermittent", what=reason) if entry.intermittent else reason


def untested(standing: Standing) -> list[str]:
    """What is not tested, by name: a position of which nothing is, or its items."""
    left = []
    for position in standing.checklist.positions:
        items = [item for item in position.items if not standing.counted(item)]
        if len(items) == len(position.items) and items:
            left.append(position.say)
        else:
            left += [standing.checklist.named(position, item.expected) for item in items]
    return left
