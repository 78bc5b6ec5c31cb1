"""What is open, deferred or due, in one line for the eye."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from voicecheck.logbook.discrepancies import Discrepancy, Done, Status
from voicecheck.logbook.wording import clean, joined, named
from voicecheck.words import say


def line_of(entry: Discrepancy, now: datetime) -> str:
    """In English "Engine fire: FIRE R dark; open since 2026-11-25, called 3 times"."""
    first, last = entry.first, entry.last
    parts = [
        say("open-finding", position=last.position_name, what=last.what),
        state_of(entry, now),
    ]
    if len(entry.findings) > 1:
        parts.append(say("open-found-times", n=len(entry.findings), when=last.utc[:10]))
    if entry.repeats is not None:
        done = entry.repeats
        parts.append(say("open-again", reference=done.reference or done.at[:10]))
    corrected = [done for done in entry.actions if done.kind == "corrected"]
    parts += [say("open-corrected", note=done.note) for done in corrected]
    if first.chapter:
        parts.append(say("open-chapter", chapter=first.chapter))
    return clean(say("row-facts-between").join(parts))


def state_of(entry: Discrepancy, now: datetime) -> str:
    """Status with its dates and references."""
    since = entry.first.utc[:10]
    done = entry.deferral
    if entry.status is Status.CLEARED:
        last = [action for action in entry.actions if action.kind == "cleared"][-1]
        return say("open-cleared", when=last.at[:10], who=last.who, reference=last.reference)
    if done is None:
        return say("open-since", when=since)
    return say(
        "open-deferred-past" if entry.overdue(now) else "open-deferred",
        category=done.category,
        since=since,
        due=done.due,
        zone=done.zone,
        who=done.who,
        reference=done.reference,
    )


def action_facts(done: Done) -> str:
    """When, by whom, and what goes with it, but for what kind of action it was."""
    told = [say("action-at", when=done.at, who=done.who), *_with(done)]
    return joined(told) + (f": {done.note}" if done.note else "")


def _with(done: Done) -> Iterator[str]:
    if done.reference:
        yield say("action-reference", reference=done.reference)
    if done.due:
        yield say("action-due", due=done.due, zone=done.zone)


def action_line(done: Done) -> str:
    """In English "deferred 2026-11-26T08:00:00.000Z by M. Dipper, reference TL 7"."""
    parts = [say("action", kind=named("act", done.kind), when=done.at, who=done.who)]
    parts += _with(done)
    if done.note:
        parts.append(done.note)
    return clean(joined(parts))
