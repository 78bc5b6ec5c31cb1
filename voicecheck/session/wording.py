"""Prompts as words: one rendering for the eye, one for the ear."""

from __future__ import annotations

import re
from dataclasses import dataclass

from voicecheck.caution import CAUTION
from voicecheck.engine.effects import Say
from voicecheck.language import Language
from voicecheck.voice import spoken


@dataclass(frozen=True, slots=True)
class Worded:
    """One prompt: as shown and as spoken."""

    shown: str
    spoken: str


def word(say: Say, language: Language) -> Worded:
    """Fill the prompt's slots; registrations and numbers are spoken the radiotelephony way."""
    if say.prompt == "preamble":
        return Worded(CAUTION, language.preamble)
    shown = language.render(say.prompt, say.values)
    values = {slot: _spoken(slot, value) for slot, value in say.values.items()}
    return Worded(_sentence(shown), language.render(say.prompt, values))


def _spoken(slot: str, value: str) -> str:
    if slot == "registration":
        return spoken.spell(value)
    return re.sub(r"\d+(?:\.\d+)?", lambda found: spoken.number(found[0]), value)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
