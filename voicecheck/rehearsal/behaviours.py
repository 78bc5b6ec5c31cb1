"""What a proof generated, how often, and what came of it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from voicecheck.engine.events import time_of
from voicecheck.oracle.heard import Delivered
from voicecheck.rehearsal.account import Account
from voicecheck.rehearsal.judge import Judgement

CAME_OF: Final = ("generated", "asked", "good", "wrongly good", "finding", "open", "no call after")
"""How often; voicecheck asked or refused within SOON; and how the item stands at the end that the
crew called next: as good (of these, wrongly), as a finding, or neither."""
SOON: Final = 10.0
_ASKS: Final = (
    "confirm",
    "say-again",
    "call-",
    "which-dark",
    "window-ask",
    "read-back",
    "not-",
    "ask-",
)
_ASKS_TOO: Final = (
    "first",
    "airframe-first",
    "left-early",
    "outstanding",
    "disagreement",
    "after-gap",
)


def came_of(
    account: Account,
    session: Sequence[Delivered],
    summary: Mapping[str, Any],
    judged: Judgement,
) -> dict[str, tuple[int, ...]]:
    """Of each behaviour the counts of CAME_OF, in one session."""
    outcomes = {item["id"]: item["outcome"] for item in summary["items"]}
    calls = sorted((e.start, e.about) for e in account.entries if e.about in outcomes)
    asked = [time_of(step.event) for step in session if any(map(_asks, step.said))]
    wrong = {wrong.item for wrong in judged.good}
    counts: dict[str, list[int]] = {}
    for doing in account.doings:
        count = counts.setdefault(doing.name, [0] * len(CAME_OF))
        count[0] += 1
        at = bisect_left(asked, doing.at)
        count[1] += at < len(asked) and asked[at] <= doing.at + SOON
        after = bisect_left(calls, (doing.at, ""))
        item = calls[after][1] if after < len(calls) else None
        outcome = outcomes.get(item or "")
        count[2] += outcome == "satisfactory"
        count[3] += item in wrong
        count[4] += outcome == "unsatisfactory"
        count[5] += outcome not in ("satisfactory", "unsatisfactory", None)
        count[6] += item is None
    return {name: tuple(count) for name, count in counts.items()}


def _asks(prompt: str) -> bool:
    return prompt.startswith(_ASKS) or prompt in _ASKS_TOO


def added(
    one: Mapping[str, Iterable[int]], other: Mapping[str, Iterable[int]]
) -> dict[str, tuple[int, ...]]:
    """The counts of both."""
    none = (0,) * len(CAME_OF)
    return {
        name: tuple(a + b for a, b in zip(one.get(name, none), other.get(name, none), strict=True))
        for name in (*one, *(name for name in other if name not in one))
    }
