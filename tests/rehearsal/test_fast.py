"""Crews that misbehave, on every shipped airframe: nothing called bad may end as good."""

from __future__ import annotations

import collections
from dataclasses import replace

import pytest
from fleet import FLEET, loaded

from voicecheck.engine import Engine, rules
from voicecheck.engine.events import Heard
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.turn import Turn
from voicecheck.rehearsal import proving
from voicecheck.rehearsal.cast import MANNERS, airframes
from voicecheck.rehearsal.evidence import about, journal_of
from voicecheck.rehearsal.judge import Cause
from voicecheck.rehearsal.manners import Ears, Manners
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.patience import PATIENCE
from voicecheck.rehearsal.proof import Terms, play_fast, silent_ideal
from voicecheck.rehearsal.tally import Tally, table, wrongly_good
from voicecheck.world import processes
from voicecheck.world.faults import FaultKind, possible

UNRULY = Terms("random", *MANNERS["unruly"], seed=2026)
PERFECT = Terms("none", *MANNERS["perfect"], seed=2026)
NEVER_CALLED_BAD = {
    *(FaultKind.ANY_POWER, FaultKind.BUS_DEAD, FaultKind.BUS_STAYS_ON),  # tested as it should be
    FaultKind.OUT_EARLY,  # called out in good faith: its time makes the finding
}
BUS_FAULTS = {FaultKind.BUS_DEAD, FaultKind.BUS_STAYS_ON}
EACH = 60
"""Sessions of an airframe here; `voicecheck rehearse all --crew unruly` plays any number."""


@pytest.mark.parametrize("registration", FLEET)
def test_an_unruly_crew_makes_no_dangerous_miss(registration: str) -> None:
    tally = Tally()
    for number in range(EACH):
        outcome = play_fast(loaded(registration), number, UNRULY)
        assert outcome.crash is None, outcome.crash
        assert outcome.judgement.dangerous == (), (number, outcome.faults)
        assert outcome.judgement.false_findings == (), (number, outcome.faults)
        tally.add(outcome)
    # It did get deep, and it did misbehave.
    assert tally.complete > EACH / 3
    assert tally.called > EACH / 3
    assert tally.misread > 0
    assert tally.asked.total > EACH


@pytest.mark.parametrize("registration", FLEET)
def test_a_perfect_crew_finishes_and_finds_nothing(registration: str) -> None:
    outcome = play_fast(loaded(registration), 1, PERFECT)
    assert outcome.complete
    judged = outcome.judgement
    assert (judged.dangerous, judged.false_findings, judged.called_bad) == ((), (), 0)
    assert outcome.length > outcome.ideal


def test_every_lasting_fault_that_can_be_seen_is_found() -> None:
    """A crew that reads right, on an aircraft with one fault at a time."""
    for fault in possible(loaded("ZZ-HJC").checklist):
        judged = play_fast(loaded("ZZ-HJC"), 1, replace(PERFECT, faults=str(fault))).judgement
        wrong = (judged.dangerous, judged.false_findings, judged.lost)
        assert wrong == ((), (), ()), fault
        assert judged.found == judged.called_bad, fault
        assert (judged.called_bad > 0) == (fault.kind not in NEVER_CALLED_BAD), fault


def test_the_same_seed_is_the_same_session() -> None:
    one, other = (play_fast(loaded("ZZ-HJD"), 5, UNRULY) for _ in range(2))
    assert one == other
    assert one != play_fast(loaded("ZZ-HJD"), 6, UNRULY)


def test_an_engine_that_loses_bad_news_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The proof can fail: here bad news is heard as good, but for timed lamps."""
    whole = Engine.handle
    heard = collections.Counter[str]()

    def deaf(self: Engine, event: object) -> object:
        if isinstance(event, Heard):
            item = next(
                (i for i in self.checklist.items for r in i.readings[1:] if r.key == event.callout),
                None,
            )
            if item is not None and item.window is None:
                heard["bad"] += 1
                good = item.readings[0].key
                event = Heard(good, "", event.start, event.end, 1.0, event.channel)
        return whole(self, event)  # type: ignore[arg-type]

    monkeypatch.setattr(Engine, "handle", deaf)
    outcomes = [play_fast(loaded("ZZ-HJC"), number, UNRULY) for number in range(20)]
    assert heard["bad"]
    assert any(outcome.judgement.dangerous for outcome in outcomes)


def test_an_engine_that_writes_down_another_lamp_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Named, read back and logged as a finding, but of the lamp beside it."""
    terms = replace(PERFECT, faults="lamp-dark:FIRE L")
    before = play_fast(loaded("ZZ-HJC"), 1, terms)
    assert (before.judgement.found, before.judgement.otherwise, before.is_wrong) == (1, (), False)
    whole = rules.decide

    def beside(turn: Turn, call: ItemCall) -> None:
        if call.scene is Scene.NAMED:
            other = next(dark for dark in call.item.darks if dark is not call.reading)
            call = replace(call, reading=replace(call.reading, lamps=other.lamps))
        whole(turn, call)

    monkeypatch.setattr(rules, "decide", beside)
    after = play_fast(loaded("ZZ-HJC"), 1, terms)
    (wrong,) = after.judgement.otherwise
    assert (wrong.item, after.judgement.found, after.is_wrong) == ("fire.lights", 1, True)
    assert wrong.why == "logged FIRE R dark, and nobody called it so"
    tally = Tally()
    tally.add(after)
    row = table("proof", {"words alone": tally}).as_json()["rows"][0]
    assert row["not as called"] == 1


def test_the_table_has_its_intervals() -> None:
    """None of 3: its upper limit p solves (1 - p)^3 = 0.025 (Clopper and Pearson, 1934)."""
    assert f"{100 * (1 - 0.025 ** (1 / 3)):.3g}" == "70.8"
    tally = Tally()
    for number in range(3):
        tally.add(play_fast(loaded("ZZ-HAA"), number, PERFECT))
    (row,) = table("proof", {"words alone": tally}).as_json()["rows"]
    assert row["sessions"] == row["complete"] == 3
    assert row["false findings"] == "0  0 % [0, 70.8]"
    rows = wrongly_good("good", tally).as_json()["rows"]
    assert [row["sessions in a million"] for row in rows] == ["0 [0, 7.076e+05]"] * 4


def test_a_crew_that_says_yes_to_anything_is_counted_and_its_journal_shown() -> None:
    """Half of what it says is read back as something else, and it agrees."""
    manners, ears = Manners(careless=1.0), Ears(misguessed=0.5)
    terms = Terms("lamp-dark:FIRE L", manners, ears, seed=5, two_crew=0.0)
    tally, shown = Tally(), []
    for number in range(30):
        outcome = play_fast(loaded("ZZ-HJC"), number, terms)
        assert outcome.judgement.dangerous == (), number
        tally.add(outcome)
        shown += [about(journal_of(outcome), w.item) for w in outcome.judgement.careless]
    assert tally.wrong("any", Cause.YES, Cause.PASSED) == len(shown) > 0
    for lines in shown:
        # The yes, or where it was to words about something else, the good that stands.
        yes = any("Heard(" in line and "affirm" in line for line in lines)
        assert yes or any("'outcome': 'satisfactory'" in line for line in lines)
        assert any("'outcome': 'satisfactory'" in line for line in lines)


def test_a_crew_that_is_not_heard_loses_patience_and_nothing_is_cut() -> None:
    """Of a session that leads nowhere the crew makes an end itself."""
    terms = Terms("none", Manners(), Ears(unclear=0.9), seed=3)
    for number in range(4):
        outcome = play_fast(loaded("ZZ-HJC"), number, terms)
        assert not outcome.cut
        assert not outcome.complete
        assert outcome.length < PATIENCE + 400


def test_all_shipped_airframes_are_taken() -> None:
    taken = [found.checklist.registration for found in airframes("all", None)]
    assert sorted(taken) == sorted(FLEET)
    assert all(silent_ideal(found.checklist) > 60 for found in airframes("tarn-40", None))


def test_processes_stop_when_whoever_is_told_does_not_go_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Without it, an error while the result is shown waits for all sessions to be played."""
    ended: list[bool] = []

    class Watched(processes.ProcessPoolExecutor):
        def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
            ended.append(cancel_futures)
            super().shutdown(wait, cancel_futures=cancel_futures)

    def broken(_outcome: Outcome) -> None:
        raise BrokenPipeError

    monkeypatch.setattr(processes, "ProcessPoolExecutor", Watched)
    monkeypatch.setattr(proving, "SHARE", 1)
    careless = replace(UNRULY, manners=replace(UNRULY.manners, careless=1.0))
    with pytest.raises(BrokenPipeError):
        proving.fast(airframes("all", None), 400, careless, 2, broken)
    assert ended[0] is True


@pytest.mark.parametrize("registration", FLEET)
def test_what_a_bus_does_not_allow_is_let_be(registration: str) -> None:
    """The crew does not wander between positions that it is reminded of and cannot test."""
    buses = [f for f in possible(loaded(registration).checklist) if f.kind in BUS_FAULTS]
    assert buses
    for fault in map(str, buses):
        for number in range(4):
            outcome = play_fast(loaded(registration), number, replace(PERFECT, faults=fault))
            assert not outcome.cut
            assert outcome.length < PATIENCE / 2, (fault, number)
            assert outcome.judgement.dangerous == ()


ELSEWHERE = replace(PERFECT, manners=replace(PERFECT.manners, wrong_airframe=1.0))


@pytest.mark.parametrize("registration", FLEET)
def test_a_crew_in_another_airframe_hears_so_and_stops(registration: str) -> None:
    outcome = play_fast(loaded(registration), 1, ELSEWHERE)
    assert not outcome.complete
    judged = outcome.judgement
    assert (judged.dangerous, judged.careless, judged.false_findings) == ((), (), ())


def test_a_careless_yes_to_another_airframe_is_told_apart() -> None:
    careless = replace(ELSEWHERE, manners=replace(ELSEWHERE.manners, careless=1.0))
    outcome = play_fast(loaded("ZZ-HAA"), 1, careless)
    assert outcome.complete
    assert outcome.judgement.dangerous == ()
    assert len(outcome.judgement.careless) == len(loaded("ZZ-HAA").checklist.items)
