"""Every reachable state of the engine, to a depth; and engines broken on purpose are caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fleet import FLEET, loaded

from voicecheck.engine import Engine, engine, observe, offers, power, read_back, selecting, timed
from voicecheck.engine.commands import COMMANDS
from voicecheck.engine.effects import Say
from voicecheck.engine.events import Began
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import SessionState
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import WindowVerdict
from voicecheck.measure.states import canonical, graph
from voicecheck.measure.states.explore import QUICK, explore_fleet, ready, table
from voicecheck.measure.states.found import Graph
from voicecheck.measure.states.graph import walk
from voicecheck.measure.states.slices import Slice, chains, signature, slices

ONE = Began(0.0)
TWO = Began(0.0, second=True)


def cut(registration: str, kind: str, name: str) -> Slice:
    """One sub-checklist by its name."""
    (piece,) = (s for s in slices(loaded(registration).checklist, (kind,)) if s.name == name)
    return piece


def explored(piece: Slice, crew: Began = ONE, *, limit: int | None = 150) -> Graph:
    """A walk from the first position, its power affirmed, and from the very start."""
    starts = [ready(piece.checklist, crew), (crew,)]
    return walk(piece.checklist, starts, thorough=piece.kind == "alone", limit=limit)


def problems(found: Graph) -> list[str]:
    return [str(problem) for problem in found.problems]


UNSAFE = ("ZZ-HAA", "alone", "gear: gear.unsafe")
HORN = ("ZZ-HAA", "alone", "gear: gear.horn")
LIGHTS = ("ZZ-HAA", "alone", "fire-alfa: fire-alfa.lights")
SKID = ("ZZ-HJC", "alone", "anti-skid: anti-skid.caption")
REST = ("ZZ-HAA", "pair", "gear: gear.unsafe + off.panel")


def test_nothing_is_wrong_in_any_state_of_the_fleet_to_some_depth() -> None:
    checklists = [loaded(registration).checklist for registration in FLEET]
    rows = explore_fleet(checklists, QUICK, sessions=12)
    assert [str(problem) for row in rows for problem in row.problems] == []
    for registration in FLEET:
        assert {row.kind for row in rows if row.checklist == registration} == {*QUICK, "sessions"}
    assert sum(row.states for row in rows) > 10_000
    shown = table(rows)
    assert len(shown.rows) == len(rows)
    assert all(len(row) == len(shown.columns) for row in shown.rows)


@pytest.mark.parametrize("piece", [REST, ("ZZ-HAA", "alone", "battery: off.panel")])
def test_two_sub_checklists_to_the_last_state(piece: tuple[str, str, str]) -> None:
    found = explored(cut(*piece), limit=None)
    assert problems(found) == []
    assert found.closed


def test_each_chain_of_each_position_is_in_a_sub_checklist() -> None:
    for registration in FLEET:
        checklist = loaded(registration).checklist
        kept = {item.id for s in slices(checklist, ("alone",)) for item in s.checklist.items}
        assert kept == {item.id for item in checklist.items}
        for position in checklist.positions:
            together = [item for chain in chains(position) for item in chain]
            assert sorted(item.id for item in together) == sorted(i.id for i in position.items)


def test_what_matters_to_the_engine_makes_sub_checklists_differ() -> None:
    checklist = cut(*HORN).checklist
    gear, *others = checklist.positions
    horn, silence, returns = gear.items

    def but(item: Any) -> Any:
        return replace(checklist, positions=(replace(gear, items=(horn, item, returns)), *others))

    changed = [
        replace(silence, after=()),
        replace(silence, power={"avionics": "on"}),
        replace(silence, read_back=True),
        replace(silence, readings=silence.readings[:1]),
    ]
    marks = {signature(checklist), *(signature(but(item)) for item in changed)}
    assert len(marks) == 1 + len(changed)
    renamed = replace(silence, expected="other words", chapter="99")
    assert signature(but(renamed)) == signature(checklist)


# Engines broken on purpose -------------------------------------------------------------------

Patch = pytest.MonkeyPatch


def no_power_check(patch: Patch) -> None:
    patch.setattr(power, "lacking", lambda turn, wanted: {})


def no_yes_for_good_after_bad(patch: Patch) -> None:
    honest = observe.observe

    def hasty(turn: Turn, item: Any, reading: Any, said: Any, *, affirmed: bool) -> None:
        honest(turn, item, reading, said, affirmed=True)

    patch.setattr(observe, "observe", hasty)


def no_stages(patch: Patch) -> None:
    honest = observe.observe

    def hasty(turn: Turn, item: Any, reading: Any, said: Any, *, affirmed: bool) -> None:
        honest(turn, replace(item, after=()), reading, said, affirmed=affirmed)

    patch.setattr(observe, "observe", hasty)


def always_in_time(patch: Patch) -> None:
    patch.setattr(timed, "judge", lambda interval, window: WindowVerdict.WITHIN)


def answers_are_timings(patch: Patch) -> None:
    honest = timed.deadlines

    def forgetful(turn: Turn) -> None:
        honest(turn)
        turn.set(windows=tuple(replace(window, asked=False) for window in turn.state.windows))

    patch.setattr(timed, "deadlines", forgetful)
    patch.setattr(timed, "judge", lambda interval, window: WindowVerdict.WITHIN)


def one_voice_is_enough(patch: Patch) -> None:
    patch.setattr(read_back, "agreed", lambda turn, item, reading, said: True)


def power_change_voids_nothing(patch: Patch) -> None:
    patch.setattr(power, "void_under", lambda turn, action, since: None)


def bus_counts_without_a_yes(patch: Patch) -> None:
    patch.setattr(power, "claim", power.affirm)


def bad_news_is_lost(patch: Patch) -> None:
    honest = observe.settle

    def deaf(turn: Turn, item: Any, reading: Any, said: Any) -> None:
        if reading.grade == "good":
            honest(turn, item, reading, said)

    patch.setattr(observe, "settle", deaf)


def rest_is_remembered(patch: Patch) -> None:
    patch.setattr(selecting, "_reopen_rest", lambda turn: None)


def complete_unchecked(patch: Patch) -> None:
    def complete(turn: Turn) -> None:
        turn.set(complete=True)
        turn.phases.move("finish")

    patch.setitem(COMMANDS, "complete", complete)


def speaks_of_everything(patch: Patch) -> None:
    honest = observe.outstanding

    def all_of_it(turn: Turn, position: Any) -> Any:
        return [*honest(turn, position), *turn.checklist.items]

    patch.setattr(observe, "outstanding", all_of_it)


def offers_after_the_end(patch: Patch) -> None:
    def never_over(checklist: Any, phase: Phase, state: SessionState) -> Any:
        return offers.offers(checklist, Phase.AT_REST if phase is Phase.FINISHED else phase, state)

    patch.setattr(engine, "offers", never_over)


def never_ends(patch: Patch) -> None:
    patch.setitem(COMMANDS, "complete", lambda turn: None)
    patch.setattr(engine, "give_reason", lambda turn, reason: None)


def only_giving_up_ends(patch: Patch) -> None:
    patch.setitem(COMMANDS, "complete", lambda turn: None)


def holds_for_ever(patch: Patch) -> None:
    patch.setitem(COMMANDS, "resume", lambda turn: None)


def reminds_for_ever(patch: Patch) -> None:
    patch.setattr(engine, "MAX_REMINDERS", 10**9)


def sleeps_through_deadlines(patch: Patch) -> None:
    patch.setattr(timed, "deadlines", lambda turn: None)


def says_what_it_did_not_do(patch: Patch) -> None:
    patch.setattr(power, "affirm", lambda turn, action, said: None)


def says_something_else_again(patch: Patch) -> None:
    patch.setitem(COMMANDS, "say-again", lambda turn: turn.say("dropped"))


def has_a_mind_of_its_own(patch: Patch) -> None:
    honest, count = Turn.say, iter(range(10**9))

    def moody(turn: Turn, prompt: str, /, **values: str) -> None:
        honest(turn, prompt, **values)
        last = turn.effects[-1]
        assert isinstance(last, Say)
        turn.effects[-1] = replace(last, values={**last.values, "mood": str(next(count))})

    patch.setattr(Turn, "say", moody)


def stumbles(patch: Patch) -> None:
    def stumble(turn: Turn) -> None:
        raise KeyError("read-back")

    patch.setitem(COMMANDS, "read-back", stumble)


Break = Callable[[Patch], None]
BROKEN: list[tuple[Break, tuple[str, str, str], Began, set[str]]] = [
    (no_power_check, UNSAFE, ONE, {"cause"}),
    (no_yes_for_good_after_bad, UNSAFE, ONE, {"miss"}),
    (no_stages, HORN, ONE, {"cause"}),
    (always_in_time, SKID, ONE, {"cause", "miss"}),
    (answers_are_timings, SKID, ONE, {"cause", "miss"}),
    (one_voice_is_enough, LIGHTS, TWO, {"cause"}),
    (one_voice_is_enough, LIGHTS, replace(TWO, channels=2), {"cause"}),
    (power_change_voids_nothing, UNSAFE, ONE, {"cause"}),
    (bus_counts_without_a_yes, UNSAFE, ONE, {"cause"}),
    (bad_news_is_lost, UNSAFE, ONE, {"miss"}),
    (rest_is_remembered, REST, ONE, {"cause"}),
    (complete_unchecked, UNSAFE, ONE, {"complete"}),
    (speaks_of_everything, REST, ONE, {"place"}),
    (offers_after_the_end, UNSAFE, ONE, {"silence"}),
    (sleeps_through_deadlines, SKID, ONE, {"time"}),
    (reminds_for_ever, UNSAFE, ONE, {"time"}),
    (says_what_it_did_not_do, UNSAFE, ONE, {"spoken"}),
    (says_something_else_again, UNSAFE, ONE, {"spoken"}),
    (has_a_mind_of_its_own, UNSAFE, ONE, {"replay"}),
    (stumbles, UNSAFE, ONE, {"crash"}),
]


@pytest.mark.parametrize(
    ("broken", "piece", "crew", "caught"),
    BROKEN,
    ids=[f"{broken.__name__}-{crew.channels}" for broken, _, crew, _ in BROKEN],
)
def test_a_broken_engine_is_caught(
    broken: Break,
    piece: tuple[str, str, str],
    crew: Began,
    caught: set[str],
    monkeypatch: Patch,
) -> None:
    broken(monkeypatch)
    found = {problem.invariant for problem in explored(cut(*piece), crew, limit=1000).problems}
    assert found & caught


@pytest.mark.parametrize(
    ("broken", "missing"),
    [(never_ends, "way out"), (only_giving_up_ends, "way on"), (holds_for_ever, "way on")],
)
def test_a_trap_is_caught(broken: Break, missing: str, monkeypatch: Patch) -> None:
    piece = cut("ZZ-HAA", "alone", "battery: off.panel")
    broken(monkeypatch)
    found = explored(piece, limit=None)
    assert found.closed
    assert missing in {problem.invariant for problem in found.problems}


def test_an_engine_that_does_not_even_begin_is_caught(monkeypatch: Patch) -> None:
    def stumble(_engine: Engine, _event: Any) -> Any:
        raise KeyError("began")

    monkeypatch.setattr(Engine, "handle", stumble)
    found = explored(cut(*UNSAFE))
    assert {problem.invariant for problem in found.problems} == {"crash"}
    assert found.states == 0


def test_a_merge_that_forgets_too_much_is_caught(monkeypatch: Patch) -> None:
    honest = canonical.canonical

    def forgetful(plan: Any, phase: Phase, state: SessionState) -> Any:
        return honest(plan, Phase.TESTING if phase is Phase.HELD else phase, state)

    monkeypatch.setattr(graph, "canonical", forgetful)
    monkeypatch.setattr(graph, "TWINS_EVERY", 3)
    found = explored(cut("ZZ-HAA", "alone", "battery: off.panel"), limit=200)
    assert "merge" in {problem.invariant for problem in found.problems}


def test_a_problem_comes_with_the_way_to_it(monkeypatch: Patch) -> None:
    no_power_check(monkeypatch)
    problem = next(p for p in explored(cut(*UNSAFE)).problems if p.invariant == "cause")
    fresh = Engine(cut(*UNSAFE).checklist)
    for event in problem.events:
        fresh.handle(event)
    now = fresh.state.records["gear.unsafe"].now
    assert now is not None
    assert now.outcome == "satisfactory"
    assert "gear.unsafe:1" in str(problem)
