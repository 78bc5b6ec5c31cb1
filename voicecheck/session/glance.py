"""What an eye needs at a glance: the engine's state with captions, limits and what is left.

Pure: derived from the engine by the engine's own rules, JSON-ready. The view in the effects
stays as journals know it; this goes only to displays.
"""

from __future__ import annotations

from typing import Any

from voicecheck.checklist.resolved import Checklist, Item, Position
from voicecheck.engine import Engine
from voicecheck.engine.actions import SetPower
from voicecheck.engine.phases import Phase
from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Outcome


def heading(checklist: Checklist) -> dict[str, Any]:
    """What never changes in a session: whose checklist this is."""
    return {
        "title": checklist.title,
        "type": checklist.type,
        "registration": checklist.registration,
        "operator": checklist.operator,
    }


def glance(engine: Engine) -> dict[str, Any]:
    """Where we are, what is expected, what stands, what is left. Times are stream seconds."""
    standing = Standing(engine.checklist, engine.state)
    state = standing.state
    here = standing.position
    finished = standing.phase is Phase.FINISHED
    ahead = None if finished else standing.next_position()
    return {
        **heading(standing.checklist),
        "phase": standing.phase.value,
        "visit": state.visit,
        "position": _position(standing, here) if here else None,
        "items": [_item(standing, here, item) for item in _shown(standing, here)] if here else [],
        "next": {"name": ahead.name, "say": ahead.select[0]} if ahead else None,
        "power": _power(standing, here),
        "windows": _windows(standing),
        "question": _question(standing),
        "positions": [_listed(standing, position) for position in standing.checklist.positions],
        "findings": _findings(standing),
        "not_fitted": list(
            dict.fromkeys(gone.position_name for gone in _whole(standing.checklist))
        ),
        "held": standing.why_held if standing.phase is Phase.HELD else None,
        "lost": list(state.lost),
        "timed_from": state.battery_from,
        "complete": state.complete,
        "ended": state.ended,
        "now": state.now,
    }


def _whole(checklist: Checklist) -> list[Any]:
    return [gone for gone in checklist.not_fitted if gone.say is not None]


def _position(standing: Standing, position: Position) -> dict[str, Any]:
    ids = [known.id for known in standing.checklist.positions]
    return {
        "id": position.id,
        "name": position.name,
        "number": ids.index(position.id) + 1,
        "of": len(ids),
        "caution": position.caution,
        "changed": position.changed,
    }


def _shown(standing: Standing, position: Position) -> list[Item]:
    """What is expected here, and whatever else was called."""
    return [i for i in position.called if not i.unforeseen or standing.counted(i)]


def _item(standing: Standing, position: Position, item: Item) -> dict[str, Any]:
    now = standing.result(item.id)
    waits = [
        standing.checklist.item(needed).expected
        for needed in item.after
        if not standing.stage_done(item, needed)
    ]
    asked = standing.state.first_call
    dark = set(now.dark) if now is not None else set()
    return {
        "id": item.id,
        "expected": item.expected,
        "lamps": [
            {
                "caption": lamp.caption,
                "colour": lamp.colour,
                "lit": lamp.lit,
                "dark": lamp.caption in dark,
            }
            for lamp in item.lamps
        ],
        "outcome": now.outcome.value if now else None,
        "called": now.called if now else None,
        "reason": now.reason if now else None,
        "waits": waits,
        "blocked": standing.blocked(item),
        "timed": item.window is not None,
        "lacks": standing.lacking(item.power),
        "which_dark": standing.state.dark_asked == item.id,
        "read_back": asked.said.words if asked is not None and asked.item == item.id else None,
    }


def _power(standing: Standing, position: Position | None) -> list[dict[str, Any]]:
    known = standing.power
    claimed = (claim.action for claim in standing.state.claims)
    open_claims = {action.bus for action in claimed if isinstance(action, SetPower)}
    wanted = dict(position.power) if position else {}
    return [
        {
            "bus": bus.id,
            "label": bus.label,
            "state": known.get(bus.id),
            "asked": bus.id in open_claims,
            "wanted": wanted.get(bus.id),
            "minutes": bus.minutes,
        }
        for bus in standing.checklist.buses
    ]


def _windows(standing: Standing) -> list[dict[str, Any]]:
    found = []
    for window in standing.state.windows:
        item = standing.checklist.item(window.item)
        if item.window is None:
            continue
        found.append(
            {
                "item": item.id,
                "expected": item.expected,
                "anchor": window.anchor,
                "lower": item.window.lower,
                "upper": item.window.upper,
                "call": item.readings[0].phrases[0],
            }
        )
    return found


def _question(standing: Standing) -> dict[str, Any] | None:
    question = standing.state.question
    if question is None:
        return None
    return {"ask": question.ask.value, "words": [claim.words for claim in question.claims]}


def _listed(standing: Standing, position: Position) -> dict[str, Any]:
    results = [standing.result(item.id) for item in position.called]
    return {
        "id": position.id,
        "name": position.name,
        "say": position.say,
        "left": len(standing.open_items(position)),
        "items": len(position.items),
        "findings": sum(1 for r in results if r and r.outcome is Outcome.UNSATISFACTORY),
    }


def _findings(standing: Standing) -> list[dict[str, Any]]:
    found = []
    for position in standing.checklist.positions:
        for item in position.called:
            now = standing.result(item.id)
            if now is not None and now.outcome is Outcome.UNSATISFACTORY:
                found.append(
                    {
                        "item": item.id,
                        "position": position.name,
                        "what": now.reason or now.called,
                        "expected": item.expected,
                        "at": now.start,
                    }
                )
    return sorted(found, key=lambda finding: finding["at"])
