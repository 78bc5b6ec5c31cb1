"""What is open, deferred or due, in one line for the eye."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime

from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.deferral import day_in
from voicecheck.logbook.discrepancies import Discrepancy, Done, Status
from voicecheck.logbook.wording import clean, joined, named
from voicecheck.words import say


def line_of(entry: Discrepancy, now: datetime) -> str:
    """In English "Engine fire: FIRE R dark; open since 2026-11-25, called 3 times"."""
    first, last = entry.first, entry.last
    parts = [
        say("open-finding", position=last.position_name, what=what_of(entry)),
        state_of(entry, now),
    ]
    if len(entry.findings) > 1:
        parts.append(say("open-found-times", n=len(entry.findings), when=last.day))
    if entry.repeats is not None:
        done = entry.repeats
        parts.append(say("open-again", reference=done.reference or _day(done, entry)))
    corrected = [done for done in entry.actions if done.kind == "corrected"]
    parts += [say("open-corrected", note=done.note) for done in corrected]
    if first.chapter:
        parts.append(say("open-chapter", chapter=first.chapter))
    return clean(say("row-facts-between").join(parts))


def what_of(entry: Discrepancy, words: Callable[..., str] = say) -> str:
    """What is wrong; where the newest finding names several lamps, of this one alone."""
    if len(entry.last.lamps) < 2:
        return entry.last.what
    if entry.lamp is None:
        return words("open-unnamed", what=entry.last.what)
    return words("finding-dark", lamps=entry.lamp)


def text_of(entry: Discrepancy) -> str:
    """Ready for the technical log; where the finding names several lamps, with which one."""
    if len(entry.last.lamps) < 2:
        return entry.last.text
    return f"{entry.last.text} {say('text-of-several', what=what_of(entry))}"


def _day(done: Done, entry: Discrepancy) -> date:
    """The operator's calendar day of an action."""
    return day_in(parse(done.at), entry.first.zone)


def state_of(entry: Discrepancy, now: datetime) -> str:
    """Status with its dates and references."""
    since = entry.first.day
    done = entry.deferral
    if entry.status is Status.CLEARED:
        last = [action for action in entry.actions if action.kind == "cleared"][-1]
        when = _day(last, entry)
        return say("open-cleared", when=when, who=last.who, reference=last.reference)
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
    if done.lamp:
        yield say("action-lamp", lamp=done.lamp)
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
