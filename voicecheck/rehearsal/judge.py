"""What voicecheck made of a session, held against what its crew called and the aircraft was.

The judge reads the crew's account, the checklist and the final result, and nothing of the
engine. It does not repeat the engine's rules; it asks of every good entry whether the crew
gave it every right to stand, and of every finding whether the crew called one. What a crew
misread is its own and not counted here. A yes that it gave to what it had not said is judged
twice: what stands as good only by such a yes is no fault of voicecheck, but a dangerous miss of
crew and voicecheck together, and is told apart as careless.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Grade, Item
from voicecheck.rehearsal.account import Account, Entry, Said
from voicecheck.rehearsal.other_fault import other_fault
from voicecheck.world.faults import needs

MARGIN: Final = 0.02
"""Seconds by which a lamp may miss a limit before it counts as out of its window."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """One item whose record is not what the crew called. why: in words."""

    item: str
    why: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """One session judged.

    dangerous: logged good without the right to be. careless: the same, but for a yes of the crew
    to something else than it had said. false_findings: logged bad, but not called
    bad. otherwise: called bad and logged bad, but as another fault than the crew called (the
    wrong lamp, another count). lost: called bad and logged neither bad nor good. called_bad: items
    that the crew last called bad. found: of those, logged as findings. misread: items that the
    crew itself called otherwise than they were.
    """

    dangerous: tuple[Wrong, ...]
    false_findings: tuple[Wrong, ...]
    lost: tuple[Wrong, ...]
    called_bad: int
    found: int
    misread: int
    careless: tuple[Wrong, ...] = ()
    otherwise: tuple[Wrong, ...] = ()


@dataclass(slots=True)
class _Call:
    """An item's call with the circumstances of its moment, as the crew knows them."""

    entry: Entry
    number: int
    position: str | None
    visit: int
    power: Mapping[str, str]
    confirmed: bool = False
    voided: bool = False


class _Walk:
    """The account once through, in order."""

    def __init__(self, checklist: Checklist, account: Account) -> None:
        self._checklist = checklist
        self.items = {item.id: item for item in checklist.items}
        self.calls: dict[str, list[_Call]] = {item: [] for item in self.items}
        self.two_crew = account.two_crew
        self._position: str | None = None
        self._places: list[tuple[float, str]] = []
        self._visit = 0
        self._power: dict[str, str] = {}
        self._pending: dict[str, str] = {}
        for number, entry in enumerate(account.entries):
            if entry.got_through:
                self._take(entry, number)

    def is_bad_news(self, entry: Entry, item: Item) -> bool:
        """Whether a call says that something is wrong.

        That a timed lamp is lit while the selector is still at its position is as it should be.
        """
        before = [place for start, place in self._places if start <= entry.start]
        still_here = item.window is not None and before[-1:] == [item.position]
        return entry.grade is not Grade.GOOD and not still_here

    def _take(self, entry: Entry, number: int) -> None:
        match entry.said:
            case Said.ITEM:
                call = _Call(entry, number, self._position, self._visit, dict(self._power))
                call.confirmed = entry.by_yes
                self.calls[entry.about].append(call)
            case Said.POWER:
                assert entry.state is not None
                self._power.pop(entry.about, None)
                self._pending[entry.about] = entry.state
                if entry.by_yes:
                    self._switched(entry.about)
            case Said.POSITION:
                self._position, self._visit = entry.about, self._visit + 1
                self._places.append((entry.start, entry.about))
            case Said.COMMAND:
                self._command(entry)

    def _command(self, entry: Entry) -> None:
        if entry.about == "affirm":
            for key in entry.claims:
                kind, _, rest = key.partition(":")
                bus, _, state = rest.partition(":")
                if kind == "power" and self._pending.get(bus) == state:
                    self._switched(bus)
                for calls in self.calls.values():
                    if calls and calls[-1].entry.key == key:
                        calls[-1].confirmed = True
        elif entry.about == "negative":
            self._pending.clear()

    def _switched(self, bus: str) -> None:
        """A bus is affirmed: calls of this visit that need it otherwise no longer hold."""
        state = self._power[bus] = self._pending.pop(bus)
        there = [i for i in self.items.values() if i.position == self._position]
        wanted = {needs(self._checklist, item).get(bus) for item in there}
        if {"on", "off"} <= wanted:
            return
        for item in there:
            if needs(self._checklist, item).get(bus) in (None, state):
                continue
            for call in self.calls[item.id]:
                call.voided |= call.visit == self._visit


def judge(checklist: Checklist, account: Account, summary: Mapping[str, Any]) -> Judgement:
    """Judge one session. summary: the engine's final result, JSON-ready."""
    walk = _Walk(checklist, account)
    said = account.as_said()
    walk_said = _Walk(checklist, said)
    outcomes = {item["id"]: item["outcome"] for item in summary["items"]}
    findings = {f["item"]: f for f in summary["findings"] if not f["superseded"]}
    dangerous, careless, false, lost, otherwise = [], [], [], [], []
    called_bad = found = misread = 0
    for item in checklist.items:
        calls = walk.calls[item.id]
        outcome = outcomes[item.id]
        last = calls[-1] if calls else None
        if last is not None and last.entry.misread:
            misread += 1
        bad = last is not None and _is_bad(last) and not last.entry.gone
        called_bad += bad
        found += bad and outcome == "unsatisfactory"
        if outcome == "satisfactory":
            why = _no_right(checklist, account, walk, item)
            dangerous += [Wrong(item.id, why)] if why else []
            by_yes = None if why else _no_right(checklist, said, walk_said, item, by_words=True)
            careless += [Wrong(item.id, f"{by_yes}, but for a careless yes")] if by_yes else []
        elif outcome == "unsatisfactory":
            why = _no_finding(account, item, calls)
            false += [Wrong(item.id, why)] if why else []
            other = None if why else _other(item, walk, account, findings[item.id])
            otherwise += [Wrong(item.id, other)] if other else []
        elif bad and last is not None:
            lost.append(Wrong(item.id, f"called '{last.entry.words}', logged {outcome}"))
    return Judgement(
        tuple(dangerous),
        tuple(false),
        tuple(lost),
        called_bad,
        found,
        misread,
        tuple(careless),
        tuple(otherwise),
    )


def _is_bad(call: _Call) -> bool:
    return call.entry.grade is not Grade.GOOD


def _no_right(
    checklist: Checklist, account: Account, walk: _Walk, item: Item, *, by_words: bool = False
) -> str | None:
    """Why an item may not stand as good, or None: one call that gives it the right is enough.

    by_words: a good call that the crew itself made after a bad one is its correction, and needs
    no yes (the yes that voicecheck asks for may have been given to something else).
    """
    calls = walk.calls[item.id]
    if not calls:
        return "never called"
    bad_calls = [e for e in account.of(item.id) if walk.is_bad_news(e, item)]
    # What was lost on the way and then taken back was never said to anybody.
    heard = [e for e in bad_calls if e.got_through or not e.gone]
    why: str | None = None
    for call in reversed([call for call in calls if not call.entry.gone]):
        if _is_bad(call) and not walk.is_bad_news(call.entry, item):
            continue
        if _is_bad(call) or any(bad.start > call.entry.start for bad in heard):
            return why or f"called '{heard[-1].words}' since it was last called good"
        if item.window is not None:
            problem = (
                _not_in_time(account, item, call)
                or _powerless(checklist, item, call)
                or _never_lit(walk, item, call)
            )
        else:
            problem = (
                _wrong_circumstances(checklist, walk, item, call)
                or (None if by_words else _doubted(checklist, walk, item, call))
                or _one_alone(account, item, calls, call)
                or _not_so(call)
            )
        if problem is None:
            return None
        why = why or problem
    return why or "the call was taken back"


def _wrong_circumstances(checklist: Checklist, walk: _Walk, item: Item, last: _Call) -> str | None:
    lacking = _lacking(checklist, item, last)
    if lacking or last.voided:
        return lacking or "the power was changed afterwards"
    for stage in item.after:
        before = [
            call
            for call in walk.calls[stage]
            if call.visit == last.visit and call.number < last.number and not call.entry.gone
        ]
        if not before or _is_bad(before[-1]):
            return f"called before {stage} was good"
    return None


def _lacking(checklist: Checklist, item: Item, call: _Call) -> str | None:
    if call.position != item.position:
        return f"called with the selector at {call.position}"
    return _powerless(checklist, item, call)


def _powerless(checklist: Checklist, item: Item, call: _Call) -> str | None:
    wanted = needs(checklist, item)
    other = [f"{bus} {s}" for bus, s in wanted.items() if call.power.get(bus) != s]
    return f"called without {', '.join(other)}" if other else None


def _never_lit(walk: _Walk, item: Item, last: _Call) -> str | None:
    """A timed lamp must have been called lit in the visit that the selector left it from."""
    for stage in item.after:
        lit = [c for c in walk.calls[stage] if c.number < last.number and not c.entry.gone]
        if not lit or _is_bad(lit[-1]):
            return f"timed although {stage} was not called good"
    return None


def _doubted(checklist: Checklist, walk: _Walk, item: Item, last: _Call) -> str | None:
    """Good news after bad that counted, in one visit, needs a yes.

    Where two crew must call an item, both of them calling it good since will do.
    """
    doubt: _Call | None = None
    for call in walk.calls[item.id]:
        if call.number > last.number or call.visit != last.visit:
            continue
        if _is_bad(call):
            counted = _wrong_circumstances(checklist, walk, item, call) is None
            doubt = call if counted and not call.entry.gone else doubt
        elif call.confirmed:
            doubt = None
    if item.read_back and walk.two_crew:
        return None
    if doubt is None:
        return None
    return f"called '{doubt.entry.words}' in the same visit, and no yes to the change"


def _one_alone(account: Account, item: Item, calls: Sequence[_Call], last: _Call) -> str | None:
    if not (item.read_back and account.two_crew):
        return None
    good: list[_Call] = []
    for call in calls:
        if call.number <= last.number and call.visit == last.visit:
            good = [] if _is_bad(call) else [*good, call]
    who = {call.entry.who for call in good}
    enough = len(who) > 1 if account.channels > 1 else len(good) > 1
    return None if enough else "only one of the two called it"


def _not_in_time(account: Account, item: Item, last: _Call) -> str | None:
    """The lamp that truly ran, against its window."""
    assert item.window is not None
    ran = [t for t in account.timed if t.item == item.id and t.left <= last.entry.start]
    if not ran:
        return "the lamp never ran"
    took = ran[-1].out - ran[-1].left
    inside = item.window.lower - MARGIN <= took <= item.window.upper + MARGIN
    if inside or last.entry.slow or last.entry.misread:
        return None
    return f"it took {took:.1f} s, and was called when it went out"


def _not_so(last: _Call) -> str | None:
    right = last.entry.right
    if right is not None and right != last.entry.key and not last.entry.misread:
        return "it was not so"
    return None


def _no_finding(account: Account, item: Item, calls: Sequence[_Call]) -> str | None:
    """Why a finding may not stand, or None."""
    standing = [call for call in calls if not call.entry.gone]
    if item.window is not None:
        return _timed_finding(account, item, standing)
    if not standing:
        return "never called bad"
    last = standing[-1]
    if not _is_bad(last):
        if any(_is_bad(call) and call.visit == last.visit for call in standing):
            return None  # the good call waited for a yes, or the second crew member, in vain
        if any(_is_bad(call) for call in standing) and _one_alone(account, item, standing, last):
            return None  # the same in a later visit
        return f"last called '{last.entry.words}'"
    return None


def _other(item: Item, walk: _Walk, account: Account, finding: Mapping[str, Any]) -> str | None:
    """What a finding says otherwise than the crew; of a time the judge knows no more than it."""
    standing = [c for c in walk.calls[item.id] if _is_bad(c) and not c.entry.gone]
    if item.window is not None or not standing:
        return None
    here = [call.entry for call in standing if call.visit == standing[-1].visit]
    said = [entry for entry in account.of(item.id) if not entry.gone]
    return other_fault(item, finding, here, said)


def _timed_finding(account: Account, item: Item, standing: Sequence[_Call]) -> str | None:
    assert item.window is not None
    ran = [t for t in account.timed if t.item == item.id]
    # What was called of an earlier run says nothing of this one.
    standing = [call for call in standing if ran and call.entry.start >= ran[-1].left]
    if not standing or _is_bad(standing[-1]) or standing[-1].entry.slow:
        return None  # silence, or bad news, is a finding; a late call is the crew's
    took = ran[-1].out - ran[-1].left
    if item.window.lower <= took <= item.window.upper:
        return f"it took {took:.1f} s, in its window, and was called when it went out"
    return None
