"""Every prompt that can be spoken, and what its words may name."""

from __future__ import annotations

import string
from collections.abc import Mapping
from typing import Final

PROMPTS: Final[Mapping[str, tuple[str, ...]]] = {
    "recording": (),
    "begin": ("title", "registration"),
    "not-fitted": ("positions",),
    "call-power": ("buses",),
    "ack": ("words",),
    "confirm": ("claims",),
    "confirm-airframe": ("registration", "claims"),
    "airframe-first": ("registration",),
    "airframe-denied": ("registration",),
    "confirm-change": ("earlier", "now"),
    "confirm-retest": ("earlier", "now"),
    "confirm-position": ("position",),
    "power-set": ("claims",),
    "needs-power": ("position", "needs"),
    "not-counted": ("needs",),
    "voided": ("position", "items"),
    "voided-all": ("positions",),
    "first": ("needed",),
    "which-dark": ("words",),
    "finding": ("words", "expected"),
    "other-finding": ("words", "position"),
    "caution": ("text",),
    "position-done": ("position", "next"),
    "position-done-last": ("position",),
    "position-done-timed": ("position", "calls"),
    "position-not-fitted": ("position", "reason"),
    "left-early": ("position", "items"),
    "outstanding": ("items",),
    "next": ("next",),
    "called": ("words",),
    "at": ("place",),
    "holding": ("place",),
    "resuming": ("place",),
    "after-gap": (),
    "missing": ("positions",),
    "selector-first": (),
    "window-open": (),
    "end-found": ("found",),
    "end-untested": ("untested",),
    "not-dark": ("calls",),
    "not-put-back": ("items",),
    "confirm-incomplete": (),
    "confirm-findings": (),
    "ask-reason": ("reasons",),
    "dropped": (),
    "read-back-wanted": ("words",),
    "read-back-again": ("words",),
    "disagreement": ("first", "second"),
    "crew-changed": (),
    "call-again": (),
    "say-again": (),
    "nothing-said": (),
    "nothing-to-correct": (),
    "corrected": ("words",),
    "disregarded": ("words",),
    "position-disregarded": ("position",),
    "still-lit": (),
    "window-ask": ("out", "lit"),
    "window-within": ("words",),
    "window-close": ("position",),
    "battery-time": ("minutes",),
    "part-lost": ("part",),
    "part-restored": ("part",),
    "log-away": (),
    "log-behind": (),
    "log-open": ("position", "what", "days"),
    "log-open-today": ("position", "what"),
    "log-due": ("position", "what", "due"),
    "log-past-due": ("position", "what", "due"),
    "log-repeat": ("position", "what"),
    "log-more": ("count",),
    "log-drift": ("item", "direction", "now", "limit", "days"),
    "finished-complete": ("findings",),
    "finished-incomplete": ("findings",),
}
"""Prompt to the slots that are filled when it is spoken. Each language words all of them, or a
session would fall silent where a word is missing; a wording need not use every slot."""


def check_slots(text: str, known: tuple[str, ...]) -> None:
    """Raise ValueError ("problem; remedy") unless each slot of the text is a known one."""
    remedy = f"the slots are: {', '.join('{' + slot + '}' for slot in known)}"
    if not known:
        remedy = "write it without { and }"
    try:
        fields = list(string.Formatter().parse(text))
    except ValueError as error:
        raise ValueError(f"{error}; {remedy}") from None
    for _, slot, spec, conversion in fields:
        if slot is None:
            continue
        if slot not in known:
            raise ValueError(f"no slot '{slot}'; {remedy}")
        if spec or conversion:
            raise ValueError(f"more than a name in the slot '{slot}'; {remedy}")
