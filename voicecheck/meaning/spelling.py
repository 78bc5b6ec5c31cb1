"""One spelling of each word: contractions written out, words that change no meaning left out.

A pattern then says "horn is not sounding" once, and has "okay, the horn isn't sounding" too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from voicecheck.meaning.pattern import OneOf, Pattern, Row, Rule, Times, Word

Words = tuple[str, ...]


@dataclass(frozen=True)
class Spelling:
    """How written words become those of the patterns.

    split: endings that are words of their own ("'s"). same: words to those that stand for them
    ("isn't": "is not"), longest first where several begin alike. neutral: words that are left out
    wherever they stand; none may deny, doubt or count.
    """

    split: tuple[str, ...] = ()
    neutral: frozenset[str] = frozenset()
    same: tuple[tuple[str, str], ...] = ()

    def words(self, text: str) -> Words:
        """The words of a written text as the patterns have them: "horn's" is "horn 's"."""
        lowered = text.lower().replace("’", "'")
        kept = "".join(c if c.isalnum() or c in " '" else " " for c in lowered)
        return self._written_out(tuple(word.strip("'") or word for word in kept.split()))

    def pattern(self, pattern: Pattern) -> Pattern:
        """The pattern with its words in this spelling; of alternatives, none of neutral words."""
        match pattern:
            case Word(text):
                found = tuple(map(Word, self._written_out((text,))))
                return found[0] if len(found) == 1 else Row(found)
            case Row(parts):
                return _row(tuple(map(self.pattern, parts)))
            case OneOf(parts):
                return self._either(parts)
            case Times(part):
                inside = self.pattern(part)
                return inside if inside == Row(()) else Times(inside)
            case Rule(_):
                return pattern

    def _either(self, parts: tuple[Pattern, ...]) -> Pattern:
        spelt = dict.fromkeys(
            new for old in parts if (new := self.pattern(old)) != Row(()) or old == Row(())
        )
        return next(iter(spelt), Row(())) if len(spelt) < 2 else OneOf(tuple(spelt))

    @cached_property
    def _by_first(self) -> Mapping[str, list[tuple[Words, Words]]]:
        found: dict[str, list[tuple[Words, Words]]] = {}
        for text, instead in sorted(self.same, key=lambda pair: -len(pair[0].split())):
            words = tuple(text.split())
            found.setdefault(words[0], []).append((words, tuple(instead.split())))
        return found

    def _written_out(self, words: Words) -> Words:
        found: list[str] = []
        at = 0
        while at < len(words):
            for text, instead in self._by_first.get(words[at], ()):
                if words[at : at + len(text)] == text:
                    found += instead
                    at += len(text)
                    break
            else:
                found += self._parted(words[at])
                at += 1
        return tuple(word for word in found if word not in self.neutral)

    def _parted(self, word: str) -> Words:
        ending = next((e for e in self.split if word.endswith(e) and word != e), "")
        return (word.removesuffix(ending), ending) if ending else (word,)


def _row(parts: tuple[Pattern, ...]) -> Pattern:
    """One row, what is empty left out of it."""
    flat: list[Pattern] = []
    for part in parts:
        flat += part.parts if isinstance(part, Row) else (part,)
    return flat[0] if len(flat) == 1 else Row(tuple(flat))
