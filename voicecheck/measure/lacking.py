"""Engines that lack one row of the rules: what a row is for is what goes wrong without it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Final

from voicecheck.checklist.resolved import Item
from voicecheck.engine import (
    findings,
    power,
    putting_back,
    questions,
    reopening,
    rules,
    second_call,
    taking_back,
    unforeseen,
)
from voicecheck.engine import whereabouts as where
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.row import Row
from voicecheck.engine.standing import Standing
from voicecheck.engine.turn import Turn
from voicecheck.errors import VoicecheckError

ROWS: tuple[Row, ...] = (
    *rules.CALLS,
    *reopening.REOPENINGS,
    *power.VOIDINGS,
    *taking_back.UNDOINGS,
)

_IDLE: Final[dict[Row, tuple[str, Callable[..., object]]]] = {
    power.CHANGED: ("void_results", lambda turn, action, since: None),
    power.CHANGED_WHILE_TIMED: ("void_windows", lambda turn, action, since: None),
    power.HALF_HEARD_BUS: ("doubt", lambda turn, action, since: None),
    power.CALLED_WRONG: ("void_all", lambda turn: []),
}
"""Of what becomes void: the function of `power` that the row is about, and what does nothing."""
Patch = Callable[[Any, str, Any], None]
"""Sets an attribute of a module or class: `setattr`, or a test's that sets it back."""


def drop(number: str, patch: Patch) -> None:
    """Take one row away. Raises VoicecheckError where there is none of that number."""
    row = _row(number)
    match row:
        case CallRule():
            patch(rules, "CALLS", tuple(rule for rule in rules.CALLS if rule is not row))
        case reopening.Reopening():
            _never_reopen(row, patch)
        case taking_back.Undoing():
            idle = replace(row, then=lambda turn, act, why: None)
            rows = tuple(idle if other is row else other for other in taking_back.UNDOINGS)
            patch(taking_back, "UNDOINGS", rows)
        case _ if row in _IDLE:
            patch(power, *_IDLE[row])
        case _:
            _overlook_power(patch, unknown=row is power.UNKNOWN_POWER)


def _row(number: str) -> Row:
    for row in ROWS:
        if row.number == number:
            return row
    known = ", ".join(row.number for row in ROWS)
    raise VoicecheckError(f"{number}: no such row of the rules; known are: {known}")


def _never_reopen(row: reopening.Reopening, patch: Patch) -> None:
    reopen, keep = reopening.reopen, reopening.keep_finding

    def reopened(turn: Turn, item: Item, why: reopening.Reopening, **words: str) -> bool:
        return why is not row and reopen(turn, item, why, **words)

    def kept(turn: Turn, item: Item, result: Any, why: reopening.Reopening, **words: str) -> None:
        if why is not row:
            keep(turn, item, result, why, **words)

    for module in (reopening, second_call, where, findings, power, unforeseen, putting_back):
        patch(module, "reopen", reopened)
    for module in (reopening, second_call):
        patch(module, "keep_finding", kept)
    if row is reopening.LEFT_REST:
        from voicecheck.engine import positions

        patch(positions, "reopen_rest", lambda turn: None)
    assert vars(questions)["reopen_doubted"] is reopening.reopen_doubted


def _overlook_power(patch: Patch, *, unknown: bool) -> None:
    """A bus that is not known, or one that is in the other state, is as good as the right one."""
    honest = Standing.lacking

    def lacking(standing: Standing, wanted: Mapping[str, str]) -> dict[str, str]:
        known = standing.power
        missing = honest(standing, wanted)
        return {bus: state for bus, state in missing.items() if (bus in known) == unknown}

    patch(Standing, "lacking", lacking)
