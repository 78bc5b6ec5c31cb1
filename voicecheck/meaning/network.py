"""All that may be said in place of the taught wordings, by the keys of callouts.

A callout alone is understood, with what may stand around it: never a row of callouts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from voicecheck.meaning.automaton import Automaton
from voicecheck.meaning.jsgf import jsgf_rules
from voicecheck.meaning.nearest import nearest
from voicecheck.meaning.pattern import OneOf, Pattern, Row, Rule, Word, words_in
from voicecheck.meaning.spelling import Spelling
from voicecheck.meaning.walking import cover


@dataclass(frozen=True, slots=True)
class Ways:
    """How one callout may be said.

    taught: its own wordings; said: patterns with the rules before and after them, by their names;
    bare: patterns that leave a doubt: what it is about with nothing said of it, or something said
    of nothing.
    """

    taught: tuple[str, ...]
    said: tuple[Pattern, ...] = ()
    after: str = "after"
    bare: tuple[Pattern, ...] = ()


@dataclass(frozen=True, slots=True)
class Meant:
    """What words may mean: the keys of callouts; asked: only a question names them all."""

    keys: frozenset[str]
    asked: bool

    @property
    def key(self) -> str | None:
        """The one callout that they mean beyond doubt."""
        return None if self.asked or len(self.keys) != 1 else next(iter(self.keys))


PASSED = 4
"""Words that may be passed over for the nearest meaning. Our choice: see docs/sayings.md."""
NOTHING = Meant(frozenset(), False)


class Network:
    """Reads words in a state: what they mean among the callouts that can be said there.

    rules: by name; "before" and those that `Ways.after` names stand around each pattern, "links"
    between the words of what is taught.
    spelling: how words are written in the patterns. listeners: which are given all of it.
    denials: words that the nearest meaning never passes over.
    """

    def __init__(
        self,
        ways: Mapping[str, Ways],
        rules: Mapping[str, Pattern],
        spelling: Spelling = Spelling(),  # noqa: B008 (frozen)
        listeners: tuple[str, ...] = (),
        denials: frozenset[str] = frozenset(),
    ) -> None:
        self.ways = ways
        self.rules = {"before": Row(()), "after": Row(()), "links": Row(()), **rules}
        self.spelling = spelling
        self.listeners = listeners
        self.denials = denials
        self._taught = {key: [self.words(t) for t in way.taught] for key, way in ways.items()}

    def words(self, text: str) -> tuple[str, ...]:
        """The words of a written text as the patterns have them: "horn's" is "horn 's"."""
        return self.spelling.words(text)

    def taught(self, key: str) -> list[tuple[str, ...]]:
        """The wordings that are taught for a callout, as words."""
        return self._taught[key]

    def meant(self, words: Iterable[str], keys: Iterable[str]) -> Meant:
        """What a whole sequence of words means among these callouts; NOTHING if it is none."""
        keys = frozenset(keys)
        words = tuple(words)
        taught = keys & self._linked.ends(self._linked.read(words))
        if taught:
            return Meant(taught, len(taught) > 1)
        said = keys & self._said.ends(self._said.read(words))
        bare = keys & self._bare.ends(self._bare.read(words))
        # A name alone may be that of a position, too: then that is one of the answers.
        return Meant(said | bare, bool(bare - said) or len(said) != 1) if said or bare else NOTHING

    def nearest(self, words: Sequence[str], keys: Collection[str]) -> Meant:
        """A question with the nearest meaning of what means nothing as it stands; see `nearest`."""
        for machine in (self._said, self._bare):
            found = nearest(words, machine, keys, self.denials, PASSED)
            if found:
                return Meant(found, asked=True)
        return NOTHING

    @cached_property
    def _linked(self) -> Automaton:
        return Automaton(
            ((k, self.linked(t)) for k, ts in self._taught.items() for t in ts), self.rules
        )

    def linked(self, taught: tuple[str, ...]) -> Pattern:
        """A taught wording with what may link its words ("horn is sounding"), and around it."""
        between = (Rule("links"),) if len(taught) > 1 else ()
        parts: list[Pattern] = [Word(taught[0])]
        for word in taught[1:]:
            parts += [*between, Word(word)]
        return Row((Rule("before"), *parts))

    @cached_property
    def _said(self) -> Automaton:
        wide = ((key, self.wide(key)) for key, ways in self.ways.items() if ways.said)
        return Automaton(wide, self.rules, before=Rule("before"))

    @cached_property
    def _bare(self) -> Automaton:
        bare = ((key, pattern) for key, ways in self.ways.items() for pattern in ways.bare)
        return Automaton(bare, self.rules, before=Rule("before"))

    def together(self, keys: Iterable[str]) -> Automaton:
        """One machine for these callouts, their taught wordings among them, labelled by key."""
        keys = [key for key in keys if key in self.ways]
        wide = ((key, self.wide(key)) for key in keys if self.ways[key].said)
        alone = ((key, self.linked(words)) for key in keys for words in self._taught[key])
        return Automaton(wide, self.rules, before=Rule("before"), alone=alone)

    def wide(self, key: str) -> Pattern:
        """What may be said for a callout, but for its taught wordings; after the rule "before"."""
        ways = self.ways[key]
        return Row((OneOf(ways.said), Rule(ways.after)))

    def vocabulary(self, keys: Collection[str]) -> frozenset[str]:
        """Every word that may be said for these callouts."""
        found = {word for key in keys for words in self._taught[key] for word in words}
        for key in keys:
            if self.ways[key].said:
                found |= words_in(Row((Rule("before"), self.wide(key))), self.rules)
        return frozenset(found)

    def jsgf(self, keys: Iterable[str], public: str, missing: Collection[str] = ()) -> str:
        """The wide wordings of these callouts as JSGF rules; `public` names the one for all.

        missing: words that a listener lacks; what needs them is left out. Empty for no wording.
        """
        wide = [self.wide(key) for key in keys if key in self.ways and self.ways[key].said]
        return jsgf_rules(wide, self.rules, public, missing)

    def cover(self, keys: Iterable[str]) -> tuple[str, ...]:
        """Wordings that together hold every two words that may follow one another.

        For a listener that makes a model of neighbouring words from a list of phrases: as much as
        all wordings would tell it, and few.
        """
        return cover(self.together(keys))
