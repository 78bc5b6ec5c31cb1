"""Callouts to grammar, and words back to callouts.

One utterance is one callout, or up to four callouts that may join in a row with an
optional joiner word between them, or the word "correction" and such a row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from voicecheck.callouts import Callout, Stakes
from voicecheck.meaning.network import Network

LONGEST_ROW: Final = 4
"""Callouts in one breath; more are nobody's habit and let noise invent words."""
CORRECTION: Final = "command:correction"
"""The callout that may stand directly before a row."""


@dataclass(frozen=True, slots=True)
class Part:
    """One callout inside a word sequence: words[first:last] said its phrase."""

    callout: Callout
    phrase: str
    first: int
    last: int


@dataclass(frozen=True)
class Grammar:
    """The callouts that can be heard now."""

    callouts: tuple[Callout, ...]
    joiners: tuple[str, ...] = ("and",)
    network: Network | None = None
    """What else may be said, each as an utterance of its own; None where a listener is not given
    it."""

    @cached_property
    def phrases(self) -> dict[str, Callout]:
        """Every wording and what it means; the first callout keeps a shared wording."""
        meanings: dict[str, Callout] = {}
        for callout in self.callouts:
            for phrase in callout.phrases:
                meanings.setdefault(phrase, callout)
        return meanings

    @cached_property
    def shared(self) -> frozenset[str]:
        """Wordings that two different callouts claim: never acted on."""
        return frozenset(
            phrase
            for callout in self.callouts
            for phrase in callout.phrases
            if self.phrases[phrase].key != callout.key
        )

    @cached_property
    def singles(self) -> tuple[str, ...]:
        """Wordings that stand alone."""
        return tuple(p for p, callout in self.phrases.items() if not callout.joins)

    @cached_property
    def joining(self) -> tuple[str, ...]:
        """Wordings that may stand in a row."""
        return tuple(p for p, callout in self.phrases.items() if callout.joins)

    @cached_property
    def corrections(self) -> tuple[str, ...]:
        """Wordings of the correction command, where it can be said now."""
        return tuple(p for p, callout in self.phrases.items() if callout.key == CORRECTION)

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word that can occur."""
        spoken = frozenset(word for phrase in self.phrases for word in phrase.split())
        return spoken | frozenset(self.joiners)

    def read(self, words: Sequence[str]) -> tuple[Part, ...] | None:
        """The callouts a whole word sequence says, or None when it is not one of ours.

        Fewest callouts win; between equals the one whose first callout is longest.
        """
        whole = self.phrases.get(" ".join(words))
        if whole is not None:
            return (Part(whole, " ".join(words), 0, len(words)),)
        row = self._row(tuple(words), 0, LONGEST_ROW)
        if row is not None:
            return row
        for first in range(len(words), 0, -1):
            head = " ".join(words[:first])
            if head in self.corrections:
                row = self._row(tuple(words), first, LONGEST_ROW)
                if row is not None:
                    return (Part(self.phrases[head], head, 0, first), *row)
        return self._wide(words)

    def _wide(self, words: Sequence[str]) -> tuple[Part, ...] | None:
        """The callout that nobody taught to say so, if there is one alone."""
        if self.network is None:
            return None
        key = self.network.meant(words, (callout.key for callout in self.callouts)).key
        if key is None:
            return None
        callout = next(callout for callout in self.callouts if callout.key == key)
        return (Part(callout, " ".join(words), 0, len(words)),)

    def _row(self, words: tuple[str, ...], start: int, left: int) -> tuple[Part, ...] | None:
        if left == 0:
            return None
        best: tuple[Part, ...] | None = None
        for end in range(len(words), start, -1):
            phrase = " ".join(words[start:end])
            callout = self.phrases.get(phrase)
            if callout is None or not callout.joins:
                continue
            here = Part(callout, phrase, start, end)
            if end == len(words):
                return (here,)
            joined = words[end] in self.joiners
            for onward in (end, end + 1) if joined else (end,):
                rest = self._row(words, onward, left - 1)
                if rest is not None and (best is None or len(rest) + 1 < len(best)):
                    best = (here, *rest)
        return best

    def jsgf(
        self,
        decoys: Iterable[str] = (),
        chatter: Iterable[str] = (),
        missing: Callable[[Iterable[str]], Iterable[str]] = lambda _: (),
    ) -> str:
        """The grammar in JSGF 1.0; decoys and chatter stand alone, never in a row (too slow).

        missing: which of some words a listener cannot hear; wide wordings go without them.
        """
        known = self.phrases
        alone = sorted({p for p in (*decoys, *chatter) if p not in known})
        rules = []
        choices = []
        if self.singles or alone:
            rules.append(_rule("single", [*self.singles, *alone]))
            choices.append("<single>")
        if self.joining:
            rules.append(_rule("part", self.joining))
            join = f"[ {' | '.join(self.joiners)} ] " if self.joiners else ""
            # Right recursion keeps one copy of the phrases; read() holds the length.
            rules.append(f"<row> = <part> [ {join}<row> ];")
            choices.append("<row>")
            choices += [f"{phrase} <row>" for phrase in self.corrections]
        if self.network is not None:
            keys = [callout.key for callout in self.callouts]
            without = frozenset(missing(self.network.vocabulary(keys)))
            rules.append(self.network.jsgf(keys, "wide", without))
            choices += ["<wide>"] if rules[-1] else []
        if not choices:
            raise ValueError("a grammar needs at least one phrase")
        body = "\n".join(rules)
        return f"#JSGF V1.0;\ngrammar now;\n{body}\npublic <utterance> = {' | '.join(choices)};\n"


def _rule(name: str, phrases: Sequence[str]) -> str:
    return f"<{name}> = {' | '.join(phrases)};"


def dearest(parts: Iterable[Part]) -> Stakes:
    """The highest stakes among the parts."""
    order = list(Stakes)
    return min((part.callout.stakes for part in parts), key=order.index)
