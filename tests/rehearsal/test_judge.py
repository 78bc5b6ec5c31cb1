"""The judge finds what is wrong: every kind of wrong is put into a session that was right."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pytest
from fleet import loaded

from voicecheck.rehearsal.account import Account, Entry, Said
from voicecheck.rehearsal.crew import Crew
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.judge import judge
from voicecheck.rehearsal.manners import CLEAR_EARS, Manners
from voicecheck.world.acts import Utterance
from voicecheck.world.aircraft import Aircraft
from voicecheck.world.faults import faults_from

LOADED = loaded("ZZ-HJC")


def played(faults: str = "none", *, second: bool = False) -> tuple[Account, dict[str, Any]]:
    """A session in which nothing goes wrong but the faults."""
    chance = random.Random(7)
    aircraft = Aircraft(LOADED.checklist, faults_from(faults, LOADED.checklist, chance), 7)
    manners = Manners(compound=0.0)
    crew = Crew(LOADED.checklist, aircraft, manners, chance, second=second, channels=2)
    summary = FastLoop(LOADED.checklist, crew, CLEAR_EARS, chance).play().summary
    assert summary["complete"]
    return crew.account, summary


def logged(summary: dict[str, Any], item: str, outcome: str) -> dict[str, Any]:
    """The same result with another outcome of one item."""
    changed = copy.deepcopy(summary)
    next(i for i in changed["items"] if i["id"] == item)["outcome"] = outcome
    return changed


def call_of(account: Account, item: str) -> Entry:
    return account.of(item)[-1]


@pytest.mark.parametrize("second", [False, True])
def test_a_session_that_went_well_is_in_order(second: bool) -> None:
    account, summary = played("lamp-dark:FIRE L,silent:gear.horn", second=second)
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.false_findings, found.lost, found.misread) == ((), (), (), 0)
    assert found.called_bad == found.found == 2
    bad = {i["id"] for i in summary["items"] if i["outcome"] == "unsatisfactory"}
    assert bad == {"fire.lights", "gear.horn"}


def test_bad_called_and_good_logged_is_a_dangerous_miss() -> None:
    account, summary = played("lamp-dark:FIRE L")
    summary = logged(summary, "fire.lights", "satisfactory")
    (wrong,) = judge(LOADED.checklist, account, summary).dangerous
    assert wrong.item == "fire.lights"
    assert "called 'left fire dark'" in wrong.why


def test_good_called_and_bad_logged_is_a_false_finding() -> None:
    account, summary = played()
    summary = logged(summary, "gear.unsafe", "unsatisfactory")
    (wrong,) = judge(LOADED.checklist, account, summary).false_findings
    assert wrong.item == "gear.unsafe"


def test_bad_called_and_nothing_logged_is_lost() -> None:
    account, summary = played("lamp-dark:GEAR UNSAFE")
    summary = logged(summary, "gear.unsafe", "not tested")
    (wrong,) = judge(LOADED.checklist, account, summary).lost
    assert wrong.item == "gear.unsafe"


def finding_of(summary: dict[str, Any], item: str, **other: str | None) -> dict[str, Any]:
    """The same result with a finding that says something else."""
    changed = copy.deepcopy(summary)
    next(f for f in changed["findings"] if f["item"] == item).update(other)
    return changed


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
    account, summary = played(faults)
    assert judge(LOADED.checklist, account, summary).otherwise == ()
    judged = judge(LOADED.checklist, account, finding_of(summary, item, **other))
    (wrong,) = judged.otherwise
    assert (wrong.item, judged.found, judged.false_findings) == (item, 1, ())
    assert why in wrong.why


def test_a_count_that_was_called_again_is_the_one_that_stands() -> None:
    account, summary = played("lamp-dark:GEAR UNSAFE")
    call = call_of(account, "gear.greens")
    one_less = next(r for r in LOADED.checklist.items if r.id == "gear.greens").readings[1]
    bad = Entry(Said.ITEM, one_less.key, "gear.greens", 0, 0.0, 0.0, "x", grade=one_less.grade)
    account.entries.insert(account.entries.index(call) + 1, bad)
    summary = logged(summary, "gear.greens", "unsatisfactory")
    fault = {"item": "gear.greens", "superseded": False, "lamp": None}
    summary["findings"].append({**fault, "what": one_less.finding})
    assert judge(LOADED.checklist, account, summary).otherwise == ()
    summary["findings"][-1]["what"] = "0 of 3 lit"
    (wrong,) = judge(LOADED.checklist, account, summary).otherwise
    assert (wrong.item, wrong.why) == ("gear.greens", "called 'x', logged '0 of 3 lit'")


def drop(account: Account, item: str) -> None:
    account.entries = [e for e in account.entries if e.about != item]


def take_back(account: Account, item: str) -> None:
    call_of(account, item).withdrawn = True


def elsewhere(account: Account, item: str) -> None:
    at = account.entries.index(call_of(account, item))
    account.entries.insert(at, Entry(Said.POSITION, "select:fire", "fire", 0, 0.0, 0.0))


def no_yes(account: Account, item: str) -> None:
    entries = account.entries
    account.entries = [e for e in entries if not (e.about == "affirm" and e.claims)]


def other_power(account: Account, item: str) -> None:
    call = account.entries.index(call_of(account, item))
    off = Entry(Said.POWER, "power:avionics:off", "avionics", 0, 0.0, 0.0, state="off")
    off.by_yes = True
    account.entries.insert(call + 1, off)


def bad_since(account: Account, item: str) -> None:
    good = call_of(account, item)
    reading = next(
        reading
        for known in LOADED.checklist.items
        if known.id == item
        for reading in known.readings[1:]
    )
    start = good.start + 0.5
    bad = Entry(Said.ITEM, reading.key, item, 0, start, start, "no", grade=reading.grade)
    account.entries.insert(account.entries.index(good) + 1, bad)


def stage_missing(account: Account, item: str) -> None:
    drop(account, item.removesuffix("-silence"))


@pytest.mark.parametrize(
    ("item", "spoil", "why"),
    [
        ("gear.unsafe", drop, "never called"),
        ("gear.unsafe", take_back, "taken back"),
        ("gear.unsafe", elsewhere, "selector at fire"),
        ("gear.unsafe", no_yes, "called without battery on"),
        ("gear.unsafe", other_power, "power was changed"),
        ("gear.unsafe", bad_since, "since it was last called good"),
        ("gear.horn-silence", stage_missing, "before gear.horn was good"),
    ],
)
def test_a_good_entry_needs_every_right_to_be_one(
    item: str, spoil: Callable[[Account, str], None], why: str
) -> None:
    account, summary = played()
    spoil(account, item)
    told = {w.item: w.why for w in judge(LOADED.checklist, account, summary).dangerous}
    assert why in told[item]


def test_two_crew_must_both_have_called_a_marked_item() -> None:
    account, summary = played(second=True)
    calls = account.of("fire.lights")
    assert {call.who for call in calls} == {0, 1}
    account.entries.remove(calls[-1])
    (wrong,) = judge(LOADED.checklist, account, summary).dangerous
    assert wrong.why == "only one of the two called it"


@pytest.mark.parametrize("out", [2.0, 6.0])
def test_a_lamp_out_of_its_window_may_not_be_good(out: float) -> None:
    account, summary = played()
    account.timed[-1].out = account.timed[-1].left + out
    (wrong,) = judge(LOADED.checklist, account, summary).dangerous
    assert wrong.item == "anti-skid.out"


def test_a_timed_lamp_under_other_power_or_never_lit_may_not_be_good() -> None:
    account, summary = played()
    off = Entry(Said.POWER, "power:avionics:off", "avionics", 0, 0.0, 0.0, state="off")
    off.by_yes = True
    account.entries.insert(account.entries.index(call_of(account, "anti-skid.out")), off)
    whys = {w.item: w.why for w in judge(LOADED.checklist, account, summary).dangerous}
    assert whys["anti-skid.out"].startswith("called without")
    account, summary = played()
    drop(account, "anti-skid.caption")
    whys = {w.item: w.why for w in judge(LOADED.checklist, account, summary).dangerous}
    assert whys["anti-skid.out"] == "timed although anti-skid.caption was not called good"


def test_what_the_crew_itself_misread_is_its_own() -> None:
    account, summary = played()
    call_of(account, "gear.unsafe").right = "gear.unsafe:0"
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.misread) == ((), 1)


def agree(account: Account, item: str, *, said: bool) -> None:
    """The crew called an item bad (or nothing), and says yes to its being good."""
    good = call_of(account, item)
    at = account.entries.index(good)
    if said:
        bad_since(account, item)
        bad = account.entries.pop(at + 1)
        bad.got_through, bad.agreed_away = False, True
        account.entries.insert(at, bad)
    good.by_yes = True


@pytest.mark.parametrize(("said", "why"), [(True, "never called"), (False, "never called")])
def test_a_careless_yes_is_a_miss_of_crew_and_tool(said: bool, why: str) -> None:
    account, summary = played()
    agree(account, "gear.unsafe", said=said)
    found = judge(LOADED.checklist, account, summary)
    assert found.dangerous == ()
    (wrong,) = found.careless
    assert wrong.item == "gear.unsafe"
    assert wrong.why.startswith(why)
    assert "careless yes" in wrong.why


def test_a_yes_to_something_else_does_not_unsay_bad_news() -> None:
    """Called good, then bad; the bad call was read back as something else and agreed to."""
    account, summary = played()
    bad_since(account, "gear.unsafe")
    bad = call_of(account, "gear.unsafe")
    bad.got_through, bad.agreed_away = False, True
    found = judge(LOADED.checklist, account, summary)
    assert found.dangerous == ()
    (wrong,) = found.careless
    assert "called 'no' since it was last called good" in wrong.why


def test_a_call_of_its_own_after_a_careless_yes_will_do() -> None:
    account, summary = played()
    agree(account, "gear.unsafe", said=True)
    again = copy.copy(call_of(account, "gear.unsafe"))
    again.by_yes = False
    again.start += 1.0
    account.entries.insert(account.entries.index(call_of(account, "gear.unsafe")) + 1, again)
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.careless) == ((), ())


def test_a_bus_that_was_only_agreed_to_is_no_power_that_was_called() -> None:
    account, summary = played()
    for entry in account.entries:
        if entry.said is Said.POWER and entry.about == "avionics":
            entry.by_yes = True
    found = judge(LOADED.checklist, account, summary)
    assert found.dangerous == ()
    needy = {w.item for w in found.careless if "without avionics on" in w.why}
    assert "gear.unsafe" in needy


def test_bad_news_that_was_taken_back_knowingly_is_a_correction() -> None:
    account, summary = played()
    bad_since(account, "gear.unsafe")
    bad = call_of(account, "gear.unsafe")
    bad.got_through, bad.withdrawn = False, True
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.careless) == ((), ())


WRONG = next(r for i in LOADED.checklist.items if i.id == "gear.unsafe" for r in i.readings[1:])
FINDING = ("finding", {"words": WRONG.phrases[0], "expected": "one red"})


def after(keys: Sequence[str], answers: Mapping[int, tuple[str, dict[str, str]]]) -> Crew:
    """A crew that has said these, one a second, and heard what answers each by its number."""
    crew = Crew(LOADED.checklist, Aircraft(LOADED.checklist), Manners(), random.Random(1))
    for at, key in enumerate(keys):
        said = crew.memory.wordings.first(key)
        crew.spoke(Utterance(0, ((key, said),), said, 0.1), at, at + 0.5)
        if at in answers:
            crew.hears(*answers[at], at + 0.6)
    return crew


def test_a_correction_stays_when_a_second_one_finds_nothing_to_take_back() -> None:
    """Called by mistake, corrected, then "disregard" for no reason: the mistake is still gone."""
    crew = after(
        (WRONG.key, "command:correction", "command:disregard"),
        {0: FINDING, 1: ("corrected", {}), 2: ("nothing-to-correct", {})},
    )
    assert call_of(crew.account, "gear.unsafe").withdrawn


def test_a_correction_that_was_not_taken_takes_nothing_back() -> None:
    crew = after((WRONG.key, "command:correction"), {})
    crew.hears("nothing-to-correct", {}, 2.0)
    assert not call_of(crew.account, "gear.unsafe").withdrawn


def test_a_correction_takes_a_call_back_with_those_before_it_that_were_lost() -> None:
    """Called, called again because nothing seemed to happen, then corrected: one call."""
    keys = (WRONG.key, WRONG.key, "command:correction")
    crew = after(keys, {0: ("say-again", {}), 1: FINDING})
    assert [entry.withdrawn for entry in crew.account.of("gear.unsafe")] == [True, True]


def test_a_correction_of_a_repeat_leaves_the_finding_that_got_through() -> None:
    crew = after((WRONG.key, WRONG.key, "command:correction"), {0: FINDING, 1: FINDING})
    assert [entry.withdrawn for entry in crew.account.of("gear.unsafe")] == [False, True]


def test_a_good_call_of_its_own_corrects_bad_news_for_the_crew_as_a_whole() -> None:
    """Called bad; a careless yes made it good; then the crew itself called it good as well."""
    account, summary = played()
    good = call_of(account, "gear.unsafe")
    bad_since(account, "gear.unsafe")
    at = account.entries.index(good)
    bad = account.entries[at + 1]
    by_yes, again = copy.copy(good), copy.copy(good)
    by_yes.by_yes, by_yes.start = True, bad.start + 0.1
    again.start = bad.start + 0.2
    account.entries[at + 2 : at + 2] = [by_yes, again]
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.careless) == ((), ())


def test_a_yes_to_its_own_words_is_not_careless() -> None:
    """Said, not understood, asked about later, after something else had been said, and affirmed."""
    account, summary = played()
    at = account.entries.index(call_of(account, "gear.unsafe"))
    said, yes = copy.copy(account.entries[at]), account.entries[at]
    said.got_through, yes.by_yes = False, True
    other = Entry(Said.COMMAND, "command:read-back", "read-back", 0, yes.start, yes.start)
    account.entries[at:at] = [said, other]
    found = judge(LOADED.checklist, account, summary)
    assert (found.dangerous, found.careless) == ((), ())
    said.withdrawn = True
    (wrong,) = judge(LOADED.checklist, account, summary).careless
    assert wrong.item == "gear.unsafe"


def test_a_no_that_was_never_said_does_not_undo_a_call() -> None:
    """Called, a no in mind, something else said first, asked again, and affirmed."""
    checklist = LOADED.checklist
    crew = Crew(checklist, Aircraft(checklist), Manners(deny=1.0), random.Random(1))
    power, other = "power:battery:on", checklist.items[0].readings[0].key
    words = crew.memory.wordings.first(power)
    crew.spoke(Utterance(0, ((power, words),), words, 0.1), 0.0, 0.5)
    crew.hears("confirm", {"claims": words}, 0.6)
    assert not crew.account.entries[-1].got_through
    crew.spoke(Utterance(0, ((other, "something"),), "something", 0.1), 1.0, 1.5)
    yes = Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(power,))
    crew.spoke(yes, 2.0, 2.5)
    (call,) = (e for e in crew.account.entries if e.key == power)
    assert call.got_through


def test_a_yes_that_the_microphone_lost_agrees_to_nothing() -> None:
    checklist = LOADED.checklist
    crew = Crew(checklist, Aircraft(checklist), Manners(), random.Random(1))
    elsewhere = f"select:{checklist.positions[1].id}"
    yes = Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(elsewhere,))
    crew.spoke(yes, 0.0, 0.5)
    (agreed,) = (e for e in crew.account.entries if e.key == elsewhere)
    assert agreed.got_through
    crew.hears("part-lost", {"part": "microphone"}, 0.6)
    assert not agreed.got_through


def test_a_refused_call_that_is_taken_back_is_no_echo_of_one_that_counted() -> None:
    crew = after(
        (WRONG.key, WRONG.key, "command:correction"),
        {0: FINDING, 1: ("not-counted", {"needs": "avionics off"})},
    )
    crew.hears("corrected", {}, 2.6)
    assert [entry.withdrawn for entry in crew.account.of("gear.unsafe")] == [False, True]


def test_a_refused_call_is_refused_again_after_a_yes_to_it() -> None:
    """A "correction" was taken for the call once more, asked about, affirmed, and refused again."""
    refused = ("not-counted", {"needs": "battery powered up"})
    crew = after((WRONG.key, "command:correction"), {0: refused})
    crew.hears("confirm", {"claims": WRONG.phrases[0]}, 1.6)
    yes = Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(WRONG.key,))
    crew.spoke(yes, 2.0, 2.5)
    (call,) = crew.account.of("gear.unsafe")
    assert call.got_through, "it may have counted now"
    crew.hears(*refused, 2.6)
    assert not call.got_through


def test_a_no_after_a_yes_that_was_not_taken_is_the_last_word() -> None:
    """Asked again about what it has affirmed, and meanwhile busy with another lamp, it says no."""
    question = ("confirm", {"claims": WRONG.phrases[0]})
    crew = after((WRONG.key,), {0: question})
    crew.spoke(
        Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(WRONG.key,)), 1, 1
    )
    (call,) = crew.account.of("gear.unsafe")
    crew.spoke(Utterance(0, (("gear.greens:3", "three green"),), "three green", 0.1), 2, 2)
    crew.hears(*question, 3.0)
    assert not call.got_through
    taken = after((WRONG.key,), {0: question})
    taken.spoke(
        Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(WRONG.key,)), 1, 1
    )
    taken.hears(*FINDING, 1.5)
    taken.spoke(Utterance(0, (("gear.greens:3", "three green"),), "three green", 0.1), 2, 2)
    taken.hears(*question, 3.0)
    assert call_of(taken.account, "gear.unsafe").got_through, "it was taken, and stands"


YES = Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(WRONG.key,))
ELSE = Utterance(0, (("gear.greens:3", "three green"),), "three green", 0.1)


def test_a_call_lapses_when_its_yes_was_not_heard_and_something_else_is_called() -> None:
    question = ("confirm", {"claims": WRONG.phrases[0]})
    lapsed = after((WRONG.key,), {0: question})
    lapsed.spoke(YES, 1, 1)
    lapsed.spoke(ELSE, 2, 2)
    assert not call_of(lapsed.account, "gear.unsafe").got_through
    taken = after((WRONG.key,), {0: question})
    taken.spoke(YES, 1, 1)
    taken.hears(*FINDING, 1.5)
    taken.spoke(ELSE, 2, 2)
    assert call_of(taken.account, "gear.unsafe").got_through


def test_what_is_not_asked_about_of_a_call_in_one_breath_was_lost() -> None:
    crew = after((), {})
    both = ((*ELSE.parts[0],), (WRONG.key, WRONG.phrases[0]))
    crew.spoke(Utterance(0, both, f"three green {WRONG.phrases[0]}", 0.1), 0, 1)
    crew.hears("confirm", {"claims": "three green"}, 1.5)
    assert not call_of(crew.account, "gear.unsafe").got_through
    crew.spoke(replace(YES, claims=("gear.greens:3",)), 2, 2)
    assert call_of(crew.account, "gear.greens").got_through


def test_a_call_that_was_affirmed_and_refused_for_the_place_was_not_taken() -> None:
    """It had said yes to the call, and hears that another position comes first."""
    crew = after((WRONG.key,), {0: ("confirm", {"claims": WRONG.phrases[0]})})
    crew.spoke(YES, 1, 1)
    crew.hears("confirm-position", {"position": "going to captions"}, 1.5)
    assert not call_of(crew.account, "gear.unsafe").got_through


@pytest.mark.parametrize("read_back", [True, False])
def test_a_yes_to_a_position_counts_once_it_is_read_back(read_back: bool) -> None:
    checklist = LOADED.checklist
    crew = Crew(checklist, Aircraft(checklist), Manners(), random.Random(1))
    position = checklist.positions[1]
    claim = f"select:{position.id}"
    yes = Utterance(0, (("command:affirm", "affirm"),), "affirm", 0.1, claims=(claim,))
    crew.spoke(yes, 0.0, 0.5)
    if read_back:
        crew.hears("ack", {"words": position.say}, 0.6)
    key = position.items[0].readings[0].key
    crew.spoke(Utterance(0, ((key, "something"),), "something", 0.1), 1.0, 1.5)
    (agreed,) = (e for e in crew.account.entries if e.key == claim)
    assert agreed.got_through is read_back
