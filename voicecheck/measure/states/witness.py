"""A witness of a session: it hears what the crew hears and says, and knows what may stand as good.

It is written from the rules alone, without the engine's state: it sees the events, the
prompts that were asked, and the resolved checklist. It does not foretell the engine; it bounds
it. For each item it knows whether the crew has given cause to write it down as good, and
whether the last thing they said about it was bad.

Rules (a call is *sound* when the power that the item needs has been called, affirmed and stands,
and the stages before it were called good in this visit):

1. A good call gives cause when it is sound; after bad news in the same visit it also needs a yes
   to the question that was asked about it, and nothing else called in between. With a microphone
   each the other's call of what has had that yes needs none of its own.
2. A marked item with two crew needs the call of each, with nothing bad about it and no change of
   needed power in between.
3. A bad call takes the cause away, sound or not; a sound one must be found as unsatisfactory.
4. "Correction" takes back the last call and only that one, recorded or not; of a call that was
   made twice, both.
5. A change of power takes the cause of this visit away where the old state was needed, unless
   the position needs both states; and anywhere, of what was called after the change.
6. A timed lamp has cause when the whole measured interval lies inside the limits, unasked.
7. Words that were not understood may have been the leaving call, if they ended since the
   selector was last known to be at the lamp, or the closing call; the interval covers both. With
   such words before it, a lamp called out at its position may have been left already.
8. Bad news that was asked about and got neither yes nor no takes the cause away.
9. What was seen at rest has no cause any more once the selector has left it.
10. Where the call of another position was half understood, no later call about an item is sound
   until the crew has said yes or no to it, or where the selector is.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from voicecheck.measure.states.canonical import Key, Plan, doubtful


class Word(NamedTuple):
    """What the crew's last call about an item comes to.

    good: there is cause to write it down as good. here: called in the present visit.
    bad: it must be found as unsatisfactory, unless void. key: the call. start: when it began.
    """

    good: bool = False
    here: bool = False
    bad: bool = False
    key: str = ""
    start: float = 0.0


class Act(NamedTuple):
    """The last call, as "correction" takes it back.

    kind: item, refused (a bad call that did not count), power, position, question, half (of a
    read-back), or none. before: what stood of the item before.
    """

    kind: str
    key: str = ""
    before: Word = Word()


class Told(NamedTuple):
    """A call that a yes would make count."""

    key: str
    channel: int
    start: float
    end: float


class Timed(NamedTuple):
    """A lamp that must go out. asked: when the crew was asked about it.

    left, called: since when the selector may have left, and the lamp may have been called.
    """

    anchor: float
    asked: float | None = None
    left: float | None = None
    called: float | None = None


NOTHING: Final = Word()
NO_ACT: Final = Act("none")


@dataclass(frozen=True, slots=True)
class Witness:
    """What has been witnessed so far; `after` gives the next one."""

    plan: Plan
    words: dict[str, Word]
    buses: dict[str, str]
    timed: dict[str, Timed]
    before: dict[str, Word]
    at: str | None = None
    asked: tuple[Told, ...] = ()
    last: Act = NO_ACT
    half: tuple[str, int] | None = None
    second: bool = False
    channels: int = 1
    now: float = 0.0
    missed: float | None = None
    """End of the first words not understood since the selector was last known to be here."""
    maybe: tuple[Told, ...] = ()
    """Calls of other positions, half understood and not answered yet, in order."""

    def key(self) -> Key:
        """Hashable form of what matters later, folded as in canonical.py."""
        return (
            self.at,
            tuple(_fold(self.plan, word) for word in self.words.values()),
            self.plan.buses(self.buses),
            tuple(self._told(told) for told in self.asked),
            (self.last.kind, self.last.key, self._back(self.last.before)),
            self.half,
            tuple(
                self._back(self.before.get(item, NOTHING)) if self._repeats(item) else None
                for item in self.words
            ),
            tuple(
                (
                    item,
                    bisect_right(self.plan.edges[item], self.now - t.anchor),
                    t.asked is None,
                    doubtful(self.plan, item, t.anchor, t.left, t.called),
                )
                for item, t in self.timed.items()
            ),
            self.missed is None,
            tuple((told.key, *self._later(told)) for told in self.maybe),
        )

    def _later(self, maybe: Told) -> Iterator[bool]:
        """For each call in question, how a half-understood position came after or before it."""
        for told in self.asked:
            if not told.key.startswith("power:"):
                yield maybe.start > told.start
                yield maybe.start < told.start

    def _back(self, word: Word) -> Key:
        """What a correction would bring back, and which open bus claims it was called after."""
        buses = (told for told in self.asked if told.key.startswith("power:"))
        return _fold(self.plan, word), tuple(word.start >= told.start for told in buses)

    def _repeats(self, item: str) -> bool:
        """Whether a good call about the item may come to repeat one of this visit."""
        taken = self.last.before if self.last.key == item else NOTHING
        return any(word.good and word.here for word in (self.words[item], taken))

    def _told(self, told: Told) -> Key:
        later = (word.good and word.start >= told.start for word in self.words.values())
        bus = told.key.startswith("power:")
        channel = told.channel if self.channels > 1 else 0
        return self.plan.kind(told.key), channel, tuple(later) if bus else ()


def _fold(plan: Plan, word: Word) -> Key:
    return (word.good, word.here, word.bad, plan.kind(word.key) if word.here else "")


def fresh(plan: Plan) -> Witness:
    """Before anything has happened."""
    return Witness(plan, dict.fromkeys(plan.items, NOTHING), {}, {}, {})
