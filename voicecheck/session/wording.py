"""Prompts as words: one rendering for the eye, one or more for the ear."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from voicecheck.engine.effects import Say
from voicecheck.language import Language
from voicecheck.session.options import Wording
from voicecheck.voice import spoken

LONGEST: Final = 4.0
"""Seconds that a terse prompt may take."""
_LETTERS_A_SECOND: Final = 11.9
"""Letters, spaces and signs that the slowest of our prompts manages in a second at _AT words a
minute, measured over the prompts of all shipped checklists."""
_AT: Final = 165
_LISTS: Final = frozenset(("items", "positions"))
"""Slots whose lists may be cut: the screen has them whole, and nothing in them is affirmed."""
_BREAKS: Final = (". ", "; ", ": ", ", ", " ")
"""Where a prompt may be parted, best first."""


@dataclass(frozen=True, slots=True)
class Worded:
    """One prompt: as shown, and as spoken in one piece or in several."""

    shown: str
    spoken: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Manner:
    """How prompts are worded. rate: words a minute, of which the room in a terse one depends."""

    wording: Wording = "full"
    rate: int = _AT


FULL: Final = Manner()


def word(say: Say, language: Language, manner: Manner = FULL) -> Worded:
    """Fill the prompt's slots; registrations and numbers are spoken the radiotelephony way.

    Terse prompts have short words of their own where the language has them; a list that would
    take too long is cut with the number of what is left out; what cannot be cut is parted, so
    that no piece is longer than LONGEST. The screen always shows the whole.
    """
    if say.prompt == "preamble":
        shown = language.words("caution")
    else:
        shown = _sentence(language.render(say.prompt, say.values))
    values = {slot: _spoken(slot, value, language) for slot, value in say.values.items()}
    if manner.wording == "full":
        if say.prompt == "preamble":
            return Worded(shown, (language.preamble,))
        return Worded(shown, (language.render(say.prompt, values),))
    return Worded(shown, _terse(say.prompt, values, language, manner.rate))


def _terse(
    prompt: str, values: Mapping[str, str], language: Language, rate: int
) -> tuple[str, ...]:
    room = int(LONGEST * _LETTERS_A_SECOND * rate / _AT)
    lists = {slot: value for slot, value in values.items() if slot in _LISTS}
    kept = max((len(_listed(value, language)) for value in lists.values()), default=1)
    text = language.render_terse(prompt, values)
    while len(text) > room and kept > 1:
        kept -= 1
        shorter = {slot: _cut(value, kept, language) for slot, value in lists.items()}
        text = language.render_terse(prompt, {**values, **shorter})
    return tuple(_parted(text, room))


def _listed(value: str, language: Language) -> list[str]:
    return value.split(language.words("comma"))


def _cut(value: str, kept: int, language: Language) -> str:
    entries = _listed(value, language)
    if len(entries) <= kept:
        return value
    return language.more.format(
        listed=language.words("comma").join(entries[:kept]), n=language.number(len(entries) - kept)
    )


def _parted(text: str, room: int) -> list[str]:
    """In pieces of at most `room` letters, parted where it hurts least."""
    if len(text) <= room:
        return [text]
    for sign in _BREAKS:
        at = text.rfind(sign, room // 4, room)
        if at > 0:
            first, rest = text[: at + len(sign)].rstrip(), text[at + len(sign) :]
            return [first, *_parted(rest, room)]
    return [text[:room], *_parted(text[room:], room)]


def _spoken(slot: str, value: str, language: Language) -> str:
    signs = language.speech.spelling
    if slot == "registration":
        return spoken.spell(value, signs)
    return re.sub(r"\d+(?:\.\d+)?", lambda found: spoken.number(found[0], signs), value)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
