"""What an eye should see after an event: JSON-ready, a mirror without decisions."""

from __future__ import annotations

from typing import Any

from voicecheck.checklist.resolved import Item
from voicecheck.engine.questions import of_airframe
from voicecheck.engine.standing import Standing
from voicecheck.engine.told import told, what


def view_of(standing: Standing) -> dict[str, Any]:
    """Phase, position, items with their calls, power, windows, open question and findings."""
    state = standing.state
    return {
        "phase": standing.phase.value,
        **_here(standing),
        "power": standing.power,
        "windows": [{"item": w.item, "anchor": w.anchor} for w in state.windows],
        "question": _question(standing),
        "missing": [p.say for p in standing.missing()],
        "findings": _standing_findings(standing),
        "now": state.now,
    }


def _question(standing: Standing) -> list[str] | None:
    question = standing.state.question
    if question is None:
        return None
    airframe = [standing.checklist.registration] if of_airframe(standing.state) else []
    return [*airframe, *(claim.words for claim in question.claims)]


def _here(standing: Standing) -> dict[str, Any]:
    position = standing.position
    if position is None:
        return {"position": None, "position_name": None, "items": [], "outstanding": []}
    return {
        "position": position.id,
        "position_name": position.name,
        "items": [
            _item(standing, item)
            for item in position.called
            if not item.unforeseen or standing.counted(item)
        ],
        "outstanding": [item.expected for item in standing.outstanding(position)],
    }


def _item(standing: Standing, item: Item) -> dict[str, Any]:
    now = standing.result(item.id)
    return {
        "id": item.id,
        "expected": item.expected,
        "called": now.called if now else None,
        "outcome": now.outcome.value if now else None,
    }


def _standing_findings(standing: Standing) -> list[str]:
    return [
        what(standing, entry)
        for record in standing.state.records.values()
        for entry in told(record)
        if entry.intermittent or entry.result is record.now
    ]
