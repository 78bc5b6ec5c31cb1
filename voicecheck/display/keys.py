"""Which keys call what: one pure assignment for every screen.

Commands have a letter each that never changes. Everything else takes a sign for its group and
one for its place in it: "13" is the third callout of the first item, "g2" the second position.
No code is the beginning of another, so a callout is complete with its last key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, TypeVar

_Offer = TypeVar("_Offer")

COMMANDS: Final = {
    "command:affirm": "a",
    "command:negative": "n",
    "command:correction": "c",
    "command:disregard": "d",
    "command:stand-by": "s",
    "command:resume": "r",
    "command:read-back": "b",
    "command:say-again": "w",
    "command:complete": "t",
    "command:abandon": "q",
    "command:crew-change": "m",
    "command:power-wrong": "v",
}
"""Fixed, so that a hand may learn them."""

_PREFIXES: Final = {
    "select": "g",
    "selector": "g",
    "power": "p",
    "reason": "x",
    "command": "k",
    "disregard": "u",
}
_ITEMS: Final = "1234567890"
_PLACES: Final = "1234567890efhijlouvyz"
"""Signs for a place in a group; the last one only begins a longer code."""


def keys_for(callouts: Sequence[str]) -> dict[str, str]:
    """Code of keys to callout key, in the order given, for the callouts on offer together.

    The same offers give the same codes.
    """
    codes: dict[str, str] = {}
    items: dict[str, str] = {}
    counts: dict[str, int] = {}
    numbers = _codes(_ITEMS)
    for callout in callouts:
        if callout in COMMANDS:
            codes[COMMANDS[callout]] = callout
            continue
        group = callout.partition(":")[0]
        prefix = _PREFIXES.get(group)
        if prefix is None:
            if group not in items:
                items[group] = next(numbers)
            prefix = items[group]
        place = counts.get(prefix, 0)
        counts[prefix] = place + 1
        codes[prefix + _place(place)] = callout
    return codes


def _place(index: int) -> str:
    rounds, left = divmod(index, len(_PLACES) - 1)
    return _PLACES[-1] * rounds + _PLACES[left]


def _codes(signs: str) -> Iterator[str]:
    """Endless codes, none of which begins another: the last sign only leads to longer ones."""
    lead = ""
    while True:
        yield from (lead + sign for sign in signs[:-1])
        lead += signs[-1]


def typed_so_far(codes: Mapping[str, _Offer], typed: str) -> tuple[str, _Offer | None]:
    """What a key press makes of what was typed: the rest to wait with, and what it completes.

    Keys that lead nowhere are dropped.
    """
    if typed in codes:
        return "", codes[typed]
    return (typed if any(code.startswith(typed) for code in codes) else ""), None
