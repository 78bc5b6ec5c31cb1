"""What an eye needs at a glance: the engine's state with captions, limits and what is left.

Pure: derived from the engine by the engine's own rules, JSON-ready. The view in the effects
stays as journals know it; this goes only to displays.
"""

from __future__ import annotations

from typing import Any

from voicecheck.checklist.resolved import Checklist, Item, Position
from voicecheck.engine import Engine, observe, power
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Outcome, Record
from voicecheck.engine.turn import Turn


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
    turn = engine.look()
    state = turn.state
    here = turn.position
    finished = turn.phase is Phase.FINISHED
    ahead = None if finished else observe.next_position(turn)
    return {
        **heading(turn.checklist),
        "phase": turn.phase.value,
        "visit": state.visit,
        "position": _position(turn, here) if here else None,
        "items": [_item(turn, here, item) for item in here.items] if here else [],
        "next": {"name": ahead.name, "say": ahead.select[0]} if ahead else None,
        "power": _power(turn, here),
        "windows": _windows(turn),
        "question": _question(turn),
        "positions": [_listed(turn, position) for position in turn.checklist.positions],
        "findings": _findings(turn),
        "not_fitted": list(dict.fromkeys(gone.position_name for gone in _whole(turn.checklist))),
        "held": state.held_reason if turn.phase is Phase.HELD else None,
        "lost": list(state.lost),
        "timed_from": state.battery_from,
        "complete": state.complete,
        "ended": state.ended,
        "now": state.now,
    }


def _whole(checklist: Checklist) -> list[Any]:
    return [gone for gone in checklist.not_fitted if gone.say is not None]


def _position(turn: Turn, position: Position) -> dict[str, Any]:
    ids = [known.id for known in turn.checklist.positions]
    return {
        "id": position.id,
        "name": position.name,
        "number": ids.index(position.id) + 1,
        "of": len(ids),
        "caution": position.caution,
        "changed": position.changed,
    }


def _item(turn: Turn, position: Position, item: Item) -> dict[str, Any]:
    now = turn.result(item.id)
    waits = [
        turn.item(needed).expected
        for needed in item.after
        if (before := turn.this_visit(needed)) is None or before.outcome is not Outcome.SATISFACTORY
    ]
    asked = turn.state.read_back
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
        "blocked": observe.blocked(turn, item),
        "timed": item.window is not None,
        "lacks": power.lacking(turn, power.needs(position, item)),
        "which_dark": turn.state.dark_asked == item.id,
        "read_back": asked.said.words if asked is not None and asked.item == item.id else None,
    }


def _power(turn: Turn, position: Position | None) -> list[dict[str, Any]]:
    known = power.standing(turn)
    claimed = turn.state.question.claims if turn.state.question else ()
    open_claims = {
        claim.callout.split(":")[1] for claim in claimed if claim.callout[:6] == "power:"
    }
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
        for bus in turn.checklist.buses
    ]


def _windows(turn: Turn) -> list[dict[str, Any]]:
    found = []
    for window in turn.state.windows:
        item = turn.item(window.item)
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


def _question(turn: Turn) -> dict[str, Any] | None:
    question = turn.state.question
    if question is None:
        return None
    return {"ask": question.ask.value, "words": [claim.words for claim in question.claims]}


def _listed(turn: Turn, position: Position) -> dict[str, Any]:
    standing = [turn.result(item.id) for item in position.items]
    return {
        "id": position.id,
        "name": position.name,
        "say": position.say,
        "left": len(observe.open_items(turn, position)),
        "items": len(position.items),
        "findings": sum(1 for r in standing if r and r.outcome is Outcome.UNSATISFACTORY),
    }


def _findings(turn: Turn) -> list[dict[str, Any]]:
    found = []
    for position in turn.checklist.positions:
        for item in position.items:
            now = turn.state.records.get(item.id, Record()).now
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
