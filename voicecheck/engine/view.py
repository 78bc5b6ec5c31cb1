"""What an eye should see after an event: JSON-ready, a mirror without decisions."""

from __future__ import annotations

from typing import Any

from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Outcome


def view_of(standing: Standing) -> dict[str, Any]:
    """Phase, position, items with their calls, power, windows, open question and findings."""
    position = standing.position
    state = standing.state
    items = []
    for item in position.items if position else ():
        now = standing.result(item.id)
        items.append(
            {
                "id": item.id,
                "expected": item.expected,
                "called": now.called if now else None,
                "outcome": now.outcome.value if now else None,
            }
        )
    return {
        "phase": standing.phase.value,
        "position": position.id if position else None,
        "position_name": position.name if position else None,
        "items": items,
        "outstanding": [i.expected for i in standing.outstanding(position)] if position else [],
        "power": standing.power,
        "windows": [{"item": w.item, "anchor": w.anchor} for w in state.windows],
        "question": [c.words for c in state.question.claims] if state.question else None,
        "missing": [p.say for p in standing.missing()],
        "findings": _standing_findings(standing),
        "now": state.now,
    }


def _standing_findings(standing: Standing) -> list[str]:
    return [
        record.now.reason or ""
        for record in standing.state.records.values()
        if record.now is not None and record.now.outcome is Outcome.UNSATISFACTORY
    ]
