"""What is open, deferred or due, in one line for the eye."""

from __future__ import annotations

from datetime import datetime

from voicecheck.logbook.discrepancies import Discrepancy, Done, Status
from voicecheck.logbook.wording import clean


def line_of(entry: Discrepancy, now: datetime) -> str:
    """For instance "Engine fire: FIRE R dark; open since 2026-11-25, called 3 times"."""
    first, last = entry.first, entry.last
    parts = [f"{last.position_name}: {last.what}", state_of(entry, now)]
    if len(entry.findings) > 1:
        parts.append(f"found {len(entry.findings)} times, last {last.utc[:10]}")
    if entry.repeats is not None:
        done = entry.repeats
        parts.append(f"came up again after sign-off {done.reference or done.at[:10]}")
    parts += [f"corrected: {done.note}" for done in entry.actions if done.kind == "corrected"]
    if first.chapter:
        parts.append(f"system chapter {first.chapter}")
    return clean("; ".join(parts))


def state_of(entry: Discrepancy, now: datetime) -> str:
    """Status with its dates and references."""
    since = entry.first.utc[:10]
    done = entry.deferral
    if entry.status is Status.CLEARED:
        last = [action for action in entry.actions if action.kind == "cleared"][-1]
        return f"cleared {last.at[:10]} by {last.who}, reference {last.reference}"
    if done is None:
        return f"open since {since}"
    past = ", which has passed" if entry.overdue(now) else ""
    return (
        f"deferred, category {done.category}, found {since}, due by the end of {done.due} "
        f"({done.zone}){past}; by {done.who}, reference {done.reference}"
    )


def action_line(done: Done) -> str:
    """For instance "deferred 2026-11-26T08:00:00.000Z by M. Dipper, reference TL 7"."""
    parts = [f"{done.kind} {done.at} by {done.who}"]
    if done.reference:
        parts.append(f"reference {done.reference}")
    if done.due:
        parts.append(f"due by the end of {done.due} ({done.zone})")
    if done.note:
        parts.append(done.note)
    return clean(", ".join(parts))
