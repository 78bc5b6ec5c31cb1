"""Which texts a scoring listener should compare: few enough to be quick, and never only ours."""

from __future__ import annotations

from typing import Final

from rapidfuzz import fuzz

from voicecheck.speech.decoys import decoys_of, neighbours
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing
from voicecheck.speech.phone_fit import Fit

NEAREST: Final = 6
"""Single callouts taken beside the hypothesis, the most alike in writing first."""
DECOYS: Final = 7
"""Decoys taken: those of what was heard first, then the most alike."""
ENDINGS: Final = 3
"""Ways in which a row is taken to go on whose last part was not heard to its end."""


def shortlist(
    hearing: Hearing, fit: Fit | None, free: str, grammar: Grammar, lexicon: Lexicon
) -> tuple[str, ...]:
    """Hypothesis, rival, their neighbours, and the callouts nearest to either or to `free`.

    fit: what the listener that writes phones makes of it; free: what the scorer itself would
    write, in our spelling; may be empty.
    """
    texts: dict[str, None] = dict.fromkeys(_fitting(fit))
    heard = " ".join(hearing.text)
    ours = _readable(heard, grammar)
    reading_free = _readable(free, grammar) or singular_reading(free, grammar)
    for text in (ours, reading_free, " ".join(hearing.rival or ())):
        if text:
            texts[text] = None
    if heard and not ours:
        texts.update(dict.fromkeys(_completed(hearing.text, grammar)))
    leads = [text for text in (ours or heard, free) if text]
    near = sorted(grammar.phrases, key=lambda p: (-_alike(p, leads), p))
    texts.update(dict.fromkeys(near[:NEAREST]))
    for text in (ours, reading_free):
        if text:
            texts.update(dict.fromkeys(_variants(text, grammar, lexicon)))
    heard_ones = set(decoys_of([*filter(None, (ours, reading_free))], grammar, lexicon))
    spread = heard_ones.union(decoys_of(near[:3], grammar, lexicon))
    order = sorted(spread, key=lambda p: (p not in heard_ones, -_alike(p, leads), p))
    texts.update(dict.fromkeys(order[:DECOYS]))
    return tuple(texts)


def _fitting(fit: Fit | None) -> list[str]:
    return [] if fit is None else [text for text in (fit.text, fit.rival) if text]


def singular_reading(text: str, grammar: Grammar) -> str:
    """The readable text that this one is but for plural endings we do not know, or ""."""
    known = {word.removesuffix("s"): word for word in sorted(grammar.words)}
    words = text.split()
    ours = [w if w in grammar.words else known.get(w.removesuffix("s"), w) for w in words]
    return _readable(" ".join(ours), grammar)


def _completed(words: tuple[str, ...], grammar: Grammar) -> list[str]:
    """Rows that begin like this one and go on with a callout, the most alike first.

    A decoder whose path to the end of a row was lost says only the beginning of its last part.
    """
    for count in range(len(words) - 1, 0, -1):
        if words[count - 1] in grammar.joiners or grammar.read(words[:count]) is None:
            continue
        rest = [word for word in words[count:] if word not in grammar.joiners]
        between = [word for word in words[count:][:1] if word in grammar.joiners]
        if not rest:
            return []
        near = sorted(grammar.phrases, key=lambda p: (-fuzz.ratio(p, " ".join(rest)), p))
        rows = (" ".join([*words[:count], *between, phrase]) for phrase in near)
        return [row for row in rows if _readable(row, grammar)][:ENDINGS]
    return []


def _readable(text: str, grammar: Grammar) -> str:
    return text if text and grammar.read(text.split()) is not None else ""


def _alike(phrase: str, leads: list[str]) -> float:
    return max((fuzz.ratio(phrase, lead) for lead in leads), default=0.0)


def _variants(text: str, grammar: Grammar, lexicon: Lexicon) -> list[str]:
    """Other readable texts one step away: a part dropped, or exchanged for a neighbour.

    What stands between the parts stays: a row without its "and" would score too low to warn.
    """
    words = text.split()
    parts = grammar.read(words) or ()
    found = []
    for part in parts:
        for other in neighbours(part.phrase, lexicon):
            if other in grammar.phrases:
                found.append(" ".join([*words[: part.first], other, *words[part.last :]]))
    for at, part in enumerate(parts[1:], 1):
        found.append(" ".join(words[: parts[at - 1].last] + words[part.last :]))
    if len(parts) > 1:
        found.append(" ".join(words[parts[1].first :]))
    return found
