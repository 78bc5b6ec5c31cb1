"""Patterns of words, in the notation of JSGF 1.0 expansions.

``(a | b) c [d] <rule> e*``: words one after the other, alternatives, what may be left out, rules by
name, and what may be said any number of times. Weights, tags and ``+`` are not taken.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from voicecheck.errors import VoicecheckError

_TOKEN: Final = re.compile(r"\s*([()\[\]|*]|<[^<>\s]+>|[^\s()\[\]|*<>]+)")


@dataclass(frozen=True, slots=True)
class Word:
    """One word."""

    text: str


@dataclass(frozen=True, slots=True)
class Rule:
    """What a rule of that name stands for."""

    name: str


@dataclass(frozen=True, slots=True)
class Row:
    """One after the other; an empty row is silence."""

    parts: tuple[Pattern, ...]


@dataclass(frozen=True, slots=True)
class OneOf:
    """One of several."""

    parts: tuple[Pattern, ...]


@dataclass(frozen=True, slots=True)
class Times:
    """Any number of times, also none."""

    part: Pattern


Pattern = Word | Rule | Row | OneOf | Times


def parse(text: str) -> Pattern:
    """The pattern that a text writes. Raises VoicecheckError ("problem; remedy")."""
    tokens = []
    at = 0
    while text[at:].strip():
        found = _TOKEN.match(text, at)
        if found is None:
            raise _wrong(text, f"'{text[at:].strip()[0]}' stands for nothing")
        tokens.append(found[1])
        at = found.end()
    reader = _Reader(text, tokens)
    pattern = reader.one_of()
    if reader.at < len(tokens):
        raise _wrong(text, f"'{tokens[reader.at]}' closes nothing")
    return pattern


def rules_in(pattern: Pattern) -> frozenset[str]:
    """The names of the rules that a pattern asks for."""
    match pattern:
        case Rule(name):
            return frozenset((name,))
        case Row(parts) | OneOf(parts):
            return frozenset().union(*map(rules_in, parts))
        case Times(part):
            return rules_in(part)
    return frozenset()


def words_in(pattern: Pattern, rules: Mapping[str, Pattern]) -> frozenset[str]:
    """Every word that it may hold."""
    match pattern:
        case Word(text):
            return frozenset((text,))
        case Rule(name):
            return words_in(rules[name], rules)
        case Row(parts) | OneOf(parts):
            return frozenset().union(*(words_in(part, rules) for part in parts))
        case Times(part):
            return words_in(part, rules)


def without(pattern: Pattern, words: Collection[str], rules: Collection[str]) -> Pattern | None:
    """The pattern with every way left out that needs one of these words or rules."""
    match pattern:
        case Word(text):
            return None if text in words else pattern
        case Rule(name):
            return None if name in rules else pattern
        case Times(part):
            left = without(part, words, rules)
            return Row(()) if left is None else Times(left)
        case Row(parts):
            kept = _all_without(parts, words, rules)
            return Row(kept) if len(kept) == len(parts) else None
        case OneOf(parts):
            kept = _all_without(parts, words, rules)
            return OneOf(kept) if kept else None


def _all_without(
    parts: tuple[Pattern, ...], words: Collection[str], rules: Collection[str]
) -> tuple[Pattern, ...]:
    left = (without(part, words, rules) for part in parts)
    return tuple(part for part in left if part is not None)


def written(pattern: Pattern) -> str:
    """The pattern as JSGF writes it."""
    match pattern:
        case Word(text):
            return text
        case Rule(name):
            return f"<{name}>"
        case Row(parts):
            return " ".join(map(written, parts)) if parts else "<NULL>"
        case OneOf(parts):
            return f"({' | '.join(map(written, parts))})"
        case Times(part):
            return f"({written(part)})*"


class _Reader:
    def __init__(self, text: str, tokens: list[str]) -> None:
        self._text = text
        self._tokens = tokens
        self.at = 0

    def one_of(self) -> Pattern:
        parts = [self._row()]
        while self._next() == "|":
            self.at += 1
            parts.append(self._row())
        return parts[0] if len(parts) == 1 else OneOf(tuple(parts))

    def _row(self) -> Pattern:
        parts: list[Pattern] = []
        while (token := self._next()) not in (None, "|", ")", "]"):
            if token == "*":
                if not parts:
                    raise _wrong(self._text, "'*' repeats nothing")
                self.at += 1
                parts[-1] = Times(parts[-1])
            else:
                parts.append(self._one())
        return parts[0] if len(parts) == 1 else Row(tuple(parts))

    def _one(self) -> Pattern:
        token = self._tokens[self.at]
        self.at += 1
        if token in ("(", "["):
            inside = self.one_of()
            if self._next() != {"(": ")", "[": "]"}[token]:
                raise _wrong(self._text, f"'{token}' is not closed")
            self.at += 1
            return inside if token == "(" else OneOf((inside, Row(())))
        return Rule(token[1:-1]) if token.startswith("<") else Word(token)

    def _next(self) -> str | None:
        return self._tokens[self.at] if self.at < len(self._tokens) else None


def _wrong(text: str, problem: str) -> VoicecheckError:
    return VoicecheckError(
        f"'{text}': {problem}; write words, (a | b), [may be left out], <rule> and *"
    )
