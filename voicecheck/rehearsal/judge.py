"""What voicecheck made of a session, held against what it was given and what its crew said.

The oracle's witness is asked twice. Of the events that the engine was given: what stands as good
without cause there is the engine's fault. Of the words that the crew truly said (words.py): what
stands as good without cause there was misheard, or agreed to by a careless yes. The crew says yes
to what it had not said, and good stands only by that: no fault of voicecheck, but a dangerous miss
of crew and voicecheck together, told apart as careless. What a crew misread is its own, and a lamp
that is timed is held against the time that it truly took.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Item
from voicecheck.engine.events import Heard, KeyPressed, Unclear
from voicecheck.oracle.heard import Delivered, witnessed
from voicecheck.oracle.plan import DARK, Plan, Spoken
from voicecheck.oracle.witness import Word
from voicecheck.rehearsal.account import Account
from voicecheck.rehearsal.words import Words

MARGIN: Final = 0.02
"""Seconds by which a lamp may miss a limit before it counts as out of its window."""

ROUNDED: Final = 0.001
"""Seconds to which a result tells when a call was made."""


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


def judge(
    checklist: Checklist,
    account: Account,
    session: Sequence[Delivered],
    summary: Mapping[str, Any],
) -> Judgement:
    """Judge one session. session: what the engine was given. summary: its result, JSON-ready."""
    return _Judge(Plan(checklist), account, session, summary).judgement()


class _Judge:
    def __init__(
        self,
        plan: Plan,
        account: Account,
        session: Sequence[Delivered],
        summary: Mapping[str, Any],
    ) -> None:
        self.plan = plan
        self.account = account
        uncalled = dict.fromkeys(plan.items, "not tested")  # what nobody called is not listed
        self.outcomes = uncalled | {item["id"]: item["outcome"] for item in summary["items"]}
        self.times = {item["id"]: item["times"] for item in summary["items"]}
        self.findings = {f["item"]: f for f in summary["findings"] if not f["superseded"]}
        self.heard = witnessed(plan, session)
        self.given = _given(session)
        self.agreed = Words(plan, account, session, agreeing=True)
        self.said = Words(plan, account, session, agreeing=False)

    def judgement(self) -> Judgement:
        good = [item for item in self.plan.items if self.outcomes[item] == "satisfactory"]
        bad = [item for item in self.plan.items if self.outcomes[item] == "unsatisfactory"]
        dangerous = _told_by(self.no_right, good)
        false = _told_by(self.no_finding, bad)
        careless = _told_by(self.careless_yes, (i for i in good if i not in dangerous))
        otherwise = _told_by(self.other_fault, (i for i in bad if i not in false))
        called = _told_by(self.called_bad, self.plan.items)
        lost = {
            item: f"called '{self.phrase(key)}', logged {self.outcomes[item]}"
            for item, key in called.items()
            if item not in good and item not in bad
        }
        return Judgement(
            _wrongs(dangerous),
            _wrongs(false),
            _wrongs(lost),
            len(called),
            len(set(called) & set(bad)),
            self.misread(),
            _wrongs(careless),
            _wrongs(otherwise),
        )

    def no_right(self, item: str) -> str | None:
        """Why it may not stand as good, or None."""
        if not self.heard.words[item].good:
            return f"what was heard gives no cause ({self.told(self.heard.words[item])})"
        if abs(self.times[item]["start"] - self.heard.words[item].start) > ROUNDED:
            return f"the call at {self.times[item]['start']} s is not what gives cause"
        if self.account.elsewhere and not self.account.agreed:
            return "the crew is in another airframe, and did not say yes to this one"
        if not any(words.witness.words[item].good for words in (self.said, self.agreed)):
            return f"what was said gives no cause ({self.told(self.agreed.witness.words[item])})"
        took, prompt = self.took(self.plan.items[item])
        window = self.plan.items[item].window
        if window is None or not prompt:
            return None
        if window.lower - MARGIN <= took <= window.upper + MARGIN:
            return None
        return f"it took {took:.1f} s, and was called when it went out"

    def careless_yes(self, item: str) -> str | None:
        """Why it stands as good only by a careless yes, or None."""
        word = self.said.witness.words[item]
        if self.account.elsewhere:
            return "it is of another airframe, but for a careless yes to the registration"
        if word.good:
            return None
        return f"by its own words it has no cause ({self.told(word)}), but for a careless yes"

    def no_finding(self, item: str) -> str | None:
        """Why a finding may not stand, or None."""
        if not self.heard.words[item].found:
            return f"what was heard is no bad news ({self.told(self.heard.words[item])})"
        agreed = [self.plan.readings.get(key) for key in self.agreed.agreed_to]
        if any(spoken and spoken.item.id == item and not spoken.good for spoken in agreed):
            return None  # a careless yes to bad news
        if (window := self.plan.items[item].window) is not None:
            took, prompt = self.took(self.plan.items[item])
            if prompt and window.lower <= took <= window.upper:
                return f"it took {took:.1f} s, in its window, and was called when it went out"
            return None
        if item in self.agreed.bad_in:
            return None
        return f"nobody called it bad ({self.told(self.agreed.witness.words[item])})"

    def took(self, item: Item) -> tuple[float, bool]:
        """Seconds that a timed lamp took, and whether the crew called it out at once."""
        ran = [lamp for lamp in self.account.timed if lamp.item == item.id]
        calls = [
            entry
            for entry in self.account.entries
            if entry.about == item.id and ran and entry.start >= ran[-1].left
        ]
        if not calls or not self.plan.readings[calls[-1].key].good:
            return 0.0, False
        return ran[-1].out - ran[-1].left, not calls[-1].slow and not calls[-1].misread

    def other_fault(self, item: str) -> str | None:
        """What a finding says otherwise than the crew; of a time nobody knows more than it.

        A lamp that is logged dark must have been named dark, and the last bad news must stand: the
        wrong lamp would send maintenance to the wrong place.
        """
        word, finding = self.heard.words[item], self.findings[item]
        if self.plan.items[item].window is not None or not word.bad:
            return None
        logged = set(filter(None, (finding["lamp"] or "").split(", ")))
        named = {entry.key for entry in self.account.of(item)} | self.agreed.agreed_to
        for whose in (self.given, named):
            if unsaid := logged - self.named_dark(whose):
                return f"logged {', '.join(sorted(unsaid))} dark, and nobody called it so"
        last = self.plan.readings[word.key]
        if _as_called(last, finding["what"], logged) and word.key in named:
            return None
        return f"called '{last.reading.phrases[0]}', logged '{finding['what']}'"

    def named_dark(self, keys: Iterable[str]) -> set[str]:
        """The lamps that calls of these keys name as dark."""
        spoken = [self.plan.readings[key] for key in keys if key in self.plan.readings]
        return {lamp for call in spoken for lamp in call.reading.lamps}

    def called_bad(self, item: str) -> str | None:
        """What the crew called it last, if that was bad."""
        key = self.agreed.latest.get(item)
        return key if key is not None and not self.plan.readings[key].good else None

    def misread(self) -> int:
        """Items that the crew last called otherwise than they were."""
        last = {entry.about: entry for entry in self.account.entries}
        return sum(last[item].misread for item in self.plan.items if item in last)

    def phrase(self, key: str) -> str:
        return self.plan.readings[key].reading.phrases[0]

    def told(self, word: Word) -> str:
        if word.bad:
            return f"called '{self.phrase(word.key)}'" if word.key else "not called in time"
        return "called good" if word.good else "no call that counts"


def _as_called(last: Spoken, what: str, logged: set[str]) -> bool:
    """Whether the last bad news is what stands; of lamps and the unforeseen, among others."""
    if last.item.unforeseen:
        return (last.reading.finding or "") in what
    if last.kind == DARK:
        return set(last.reading.lamps) <= logged
    return what == last.reading.finding and logged == set(last.reading.lamps)


def _given(session: Sequence[Delivered]) -> set[str]:
    """Keys of all that the engine was given, half understood or whole."""
    keys: set[str] = set()
    for step in session:
        match step.event:
            case Heard(key) | KeyPressed(key):
                keys.add(key)
            case Unclear(_, _, guess):
                keys.update(guess)
    return keys


def _told_by(tell: Callable[[str], str | None], items: Iterable[str]) -> dict[str, str]:
    """What is told of each item that there is something to tell of."""
    return {item: told for item in items if (told := tell(item))}


def _wrongs(whys: Mapping[str, str]) -> tuple[Wrong, ...]:
    return tuple(Wrong(item, why) for item, why in whys.items())
