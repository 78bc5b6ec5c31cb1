"""What of a session is needed for the engine to err: the rest is left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine, effects
from voicecheck.engine.events import Ended, Event
from voicecheck.oracle.heard import delivered, witnessed
from voicecheck.oracle.plan import Plan


def blamed(checklist: Checklist, events: Sequence[Event]) -> frozenset[str]:
    """Items that stand as good, and have no cause in these events."""
    engine, session = Engine(checklist), []
    summary: Mapping[str, Any] = {"items": ()}
    for event in events:
        made = engine.handle(event)
        session.append(delivered(event, made))
        summary = next((e.summary for e in made if isinstance(e, effects.Finish)), summary)
    heard = witnessed(Plan(checklist), session)
    good = {item["id"] for item in summary["items"] if item["outcome"] == "satisfactory"}
    return frozenset(item for item in good if not heard.words[item].good)


def shrunk(events: Sequence[Event], still: Callable[[Sequence[Event]], bool]) -> tuple[Event, ...]:
    """As few of the events as will do (delta debugging, Zeller and Hildebrandt, 2002).

    still: whether it is still wrong; true of all the events. The first and the last stay.
    """
    kept = tuple(events)
    size = max(1, len(kept) // 2)
    while True:
        at, before = 1, kept
        while at < len(kept) - isinstance(kept[-1], Ended):
            last = len(kept) - isinstance(kept[-1], Ended)
            tried = (*kept[:at], *kept[min(at + size, last) :])
            if still(tried):
                kept = tried
            else:
                at += size
        if size == 1 and kept == before:
            return kept
        size = max(1, size // 2)
