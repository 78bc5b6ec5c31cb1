"""What voicecheck made of a session, held against what it was given, what was said, and the truth.

Whatever stands as good is looked at from three sides, and none excuses another: was it truly bad,
was it called bad last, was it called at all with its position and power in force. What is wrong
has one cause. The oracle's witness is asked of the events that the engine was given: what stands
without cause there is the engine's. Then of the words that the crew truly said (words.py): what
stands without cause there was misheard, or the crew let a wrong read-back or a missing answer
pass, or said yes to what it had not said. The rest is the crew's own: what it read, and where its
selector and its buses truly were. A lamp that is timed is held against the time that it took.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, Item, position_of
from voicecheck.engine.events import Heard, KeyPressed, Unclear
from voicecheck.oracle.heard import Delivered, witnessed
from voicecheck.oracle.plan import DARK, Plan, Spoken
from voicecheck.oracle.witness import Word
from voicecheck.rehearsal.account import Account
from voicecheck.rehearsal.words import NEAR, Words
from voicecheck.world.faults import FaultKind
from voicecheck.world.truth import truly_bad

MARGIN: Final = 0.02
"""Seconds by which a lamp may miss a limit before it counts as out of its window."""
ROUNDED: Final = 0.001
"""Seconds to which a result tells when a call was made."""

STRAY: Final = 30.0
"""Seconds after a call in which a yes that was meant for nothing may have answered about it."""


class Row(enum.StrEnum):
    """In what way something that stands as good should not."""

    TRULY_BAD = "truly bad"
    CALLED_BAD = "called bad"
    NOT_IN_FORCE = "not called or not in force"


class Cause(enum.StrEnum):
    """Whose it is. PASSED: the crew heard a wrong read-back, or no answer, and did not mind."""

    ENGINE = "engine"
    HEARING = "hearing"
    PASSED = "let pass by the crew"
    YES = "careless yes"
    CREW = "crew's own"


@dataclass(frozen=True, slots=True)
class Wrong:
    """One item whose record is not as it should be. why: in words."""

    item: str
    why: str
    cause: Cause = Cause.ENGINE
    rows: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Judgement:
    """One session judged.

    good: what stands as good and should not. false_findings: logged bad, but not called bad.
    otherwise: called bad and logged bad, but as another fault than the crew called (the wrong
    lamp, another count). unlike: neither, but not what the oracle makes of it. lost: called bad
    and logged neither bad nor good. called_bad: items that the crew last called bad. found: of
    those, logged as findings. misread: items that the crew itself called otherwise than they were.
    """

    good: tuple[Wrong, ...] = ()
    false_findings: tuple[Wrong, ...] = ()
    lost: tuple[Wrong, ...] = ()
    called_bad: int = 0
    found: int = 0
    misread: int = 0
    otherwise: tuple[Wrong, ...] = ()
    unlike: tuple[Wrong, ...] = ()

    @property
    def dangerous(self) -> tuple[Wrong, ...]:
        """What voicecheck alone is to blame for."""
        return tuple(w for w in self.good if w.cause in (Cause.ENGINE, Cause.HEARING))

    @property
    def careless(self) -> tuple[Wrong, ...]:
        """What it and its crew are to blame for together."""
        return tuple(w for w in self.good if w.cause in (Cause.PASSED, Cause.YES))


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
        self.said = Words(plan, account, session)

    def judgement(self) -> Judgement:
        good = [item for item in self.plan.items if self.outcomes[item] == "satisfactory"]
        bad = [item for item in self.plan.items if self.outcomes[item] == "unsatisfactory"]
        false = _told_by(self.no_finding, bad)
        otherwise = _told_by(self.other_fault, (i for i in bad if i not in false))
        called = _told_by(self.called_bad, self.plan.items)
        lost = {
            item: f"{told}, logged {self.outcomes[item]}"
            for item, told in called.items()
            if item not in good and item not in bad
        }
        return Judgement(
            tuple(filter(None, map(self.wrongly_good, good))),
            _wrongs(false),
            _wrongs(lost),
            len(called),
            len(set(called) & set(bad)),
            self.misread(),
            _wrongs(otherwise),
            _wrongs(_told_by(self.unlike, self.plan.items)),
        )

    def misread(self) -> int:
        """Items that the crew last called otherwise than they were."""
        last = {entry.about: entry for entry in self.account.entries}
        return sum(last[item].misread for item in self.plan.items if item in last)

    def unlike(self, item: str) -> str | None:
        """What has cause, and does not stand."""
        word, stands = self.heard.words[item], self.outcomes[item]
        if word.good and stands != "satisfactory":
            return f"called good with cause, logged {stands}"
        if word.found != (stands == "unsatisfactory"):
            return f"{'found' if word.found else 'nothing found'}, and logged {stands}"
        return None

    def wrongly_good(self, item: str) -> Wrong | None:
        """In which ways it may not stand as good, and whose fault that is; None if it may."""
        engine, unsaid, untimed = self.no_cause(item), self.unsaid(item), self.out_of_time(item)
        sides = {
            Row.TRULY_BAD: untimed or self.truly_bad(item),
            Row.CALLED_BAD: self.called_bad(item),
            Row.NOT_IN_FORCE: engine or unsaid or self.not_in_force(item),
        }
        told = {row: why for row, why in sides.items() if why}
        if not told:
            return None
        cause = self.whose(item) if unsaid else Cause.CREW
        if engine or (untimed and self.took(self.plan.items[item])[1]):
            cause = Cause.ENGINE
        return Wrong(item, "; ".join(told.values()), cause, tuple(told))

    def no_cause(self, item: str) -> str | None:
        """Why it has no cause in what the engine was given."""
        word = self.heard.words[item]
        if not word.good:
            return f"what was heard gives no cause ({self.told(word)})"
        if abs(self.times[item]["start"] - word.start) > ROUNDED:
            return f"the call at {self.times[item]['start']} s is not what gives cause"
        return None

    def unsaid(self, item: str) -> str | None:
        """Why it has no cause in what the crew said."""
        if self.account.elsewhere:
            return "the crew is in another airframe"
        word = self.said.witness.words[item]
        return None if word.good else f"what was said gives no cause ({self.told(word)})"

    def whose(self, item: str) -> Cause:
        """Who is to blame that something stands of which nothing was said."""
        account = self.account
        if account.elsewhere:
            return Cause.YES if account.agreed else Cause.HEARING
        start = self.times[item]["start"]
        if any(start <= yes < start + STRAY for yes in self.said.strays):
            return Cause.YES
        sides = (
            (Cause.YES, self.said.agreed_to),
            (Cause.PASSED, account.passed),
            (Cause.CREW, account.slipped),
        )
        return next((c for c, keys in sides if self.concerns(item, keys)), Cause.HEARING)

    def concerns(self, item: str, keys: Iterable[str]) -> bool:
        """Whether callouts are about an item, its position or a bus that it needs."""
        for key in keys:
            spoken, place = self.plan.readings.get(key), position_of(key.replace("stay", "select"))
            if spoken is not None and spoken.item.id in (item, *self.plan.items[item].after):
                return True
            if key.startswith("power:") and key.split(":")[1] in self.plan.needs[item]:
                return True
            if place == self.plan.items[item].position:
                return True
        return False

    def not_in_force(self, item: str) -> str | None:
        """Why its position or power was truly another than was called, as it was called."""
        scene = self.account.scene(self.times[item]["start"])
        if scene is None or self.plan.items[item].window is not None:
            return None
        if scene.selector != self.plan.items[item].position:
            return f"the selector was at {scene.selector}"
        needs = self.plan.needs[item].items()
        other = [bus for bus, state in needs if scene.buses[bus] != (state == "on")]
        return f"{', '.join(other)} was not as called" if other else None

    def truly_bad(self, item: str) -> str | None:
        """Why a right look would have called it bad."""
        scene = self.account.scene(self.times[item]["start"])
        if scene is None:
            return None
        told = self.outcomes.get(f"{self.plan.items[item].position}.other") == "unsatisfactory"
        seen = {f for f in scene.faults if told and f.kind is FaultKind.LAMP_COLOUR}
        if item not in truly_bad(self.plan.checklist, scene.faults - seen):
            return None
        return f"truly bad ({', '.join(sorted(map(str, scene.faults)))})"

    def out_of_time(self, item: str) -> str | None:
        """Why a lamp that stands as gone out in time did not."""
        window, took = self.plan.items[item].window, self.took(self.plan.items[item])[0]
        if window is None or took is None:
            return None
        inside = window.lower - MARGIN <= took <= window.upper + MARGIN
        return None if inside else f"it took {took:.1f} s"

    def took(self, item: Item) -> tuple[float | None, bool]:
        """Seconds that a timed lamp took, and whether both its ends were called at once."""
        start = self.times[item.id]["start"] + NEAR
        ran = self.account.ran(item.id, start)
        if ran is None:
            return None, False
        left, took = ran.left, ran.out - ran.left
        calls = [e for e in self.account.of(item.id) if left <= e.start <= start]
        if not calls or calls[-1].slow or calls[-1].misread:
            return took, False
        places = (e.end for e in self.account.entries if position_of(e.key) is not None)
        good = self.plan.readings[calls[-1].key].good
        return took, good and any(abs(left - end) < NEAR for end in places)

    def no_finding(self, item: str) -> str | None:
        """Why a finding may not stand, or None."""
        if not self.heard.words[item].found:
            return f"what was heard is no bad news ({self.told(self.heard.words[item])})"
        if self.plan.items[item].window is not None:
            took, prompt = self.took(self.plan.items[item])
            if took is None or not prompt or self.out_of_time(item) is not None:
                return None
            return f"it took {took:.1f} s, in its window, and was called when it went out"
        return None if self.perhaps_bad(item) else "nobody called it bad"

    def perhaps_bad(self, item: str) -> bool:
        """Whether the crew called it bad, or something else in the same words, or let that pass."""
        said = {entry.words for entry in self.account.entries}
        bad = [s for s in self.plan.readings.values() if s.item.id == item and not s.good]
        others = (self.said.agreed_to, self.account.passed, self.account.slipped)
        return any(said & set(s.reading.phrases) for s in bad) or any(
            self.concerns(item, keys) for keys in others
        )

    def other_fault(self, item: str) -> str | None:
        """What a finding says otherwise than the crew; of a time nobody knows more than it.

        A lamp that is logged dark must have been named dark, and the last bad news must stand: the
        wrong lamp would send maintenance to the wrong place.
        """
        word, finding = self.heard.words[item], self.findings[item]
        if self.plan.items[item].window is not None or not word.bad:
            return None
        logged = set(filter(None, (finding["lamp"] or "").split(", ")))
        called = {entry.key for entry in self.account.of(item)}
        named = called | self.said.agreed_to | self.account.passed | self.account.slipped
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
        spoken = self.plan.readings.get(self.said.latest.get(item, ""))
        bad = spoken is not None and not spoken.good
        return f"called '{self.phrase(self.said.latest[item])}'" if bad else None

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
