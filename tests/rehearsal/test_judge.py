"""The judge finds what is wrong: every kind of wrong is put into a session that was right.

A session is what the engine was given, what the crew said, and what was recorded; each test spoils
one of the three, or lets hearing come between the first two.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pytest
from fleet import loaded

from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Ended, Event, Heard, Unclear, time_of
from voicecheck.oracle.heard import Delivered, delivered
from voicecheck.rehearsal.account import Account, Entry
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.judge import Judgement, judge
from voicecheck.rehearsal.manners import CLEAR_EARS, Manners
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from

CHECKLIST = loaded("ZZ-HJC").checklist
WRONG = next(r for i in CHECKLIST.items if i.id == "gear.unsafe" for r in i.readings[1:])


@dataclass
class Session:
    """What the judge looks at."""

    account: Account
    given: list[Delivered]
    summary: dict[str, Any]

    def judged(self) -> Judgement:
        return judge(CHECKLIST, self.account, self.given, self.summary)

    def logged(self, item: str, outcome: str) -> None:
        """The same result with another outcome of one item."""
        next(i for i in self.summary["items"] if i["id"] == item)["outcome"] = outcome

    def call_of(self, item: str) -> Entry:
        return self.account.of(item)[-1]

    def at(self, item: str) -> int:
        """Where in the account the last call of an item is."""
        return self.account.entries.index(self.call_of(item))

    def given_at(self, key: str) -> int:
        """Where the engine was given a callout last."""
        heard = [n for n, d in enumerate(self.given) if getattr(d.event, "callout", "") == key]
        return heard[-1]


def played(faults: str = "none", *, second: bool = False) -> Session:
    """A session in which nothing goes wrong but the faults."""
    chance = random.Random(7)
    aircraft = Aircraft(CHECKLIST, faults_from(faults, CHECKLIST, chance), 7)
    crew = Crew(CHECKLIST, aircraft, Manners(compound=0.0), chance, second=second, channels=2)
    session = FastLoop(CHECKLIST, crew, CLEAR_EARS, chance).play()
    assert session.summary["complete"]
    return Session(crew.account, session.session, copy.deepcopy(session.summary))


@pytest.mark.parametrize("second", [False, True])
def test_a_session_that_went_well_is_in_order(second: bool) -> None:
    session = played("lamp-dark:FIRE L,silent:gear.horn", second=second)
    found = session.judged()
    assert (found.dangerous, found.careless, found.false_findings) == ((), (), ())
    assert (found.lost, found.otherwise, found.misread) == ((), (), 0)
    assert found.called_bad == found.found == 2
    bad = {i["id"] for i in session.summary["items"] if i["outcome"] == "unsatisfactory"}
    assert bad == {"fire.lights", "gear.horn"}


def test_bad_called_and_good_logged_is_a_dangerous_miss() -> None:
    session = played("lamp-dark:FIRE L")
    session.logged("fire.lights", "satisfactory")
    (wrong,) = session.judged().dangerous
    assert wrong.item == "fire.lights"
    assert "called 'left fire dark'" in wrong.why


def test_good_called_and_bad_logged_is_a_false_finding() -> None:
    session = played()
    session.logged("gear.unsafe", "unsatisfactory")
    (wrong,) = session.judged().false_findings
    assert wrong.item == "gear.unsafe"


def test_bad_called_and_nothing_logged_is_lost() -> None:
    session = played("lamp-dark:GEAR UNSAFE")
    session.logged("gear.unsafe", "not tested")
    found = session.judged()
    (wrong,) = found.lost
    assert (wrong.item, found.called_bad, found.found) == ("gear.unsafe", 1, 0)


def test_good_that_stands_by_another_call_is_a_dangerous_miss() -> None:
    session = played()
    next(i for i in session.summary["items"] if i["id"] == "gear.unsafe")["times"]["start"] += 1
    (wrong,) = session.judged().dangerous
    assert "is not what gives cause" in wrong.why


@pytest.mark.parametrize(
    ("faults", "item", "other", "why"),
    [
        ("lamp-dark:FIRE L", "fire.lights", {"lamp": "FIRE R"}, "logged FIRE R dark, and nobody"),
        ("lamp-dark:FIRE L", "fire.lights", {"lamp": None}, "called 'left fire dark', logged"),
        ("lamp-dark:FIRE L", "fire.lights", {"lamp": "FIRE L, FIRE R"}, "logged FIRE R dark"),
        ("lamp-dark:GEAR UNSAFE", "gear.unsafe", {"what": "UNSAFE flickers"}, "logged 'UNSAFE fl"),
        ("silent:gear.horn", "gear.horn", {"what": "horn stays on"}, "logged 'horn stays on'"),
    ],
)
def test_a_finding_of_another_fault_than_was_called_is_told_apart(
    faults: str, item: str, other: dict[str, str | None], why: str
) -> None:
    session = played(faults)
    assert session.judged().otherwise == ()
    next(f for f in session.summary["findings"] if f["item"] == item).update(other)
    judged = session.judged()
    (wrong,) = judged.otherwise
    assert (wrong.item, judged.found, judged.false_findings) == (item, 1, ())
    assert why in wrong.why


# What the engine was given does not allow it ---------------------------------------------------


def not_given(session: Session, item: str) -> None:
    del session.given[session.given_at(session.call_of(item).key)]


def taken_back(session: Session, item: str) -> None:
    at = session.given_at(session.call_of(item).key) + 1
    session.given.insert(at, Delivered(said("command:correction", at), frozenset()))


def elsewhere(session: Session, item: str) -> None:
    at = session.given_at(session.call_of(item).key)
    session.given.insert(at, Delivered(said("select:fire", at), frozenset()))


def no_yes(session: Session, _item: str) -> None:
    session.given = [d for d in session.given if getattr(d.event, "callout", "") != AFFIRM]


def other_power(session: Session, item: str) -> None:
    at = session.given_at(session.call_of(item).key) + 1
    end = time_of(session.given[at - 1].event)
    for key, after, prompts in ((AFFIRM, 1.0, ()), ("power:avionics:off", 0.1, ("confirm",))):
        event = Heard(key, "", end + after, end + after + 0.1, 1.0)
        session.given.insert(at, Delivered(event, frozenset(prompts)))


def bad_since(session: Session, item: str) -> None:
    at = session.given_at(session.call_of(item).key) + 1
    session.given.insert(at, Delivered(said(WRONG.key, at), frozenset()))


def stage_missing(session: Session, item: str) -> None:
    not_given(session, item.removesuffix("-silence"))


AFFIRM = "command:affirm"


def said(key: str, start: float) -> Heard:
    return Heard(key, key, start, start + 0.5, 1.0)


@pytest.mark.parametrize(
    ("item", "spoil"),
    [
        ("gear.unsafe", not_given),
        ("gear.unsafe", taken_back),
        ("gear.unsafe", elsewhere),
        ("gear.unsafe", no_yes),
        ("gear.unsafe", other_power),
        ("gear.unsafe", bad_since),
        ("gear.horn-silence", stage_missing),
    ],
)
def test_a_good_entry_needs_cause_in_what_the_engine_was_given(
    item: str, spoil: Callable[[Session, str], None]
) -> None:
    session = played()
    spoil(session, item)
    told = {w.item: w.why for w in session.judged().dangerous}
    assert "what was heard" in told[item]


def test_two_crew_must_both_have_called_a_marked_item() -> None:
    session = played(second=True)
    calls = session.account.of("fire.lights")
    assert {call.who for call in calls} == {0, 1}
    del session.given[session.given_at(calls[-1].key)]
    (wrong,) = session.judged().dangerous
    assert (wrong.item, "what was heard" in wrong.why) == ("fire.lights", True)


# What the crew said does not allow it ----------------------------------------------------------


def call_unsaid(session: Session, item: str) -> None:
    session.account.entries = [e for e in session.account.entries if e.about != item]


def other_said(session: Session, item: str) -> None:
    call = session.call_of(item)
    session.account.entries[session.at(item)] = replace(call, key=WRONG.key)


def bad_said_since(session: Session, item: str) -> None:
    call = session.call_of(item)
    later = replace(call, key=WRONG.key, start=call.end, end=call.end + 0.5, breath=-1)
    session.account.entries.insert(session.at(item) + 1, later)


def place_unsaid(session: Session, item: str) -> None:
    session.account.entries = [e for e in session.account.entries if e.key != "select:gear"]


def power_unsaid(session: Session, _item: str) -> None:
    """Neither called nor agreed to."""
    bus = "power:battery:on"
    entries = session.account.entries
    session.account.entries = [e for e in entries if e.key != bus and bus not in e.claims]


def stage_unsaid(session: Session, item: str) -> None:
    call_unsaid(session, item.removesuffix("-silence"))


@pytest.mark.parametrize(
    ("item", "spoil"),
    [
        ("gear.unsafe", call_unsaid),
        ("gear.unsafe", other_said),
        ("gear.unsafe", bad_said_since),
        ("gear.unsafe", place_unsaid),
        ("gear.unsafe", power_unsaid),
        ("gear.horn-silence", stage_unsaid),
    ],
)
def test_a_good_entry_needs_cause_in_what_the_crew_said(
    item: str, spoil: Callable[[Session, str], None]
) -> None:
    """The engine is not to blame: what it was given was not what had been said."""
    session = played()
    spoil(session, item)
    told = {w.item: w.why for w in session.judged().dangerous}
    assert "what was said" in told[item]


def test_a_finding_needs_bad_news_of_the_crew() -> None:
    session = played("lamp-dark:GEAR UNSAFE")
    good = next(i for i in CHECKLIST.items if i.id == "gear.unsafe").readings[0]
    session.account.entries[session.at("gear.unsafe")] = replace(
        session.call_of("gear.unsafe"), key=good.key, words=good.phrases[0]
    )
    (wrong,) = session.judged().false_findings
    assert wrong.why.startswith("nobody called it bad")


@pytest.mark.parametrize("out", [0.5, 6.5])
def test_a_lamp_out_of_its_window_may_not_be_good(out: float) -> None:
    session = played()
    session.account.timed[-1].out = session.account.timed[-1].left + out
    (wrong,) = session.judged().dangerous
    assert wrong.item == "anti-skid.out"
    assert f"it took {out:.1f} s" in wrong.why


def test_a_lamp_in_its_window_may_not_be_a_finding() -> None:
    session = played("out-early:anti-skid.out")
    assert session.judged().false_findings == ()
    session.account.timed[-1].out = session.account.timed[-1].left + 4.0
    (wrong,) = session.judged().false_findings
    assert wrong.why == "it took 4.0 s, in its window, and was called when it went out"


def test_what_the_crew_itself_misread_is_its_own() -> None:
    session = played()
    at = session.at("gear.unsafe")
    session.account.entries[at] = replace(session.account.entries[at], right=WRONG.key)
    found = session.judged()
    assert (found.dangerous, found.misread) == ((), 1)


# Said, half understood, and answered -----------------------------------------------------------

GOOD = next(i for i in CHECKLIST.items if i.id == "gear.unsafe").readings[0].key
OTHER = next(i for i in CHECKLIST.items if i.id == "gear.greens").readings[0].key
POWER = ("power:battery:on", AFFIRM, "power:avionics:on", AFFIRM, "select:gear")
Said = tuple[str, Event | None, tuple[str, ...]]


def heard(*keys: str) -> list[Said]:
    """Said, and understood."""
    return [(key, said(key, 0), ()) for key in keys]


def lost(key: str) -> list[Said]:
    """Said, and not understood."""
    return [(key, Unclear(0, 0), ())]


def half(key: str, guess: str) -> list[Said]:
    """Said, and taken for a guess that is asked about."""
    return [(key, Unclear(0, 0, (guess,)), ())]


def yes(key: str, *, taken: bool = True) -> list[Said]:
    """A yes to that."""
    return [(AFFIRM, said(AFFIRM, 0) if taken else Unclear(0, 0), (key,))]


def session_of(*told: list[Said]) -> Session:
    """A real engine's session of these, one a second."""
    engine, account = Engine(CHECKLIST), Account()
    given = [delivered(began := Began(0.0), engine.handle(began))]
    flat = [*heard(*POWER), *(each for some in told for each in some)]
    for at, (key, event, claims) in enumerate(flat, 1):
        about = key.rpartition(":")[0] if key in (GOOD, WRONG.key, OTHER) else key.split(":")[-1]
        account.entries.append(Entry(key, about, 0, at, at + 0.5, key, at, None, claims))
        assert event is not None
        then = replace(event, start=at, end=at + 0.5)  # type: ignore[type-var, call-arg]
        given.append(delivered(then, engine.handle(then)))
    end = Ended(len(flat) + 2.0, "the test is over")
    made = engine.handle(end)
    given.append(delivered(end, made))
    summary = next(e.summary for e in made if type(e).__name__ == "Finish")
    return Session(account, given, dict(summary))


def whys(wrongs: Sequence[Any]) -> dict[str, str]:
    return {wrong.item: wrong.why for wrong in wrongs}


@pytest.mark.parametrize("spoken", [WRONG.key, OTHER])
def test_a_careless_yes_is_a_miss_of_crew_and_tool(spoken: str) -> None:
    """It called it bad, or something else, and says yes to its being good."""
    found = session_of(half(spoken, GOOD), yes(GOOD)).judged()
    assert found.dangerous == ()
    assert "what was said gives no cause" in whys(found.careless)["gear.unsafe"]


def test_a_yes_to_something_else_does_not_unsay_bad_news() -> None:
    """Called good, then bad; the bad call was read back as something else and agreed to."""
    found = session_of(heard(GOOD), half(WRONG.key, OTHER), yes(OTHER)).judged()
    assert found.dangerous == ()
    assert "what was said gives no cause" in whys(found.careless)["gear.unsafe"]


def test_bad_news_said_twice_and_agreed_away_is_careless_too() -> None:
    told = (heard(GOOD), lost(WRONG.key), half(WRONG.key, OTHER), yes(OTHER))
    found = session_of(*told).judged()
    assert found.dangerous == ()
    assert "gear.unsafe" in whys(found.careless)


def test_a_call_of_its_own_after_a_careless_yes_will_do() -> None:
    found = session_of(half(WRONG.key, GOOD), yes(GOOD), heard(GOOD)).judged()
    assert (found.dangerous, found.careless) == ((), ())


def test_a_yes_to_its_own_words_is_not_careless() -> None:
    """Said, half understood, asked about, and affirmed after another word."""
    found = session_of(half(GOOD, GOOD), heard("command:read-back"), yes(GOOD)).judged()
    assert (found.dangerous, found.careless) == ((), ())


def test_a_yes_that_had_to_be_said_twice_is_not_careless() -> None:
    told = (half(GOOD, GOOD), yes(GOOD, taken=False), yes(GOOD))
    session = session_of(*told)
    assert session.summary["counts"]["unclear"] == 2
    found = session.judged()
    assert (found.dangerous, found.careless) == ((), ())


def test_a_bus_that_was_only_agreed_to_is_no_power_that_was_called() -> None:
    session = session_of(heard(GOOD))
    bus = session.account.entries[0]
    session.account.entries[0] = replace(bus, key="power:battery:off")
    session.account.entries[1] = replace(session.account.entries[1], claims=(bus.key,))
    found = session.judged()
    assert found.dangerous == ()
    assert "gear.unsafe" in whys(found.careless)


def test_bad_news_that_nobody_heard_leaves_nothing_good() -> None:
    found = session_of(heard(GOOD), lost(WRONG.key)).judged()
    assert "called 'no red'" in whys(found.dangerous)["gear.unsafe"]


def test_a_correction_that_was_taken_unsays_bad_news() -> None:
    told = (heard(WRONG.key), heard("command:correction"), heard(GOOD))
    found = session_of(*told).judged()
    assert (found.dangerous, found.careless, found.called_bad) == ((), (), 0)


def test_a_correction_that_nobody_heard_takes_nothing_back() -> None:
    found = session_of(heard(GOOD), lost("command:correction")).judged()
    assert (found.dangerous, found.careless) == ((), ())


def test_a_good_call_of_its_own_corrects_bad_news_that_was_lost() -> None:
    found = session_of(lost(WRONG.key), heard(GOOD)).judged()
    assert (found.dangerous, found.careless, found.called_bad) == ((), (), 0)


def test_a_place_that_is_called_again_is_no_new_visit() -> None:
    """The crew repeats it and is not heard: what was called there is of this visit still."""
    stage, then = "gear.horn:good", "gear.horn-silence:good"
    found = session_of(heard(stage), lost("select:gear"), heard(then)).judged()
    assert (found.dangerous, found.careless) == ((), ())
