"""The result of a session, derived from its state: JSON-ready, times in stream seconds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from voicecheck.checklist.resolved import Checklist, Item, Mel, NotFitted, Position
from voicecheck.engine.effects import Say
from voicecheck.engine.putting_back import was_thrown
from voicecheck.engine.standing import Standing
from voicecheck.engine.state import Outcome, Record, Result, SessionState, Timing
from voicecheck.engine.told import Told, told


def summarise(checklist: Checklist, state: SessionState) -> dict[str, object]:
    """Items, findings, void and not-tested lists, timings and power of a session."""
    standing = Standing(checklist, state)
    items = [
        _item(standing, position, item)
        for position in checklist.positions
        for item in position.called
        if not item.unforeseen or standing.counted(item)
    ]
    items += [_not_fitted(gone) for gone in checklist.not_fitted]
    return {
        "complete": state.complete,
        "reason": state.ended,
        "ended_at": round(state.now, 3),
        "items": items,
        "findings": list(_findings(checklist, state)),
        "void": [item["id"] for item in items if item["outcome"] == Outcome.VOID.value],
        "not_tested": [
            {"id": item["id"], "reason": item["reason"]}
            for item in items
            if item["outcome"] == Outcome.NOT_TESTED.value
        ],
        "timings": [_timing(timing) for timing in state.timings],
        "power": [{"bus": bus, "state": s, "at": round(at, 3)} for bus, s, at in state.power_log],
        "counts": {"heard": state.heard_count, "unclear": state.unclear_count},
    }


def _item(standing: Standing, position: Position, item: Item) -> dict[str, Any]:
    record = standing.record(item.id)
    now = record.now
    outcome = now.outcome if now is not None else Outcome.NOT_TESTED
    return {
        "id": item.id,
        "position": position.id,
        "position_name": position.name,
        "outcome": outcome.value,
        "expected": item.expected,
        "called": now.called if now is not None else None,
        "times": _times(now) if now is not None else None,
        "reason": now.reason if now is not None else _why_not(standing, item),
        "power": dict(now.power) if now is not None else {},
        "read_back": now.read_back if now is not None else None,
        **_by(now),
        "history": [_past(result) for result in record.past],
    }


def _why_not(standing: Standing, item: Item) -> str:
    """Why nothing stands: what undid the last result, else what kept it from being tested."""
    past = standing.record(item.id).past
    undone = (past[-1].withdrawn or past[-1].reopened) if past else None
    if undone is not None:
        return undone
    if was_thrown(standing, item):
        return standing.text("not-put-back")
    for needed in item.after:
        before = standing.result(needed)
        if before is not None and before.outcome is Outcome.UNSATISFACTORY:
            return standing.text("not-tested-after", reason=before.reason)
    wrong = [
        standing.text("bus-state", bus=standing.checklist.bus(bus).say, state=standing.text(wanted))
        for bus, wanted in standing.lacking(item.power).items()
        if bus in standing.power
    ]
    if wrong:
        return standing.text("not-called-power", power=standing.list(wrong))
    return standing.text("not-called")


def _not_fitted(gone: NotFitted) -> dict[str, Any]:
    return {
        "id": gone.id,
        "position": gone.position,
        "position_name": gone.position_name,
        "outcome": Outcome.NOT_FITTED.value,
        "expected": gone.expected,
        "called": None,
        "times": None,
        "reason": gone.reason,
        "power": {},
        "read_back": None,
        "history": [],
    }


def _findings(checklist: Checklist, state: SessionState) -> Iterator[dict[str, Any]]:
    for position in checklist.positions:
        for item in position.called:
            for entry in told(state.records.get(item.id, Record())):
                yield _finding(position, item, entry)


def _finding(position: Position, item: Item, entry: Told) -> dict[str, Any]:
    """It tells that it is intermittent only where it is: older journals replay alike."""
    result = entry.result
    came_and_went = {"intermittent": True} if entry.intermittent else {}
    return {
        "item": item.id,
        "position_name": position.name,
        "what": result.reason,
        "expected": item.expected,
        "called": result.called,
        "lamp": ", ".join(result.dark) or None,
        "at": round(result.start, 3),
        "power": dict(result.power),
        "consequence": item.consequence,
        "caution": item.caution,
        "chapter": item.chapter,
        "mel": _mel(item.mel) if item.mel is not None else None,
        "timing": _timing(result.timing) if result.timing is not None else None,
        "superseded": entry.superseded,
        **_by(result),
        **came_and_went,
    }


def _mel(mel: Mel) -> dict[str, Any]:
    """Its days only where there are some: journals from before they existed replay alike."""
    return {key: value for key, value in asdict(mel).items() if key != "days" or value}


def _times(result: Result) -> dict[str, Any]:
    return {"start": round(result.start, 3), "end": round(result.end, 3)}


def _past(result: Result) -> dict[str, Any]:
    return {
        "outcome": result.outcome.value,
        "called": result.called,
        **_times(result),
        "reason": result.withdrawn or result.reason,
        "withdrawn": result.withdrawn is not None,
        **_by(result),
    }


def _by(result: Result | None) -> dict[str, str]:
    """Who called it, only where that is known: older journals replay alike."""
    return {} if result is None or result.by is None else {"by": result.by}


def _timing(timing: Timing) -> dict[str, Any]:
    return {**asdict(timing), "at": round(timing.at, 3)}


def closing_words(summary: dict[str, object]) -> Say:
    """What is said at the end: whether all was covered, and how many findings stand."""
    findings = summary["findings"]
    assert isinstance(findings, list)
    standing = sum(1 for finding in findings if not finding["superseded"])
    values = {"findings": str(standing)}
    return Say("finished-complete" if summary["complete"] else "finished-incomplete", values)
