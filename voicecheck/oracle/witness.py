"""A witness of a session: it hears what the crew hears and says, and knows what may stand as good.

It is written from the rules alone, without the engine's state: it sees the events, the
prompts that were asked, and the resolved checklist. It does not foretell what the engine says; of
each item it knows whether the crew has given cause to write it down as good, whether the last
thing they said about it was bad, and whether a finding stands. Nothing may stand as good, or as a
finding, that has no cause here, and nothing that has may be missing.

Rules (a call is *sound* when the registration has been affirmed with a bus, the power that the
item needs has been called, affirmed and stands, and the stages before it were called good in this
visit; where the session was cut off, registration and power have to be affirmed anew):

1. A good call gives cause when it is sound; after bad news it also needs a yes to the question
   that was asked about it, and nothing else called in between, in whatever visit it was bad. With
   a microphone each the other's call of what has had that yes needs none of its own.
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
11. That nothing shows is not sound while a lamp is timed that it denies, and such words may have
   been the closing call of that lamp; where a finding stands of what it denies that was called,
   not measured, it needs a yes. Something unforeseen, called there, takes its cause away.
12. A switch is put back once any throw of it was called, good or bad, in any visit; the call of
   a throw, sound or not, takes the cause away that it is back.
13. What nobody has foreseen is sound wherever it is called, and is never good.
14. After a gap (held over a minute, microphone or session lost) no bus is known, but what was
   affirmed within the minute, and no call is sound before a call of a position, or a yes to it.
   Good news in words of several positions needs a yes after words that were not understood.
15. A position that is disregarded has no cause left; nor has, where power was said to be wrong,
   what needs any.
16. A finding stands from a sound bad call, or a lamp that was not called out in its time, until
   that is taken back or made void, or a good call has cause.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, NamedTuple

from voicecheck.oracle.plan import Plan


class Word(NamedTuple):
    """What the crew's last call about an item comes to.

    good: there is cause to write it down as good. here: called in the present visit.
    bad: it must be found as unsatisfactory, unless void. key: the call. start: when it began.
    found: a finding stands. lit: and it was called, not measured.
    """

    good: bool = False
    here: bool = False
    bad: bool = False
    key: str = ""
    start: float = 0.0
    found: bool = False
    lit: bool = False


class Found(NamedTuple):
    """Bad news that counted. here: in the present visit. start: when its words began."""

    here: bool
    start: float


class Act(NamedTuple):
    """The last call, as "correction" takes it back.

    kind: item, refused (a bad call that did not count), differed, power, position, question, half
    (of a read-back), several (one yes to all of `acts`), or none. before: what stood of the item
    before; found: what had been found.
    """

    kind: str
    key: str = ""
    before: Word = Word()
    found: tuple[Found, ...] = ()
    acts: tuple[Act, ...] = ()


class Told(NamedTuple):
    """A call that a yes would make count. here: of a bus, what was called in that visit."""

    key: str
    channel: int
    start: float
    end: float
    here: frozenset[tuple[str, float]] | None = None


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


@dataclass(slots=True)
class Known:
    """What has been witnessed so far; witnessing.py says how an event changes it.

    before: what stood of an item when it was last called good. found: all that was ever found of
    it, and neither taken back nor made void. airframe: the registration was affirmed. missed: end
    of the first words not understood since the selector was last known to be here. maybe: calls of
    other positions, half understood and not answered yet, in order. put: when the open question
    was last asked. called: when an affirmed bus was. held_from, cut: the hold; a part was lost in
    it. gap: since one nobody has said where the selector is.
    """

    plan: Plan
    words: dict[str, Word]
    buses: dict[str, str] = field(default_factory=dict)
    timed: dict[str, Timed] = field(default_factory=dict)
    before: dict[str, Word] = field(default_factory=dict)
    found: dict[str, tuple[Found, ...]] = field(default_factory=dict)
    airframe: bool = False
    at: str | None = None
    asked: tuple[Told, ...] = ()
    last: Act = NO_ACT
    half: tuple[str, int] | None = None
    second: bool = False
    channels: int = 1
    now: float = 0.0
    put: float = 0.0
    missed: float | None = None
    maybe: tuple[Told, ...] = ()
    called: dict[str, float] = field(default_factory=dict)
    held_from: float | None = None
    cut: bool = False
    gap: bool = False
