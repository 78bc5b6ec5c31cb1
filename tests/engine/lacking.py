"""Engines that lack one row of the rules: what a row is for is what goes wrong without it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

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
from voicecheck.engine.row import Row
from voicecheck.engine.standing import Standing
from voicecheck.engine.turn import Turn

ROWS: tuple[Row, ...] = (
    *rules.CALLS,
    *reopening.REOPENINGS,
    *power.VOIDINGS,
    *taking_back.UNDOINGS,
)


def drop(number: str, patch: pytest.MonkeyPatch) -> None:
    """Take one row away."""
    (row,) = (row for row in ROWS if row.number == number)
    match row:
        case rules.CallRule():
            kept = tuple(rule for rule in rules.CALLS if rule is not row)
            patch.setattr(rules, "CALLS", kept)
        case reopening.Reopening():
            _never_reopen(row, patch)
        case taking_back.Undoing():
            idle = replace(row, then=lambda turn, act, why: None)
            rows = tuple(idle if other is row else other for other in taking_back.UNDOINGS)
            patch.setattr(taking_back, "UNDOINGS", rows)
        case _ if row is power.CHANGED:
            patch.setattr(power, "void_results", lambda turn, action, since: None)
        case _ if row is power.CHANGED_WHILE_TIMED:
            patch.setattr(power, "void_windows", lambda turn, action, since: None)
        case _:
            _overlook_power(patch, unknown=row is power.UNKNOWN_POWER)


def _never_reopen(row: reopening.Reopening, patch: pytest.MonkeyPatch) -> None:
    reopen, keep = reopening.reopen, reopening.keep_finding

    def reopened(turn: Turn, item: Item, why: reopening.Reopening, **words: str) -> bool:
        return why is not row and reopen(turn, item, why, **words)

    def kept(turn: Turn, item: Item, result: Any, why: reopening.Reopening, **words: str) -> None:
        if why is not row:
            keep(turn, item, result, why, **words)

    for module in (reopening, second_call, where, findings, power, unforeseen, putting_back):
        patch.setattr(module, "reopen", reopened)
    for module in (reopening, second_call):
        patch.setattr(module, "keep_finding", kept)
    if row is reopening.LEFT_REST:
        from voicecheck.engine import positions

        patch.setattr(positions, "reopen_rest", lambda turn: None)
    assert questions.reopen_doubted is reopening.reopen_doubted


def _overlook_power(patch: pytest.MonkeyPatch, *, unknown: bool) -> None:
    """A bus that is not known, or one that is in the other state, is as good as the right one."""
    honest = Standing.lacking

    def lacking(standing: Standing, wanted: Mapping[str, str]) -> dict[str, str]:
        known = standing.power
        missing = honest(standing, wanted)
        return {bus: state for bus, state in missing.items() if (bus in known) == unknown}

    patch.setattr(Standing, "lacking", lacking)
