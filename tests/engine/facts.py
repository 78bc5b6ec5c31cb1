"""What the reference account knows: a list of facts that only grows, and questions to it.

Every question ("is a bus on?", "what is the outcome of this item?") is answered by searching
the whole list anew; nothing is ever changed or taken away. The answer that is asked for most is
kept until the list grows. See engine/reference.py.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from voicecheck.checklist.resolved import OFF, Checklist, Grade
from voicecheck.engine import events as e

GOOD, BAD, OPEN, VOID = "satisfactory", "unsatisfactory", "not tested", "void"
COUNTED = (GOOD, BAD)
TOUCH = -1


@dataclass(frozen=True)
class Call:
    """A callout as it was spoken.

    visit: in which. channel: TOUCH where it was entered by hand. stays: it is no callout, but
    ours, that the selector is still where it was.
    """

    key: str
    start: float
    end: float
    channel: int
    visit: int = 0
    stays: bool = False


@dataclass(frozen=True)
class Result:
    """A call (or silence) about an item. number: its identity. beside: it never stood."""

    item: str
    outcome: str
    key: str
    lamps: frozenset[str]
    visit: int
    start: float
    number: int
    beside: bool = False


@dataclass(frozen=True)
class Fact:
    """Something that is so from here on: a subject, and what is said of it."""

    kind: str
    about: Any = None
    value: Any = None


class Facts:
    """The list, and what follows from it about one checklist."""

    def __init__(self, checklist: Checklist) -> None:
        self.checklist = checklist
        self.log: list[e.Event] = []
        self.facts: list[Fact] = []
        every = (*checklist.items, *checklist.others)
        self.items = {item.id: item for item in every}
        self.readings = {r.key: (i, r) for i in every for r in (*i.readings, *i.darks)}
        self.began = e.Began(0.0)
        self.now = 0.0
        self._standing: dict[str, Result | None] = {}

    def add(self, kind: str, about: Any = None, value: Any = None) -> None:
        """One more fact."""
        self.facts.append(Fact(kind, about, value))
        self._standing.clear()

    def since(self, kind: str) -> Iterator[Fact]:
        """Facts later than the last of a kind, latest first."""
        for fact in reversed(self.facts):
            if fact.kind == kind:
                return
            yield fact

    def last(self, *kinds: str, about: Any = None) -> Fact | None:
        """The latest fact of these kinds (about this subject)."""
        for fact in reversed(self.facts):
            if fact.kind in kinds and (about is None or fact.about == about):
                return fact
        return None

    def is_so(self, yes: str, no: str, about: Any = None) -> bool:
        """Whether the latest of two opposite facts is the first one."""
        fact = self.last(yes, no, about=about)
        return fact is not None and fact.kind == yes

    @property
    def finished(self) -> bool:
        """Whether the session is over."""
        return self.last("finished") is not None

    @property
    def complete(self) -> bool:
        """Whether it was completed with nothing left."""
        return self.last("finished", about=True) is not None

    @property
    def held(self) -> bool:
        """Whether the session waits at an item."""
        return self.is_so("held", "resumed")

    @property
    def position(self) -> str | None:
        """Where the selector is, as far as the calls tell."""
        fact = self.last("selected", "unselected")
        return fact.about if fact is not None and fact.kind == "selected" else None

    @property
    def visit(self) -> int:
        """Number of the present visit; every call of a position begins one."""
        return sum(fact.kind == "selected" for fact in self.facts)

    @property
    def power(self) -> dict[str, str]:
        """Buses whose last call was affirmed."""
        known = {bus.id: self.last("bus", about=bus.id) for bus in self.checklist.buses}
        return {bus: f.value for bus, f in known.items() if f is not None and f.value is not None}

    @property
    def airframe(self) -> bool:
        """Whether the registration was affirmed, with a bus, since the session was last cut off."""
        return self.is_so("airframe", "cut off")

    @property
    def question(self) -> Fact | None:
        """The open question, if any. about: what it is. value: the claims."""
        fact = self.last("asked", "answered")
        return fact if fact is not None and fact.kind == "asked" else None

    @property
    def maybe_at(self) -> list[Call]:
        """Half-understood calls of positions of which the crew has not said yes or no, in order.

        The first of them is of another position than the selector is known to be at.
        """
        waiting: list[Call] = []
        here = None
        for fact in self.facts:
            if fact.kind == "half-placed" and here is not None:
                waiting = [c for c in waiting if c.key != fact.about] + [fact.value]
            elif fact.kind == "place-denied":
                waiting = [c for c in waiting if c.key != fact.about]
            elif fact.kind == "place-affirmed":
                # Where the selector goes with it, the calls that remain may be of elsewhere.
                waiting = [c for c in waiting if c.start > fact.value and c.key not in fact.about]
                continue
            elif fact.kind == "selected":
                here = self.select_key(fact.about)
                waiting = [c for c in waiting if c.start > fact.value]
            elif fact.kind == "unselected":
                here, waiting = None, []
            while waiting and waiting[0].key == here:
                del waiting[0]
        return waiting

    @property
    def asked_at(self) -> float:
        """When the open question was last put to the crew."""
        fact = self.last("put")
        return float(fact.value) if fact is not None else 0.0

    def answers(self, call: Call) -> bool:
        """Whether a yes is one to the open question: half a second for each call read back."""
        claims = self.question.value if self.question else ()
        least = 0 if call.channel == TOUCH else 0.5 * max(1, len(claims or ()))
        return least <= call.start - self.asked_at <= 20 + least

    @property
    def place_lost(self) -> bool:
        """Whether nobody has said since a gap where the selector is."""
        fact = self.last("gap", "selected", "unselected", "place-affirmed")
        return fact is not None and fact.kind == "gap"

    def asked_of_place(self, claim: Call) -> bool:
        """Whether a claim is one of those calls, or of where the selector was before a gap."""
        half_understood = claim.key in [call.key for call in self.maybe_at]
        return half_understood or (claim.stays and self.place_lost)

    def shared(self, key: str) -> bool:
        """Whether a reading is called in the words of one at another position."""
        item, reading = self.readings[key]
        return not item.unforeseen and any(
            other.position != item.position and not other.unforeseen
            for other, like in self.readings.values()
            if set(like.phrases) & set(reading.phrases)
        )

    @property
    def windows(self) -> dict[str, float]:
        """Timed items that run, and when the selector left them."""
        timed = [item.id for item in self.items.values() if item.window is not None]
        running = {i: self.last("runs", "stopped", about=i) for i in timed}
        return {i: f.value for i, f in running.items() if f is not None and f.kind == "runs"}

    @property
    def half_called(self) -> tuple[str, Call] | None:
        """An item that one crew member called good and the other has yet to."""
        fact = self.last("half-called", "half-call-over")
        return (fact.about, fact.value) if fact and fact.kind == "half-called" else None

    def needs(self, item: str) -> dict[str, str]:
        """The power that an item needs; what nobody has foreseen is seen without any."""
        if self.items[item].unforeseen:
            return {}
        position = self.checklist.position(self.items[item].position)
        return {**position.power, **self.items[item].power}

    def both_states_wanted(self, item: str, bus: str) -> bool:
        """Whether the item's position is tested with this bus on and with it off."""
        there = self.checklist.position(self.items[item].position).items
        return {self.needs(other.id).get(bus) for other in there} >= {"on", "off"}

    def powered(self, item: str) -> bool:
        """Whether every bus that the item needs is affirmed to be so."""
        return self.needs(item).items() <= self.power.items()

    def standing(self, item: str) -> Result | None:
        """The latest result about an item that was not taken back and not looked at anew."""
        if item not in self._standing:
            self._standing[item] = self._latest(item)
        return self._standing[item]

    def _latest(self, item: str) -> Result | None:
        withdrawn = {fact.about for fact in self.facts if fact.kind == "withdrawn"}
        at_rest = self.seen_at_rest(item)
        for fact in reversed(self.facts):
            if at_rest and fact.kind == "selected" and fact.about != OFF:
                return None  # what was seen at rest must be seen again at the end
            if fact.about != item:
                continue
            if fact.kind in ("reopened", "set-aside"):
                return None
            found = fact.value if fact.kind == "result" else None
            if found and not found.beside and found.number not in withdrawn:
                return found if isinstance(found, Result) else None
        return None

    def seen_at_rest(self, item: str) -> bool:
        """Whether it is expected at off, so that it must be seen again once the selector left."""
        return self.items[item].position == OFF and not self.items[item].unforeseen

    def called_lit(self, item: str) -> bool:
        """Whether a finding stands about it that somebody called, and did not measure."""
        result = self.standing(item)
        if result is None or self.outcome(item) != BAD or result.key not in self.readings:
            return False
        return self.readings[result.key][1].grade is not Grade.GOOD

    def thrown_of(self, item: str) -> list[str]:
        """The throws of a switch that goes back; none for anything else."""
        return list(self.items[item].after) if self.items[item].put_back else []

    def outcome(self, item: str) -> str:
        """Satisfactory, unsatisfactory, not tested or void."""
        result = self.standing(item)
        if result is None:
            return OPEN
        return VOID if self.last("voided", about=result.number) else result.outcome

    def here(self, item: str) -> Result | None:
        """The standing result if it says something and was called in the present visit."""
        result = self.standing(item)
        counts = result is not None and self.outcome(item) in COUNTED
        return result if counts and result and result.visit == self.visit else None

    def blocked(self, item: str) -> bool:
        """Whether an earlier stage failed, so that the item cannot be tested.

        Nothing keeps a switch from being put back.
        """
        if self.items[item].put_back:
            return False
        stages = self.items[item].after
        return any(self.outcome(stage) == BAD or self.blocked(stage) for stage in stages)

    def missing(self) -> list[str]:
        """Items that can be tested and have no result that counts."""
        wanted = [i for i, item in self.items.items() if not item.unforeseen]
        return [i for i in wanted if self.outcome(i) not in COUNTED and not self.blocked(i)]

    def findings(self) -> dict[str, frozenset[str]]:
        """Findings that stand: the item, and the lamps named dark."""
        bad = [self.standing(i) for i in self.items if self.outcome(i) == BAD]
        return {result.item: result.lamps for result in bad if result is not None}

    def findings_told(self) -> dict[str, frozenset[str]]:
        """Findings that the end tells.

        Of each item that is the last result that says something and was not undone, if it is bad:
        so it stays where the item is open again, and where a later call told nothing, also where
        something good stood in between. And what is intermittent.
        """
        found = {item: [*self.intermittent(item), self.last_word(item)] for item in self.items}
        return {
            item: r.lamps
            for item, results in found.items()
            for r in results
            if r is not None and r.outcome == BAD
        }

    def intermittent(self, item: str) -> list[Result]:
        """What was called bad of an item that stands as good, and not bettered in its visit."""
        words = self.words(item) if self.outcome(item) == GOOD else []
        return [
            bad
            for n, bad in enumerate(words)
            if bad.outcome == BAD
            if not any(w.outcome == GOOD and w.visit == bad.visit for w in words[n:])
        ]

    def found_before(self, item: str) -> bool:
        """Whether good news would follow a finding: one of this visit stands, or one of another.

        Where one of the crew alone called it bad, in this visit, the two settle it by agreeing.
        """
        here, word = self.here(item), self.last_word(item)
        if here is not None and here.outcome == BAD:
            return True
        return word is not None and word.outcome == BAD and word.visit != self.visit

    def listed(self) -> list[object]:
        """What the end reads out: findings, and what is not tested."""
        wanted = [i for i, item in self.items.items() if not item.unforeseen]
        open_items = [i for i in wanted if self.outcome(i) not in COUNTED]
        return [*self.findings_told(), *open_items]

    def last_word(self, item: str) -> Result | None:
        """The last result that was neither voided nor undone: bad, or good and still standing."""
        words = self.words(item)
        if self.outcome(item) != GOOD:
            words = [word for word in words if word.outcome == BAD]
        return words[-1] if words else None

    def words(self, item: str) -> list[Result]:
        """All results, good or bad, that were neither voided nor undone."""
        withdrawn = {fact.about for fact in self.facts if fact.kind == "withdrawn"}
        words: list[Result] = []
        at_rest = self.seen_at_rest(item)
        for fact in self.facts:
            left_rest = at_rest and fact.kind == "selected" and fact.about != OFF
            if left_rest or (fact.kind == "reopened" and fact.about == item):
                words = words[:-1] if words and words[-1].outcome == GOOD else words
            elif fact.kind == "all-void" and fact.about == item:
                visit, since = fact.value
                words = [w for w in words if w.visit != visit and w.start < since]
            elif fact.kind in ("result", "differed") and fact.about == item:
                result = fact.value
                if result.outcome in COUNTED and result.number not in withdrawn:
                    words.append(result)
        return words

    # What can be said.

    def sayable(self) -> set[str]:
        """Keys of all callouts that can be said now."""
        if self.finished or not self.log:
            return set()
        commands = {"say-again", "read-back", "abandon", "negative"}
        keys = {r.key for i in self.windows for r in self.items[i].readings}
        if self.held:
            keys |= {f"power:{b.id}:{s}" for b in self.checklist.buses for s in ("on", "off")}
            commands |= {"resume"}
        else:
            keys |= self.live()
            commands |= {"stand-by", "correction", "disregard", "complete", "crew-change"}
            commands |= {"power-wrong"}
        question = self.question
        of_power = question and all(c.key.startswith("power:") for c in question.value)
        if question is not None and (not self.held or question.about != "claims" or of_power):
            # A call that is in question waits for its answer until the session goes on.
            commands |= set() if question.about == "abandon" else {"affirm"}
            if question.about == "abandon":
                keys |= {f"reason:{reason}" for reason in self.checklist.reasons}
        return keys | {f"command:{name}" for name in commands}

    def live(self) -> set[str]:
        """Callouts about the aircraft that mean something here, held or not."""
        keys = {r.key for i in self.windows for r in self.items[i].readings}
        here = self.position
        keys |= {key for key, (item, _) in self.readings.items() if item.position == here}
        keys |= {f"power:{b.id}:{s}" for b in self.checklist.buses for s in ("on", "off")}
        keys |= {self.select_key(p.id) for p in self.checklist.positions}
        keys |= self.disregards()
        return keys | {f"select:{n.position}" for n in self.checklist.not_fitted if n.say}

    def disregards(self) -> set[str]:
        """What takes a position back: of where we are, and wherever something is known."""
        known = {i.position for i in self.items.values() if self.outcome(i.id) in COUNTED}
        return {f"disregard:{p}" for p in known | {self.position} if p not in (None, OFF)}

    @staticmethod
    def select_key(position: str) -> str:
        """The callout that names a position."""
        return "selector:off" if position == OFF else f"select:{position}"
