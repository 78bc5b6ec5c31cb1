"""Phrases that sound like a callout and mean something else: never acted on.

A grammar decoder says list words for anything it hears. Given the opposite and the
neighbour of each phrase as well, it has somewhere else to go.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon


def neighbours(phrase: str, lexicon: Lexicon, *, negate: bool = True) -> Iterator[str]:
    """Phrases one exchanged, dropped or added meaning away from this one.

    negate: also put negations in. Where they stand: see Lexicon.negations.
    """
    words = phrase.split()
    for at, word in enumerate(words):
        for other in _swapped(word, lexicon):
            yield " ".join([*words[:at], *other.split(), *words[at + 1 :]])
    negated = [at for at, word in enumerate(words) if word in lexicon.negations]
    for at in negated:
        rest = words[:at] + words[at + 1 :]
        if rest:
            yield " ".join(rest)
    if negate and not negated and len(words) > 1:
        for at, negation in enumerate(lexicon.negations):
            yield " ".join([negation, *words] if at else [*words[:-1], negation, words[-1]])


def _swapped(word: str, lexicon: Lexicon) -> Iterator[str]:
    """What could stand in its place."""
    for group in lexicon.swaps:
        if word in group:
            yield from (other for other in group if other != word)


def decoys_of(phrases: Iterable[str], grammar: Grammar, lexicon: Lexicon) -> tuple[str, ...]:
    """The neighbours of these phrases that the grammar cannot say itself, each once.

    One that differs from a callout by a plural ending alone means the same ("both fire
    light") and would only block what was rightly heard.
    """
    phrases = tuple(phrases)
    found: dict[str, None] = {}
    ours = {_singular(phrase) for phrase in (*grammar.phrases, *phrases)}
    for phrase in phrases:
        callout = grammar.phrases.get(phrase)
        negate = callout is None or callout.joins  # nobody says "say not again"
        for neighbour in neighbours(phrase, lexicon, negate=negate):
            if grammar.read(neighbour.split()) is None and _singular(neighbour) not in ours:
                found[neighbour] = None
    return tuple(found)


def _singular(phrase: str) -> str:
    return " ".join(word.removesuffix("s") for word in phrase.split())
