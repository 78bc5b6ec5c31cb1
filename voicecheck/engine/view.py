"""What an eye should see after an event: JSON-ready, a mirror without decisions."""

from __future__ import annotations

from typing import Any

from voicecheck.engine import observe, power
from voicecheck.engine.turn import Turn


def view_of(turn: Turn) -> dict[str, Any]:
    """Phase, position, items with their calls, power, windows, open question and findings."""
    position = turn.position
    state = turn.state
    items = []
    for item in position.items if position else ():
        now = turn.result(item.id)
        items.append(
            {
                "id": item.id,
                "expected": item.expected,
                "called": now.called if now else None,
                "outcome": now.outcome.value if now else None,
            }
        )
    return {
        "phase": turn.phase.value,
        "position": position.id if position else None,
        "position_name": position.name if position else None,
        "items": items,
        "outstanding": [i.expected for i in observe.outstanding(turn, position)]
        if position
        else [],
        "power": power.standing(turn),
        "windows": [{"item": w.item, "anchor": w.anchor} for w in state.windows],
        "question": [c.words for c in state.question.claims] if state.question else None,
        "missing": [p.say for p in turn.checklist.positions if observe.open_items(turn, p)],
        "findings": _standing_findings(turn),
        "now": state.now,
    }


def _standing_findings(turn: Turn) -> list[str]:
    return [
        record.now.reason or ""
        for record in turn.state.records.values()
        if record.now is not None and record.now.outcome.value == "unsatisfactory"
    ]
