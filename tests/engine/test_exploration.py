"""Every reachable state of the engine, to a depth; and engines broken on purpose are caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from fleet import FLEET, loaded

from voicecheck.engine import Engine, passing, positions, power, rules, stepping, timed
from voicecheck.engine.actions import CommandName
from voicecheck.engine.commands import COMMANDS
from voicecheck.engine.effects import Say
from voicecheck.engine.events import Began
from voicecheck.engine.phases import Phase
from voicecheck.engine.standing import Standing
from voicecheck.engine.state import SessionState
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import WindowVerdict
from voicecheck.measure.states import canonical, graph, moves
from voicecheck.measure.states.explore import QUICK, explore_fleet, ready, table
from voicecheck.measure.states.found import Graph
from voicecheck.measure.states.graph import walk
from voicecheck.measure.states.slices import Slice, chains, signature, slices

ONE = Began(0.0)
ONE_MICROPHONE = Began(0.0, second=True)
TWO_MICROPHONES = replace(ONE_MICROPHONE, channels=2)


def cut(registration: str, kind: str, name: str) -> Slice:
    """One sub-checklist by its name."""
    (piece,) = (s for s in slices(loaded(registration).checklist, (kind,)) if s.name == name)
    return piece


def explored(piece: Slice, crew: Began = ONE, *, limit: int | None = 150) -> Graph:
    """A walk from the first position, its power affirmed, and from the very start."""
    starts = [ready(piece.checklist, crew), (crew,)]
    return walk(piece.checklist, starts, thorough=piece.kind == "alone", limit=limit)


def callouts_of(name: tuple[str, str, str]) -> Graph:
    """To the last state, by callouts and deadlines alone."""
    checklist = cut(*name).checklist
    return walk(checklist, [ready(checklist, ONE), (ONE,)], thorough=False, limit=None)


def problems(found: Graph) -> list[str]:
    return [str(problem) for problem in found.problems]


UNSAFE = ("ZZ-HAA", "alone", "gear: gear.unsafe")
HORN = ("ZZ-HAA", "alone", "gear: gear.horn")
LIGHTS = ("ZZ-HAA", "alone", "fire-alfa: fire-alfa.lights")
SKID = ("ZZ-HJC", "alone", "anti-skid: anti-skid.caption")
PANEL = ("ZZ-HAA", "alone", "battery: off.panel")
REST = ("ZZ-HAA", "pair", "gear: gear.unsafe + off.panel")


def test_nothing_is_wrong_in_any_state_of_the_fleet_to_some_depth() -> None:
    checklists = [loaded(registration).checklist for registration in FLEET]
    rows = explore_fleet(checklists, QUICK, sessions=60)
    assert [str(problem) for row in rows for problem in row.problems] == []
    for registration in FLEET:
        assert {row.kind for row in rows if row.checklist == registration} == {*QUICK, "sessions"}
    assert sum(row.states for row in rows) > 7_000
    shown = table(rows)
    assert len(shown.rows) == len(rows)
    assert all(len(row) == len(shown.columns) for row in shown.rows)


def test_a_sub_checklist_to_the_last_state() -> None:
    """By callouts and deadlines; with unclear speech and losses `measure states` gets there."""
    found = callouts_of(PANEL)
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
Break = Callable[[Patch], None]


def without(*numbers: str) -> Break:
    """An engine that lacks these rows of the table of an item's call."""

    def broken(patch: Patch) -> None:
        kept = tuple(rule for rule in rules.CALLS if rule.number not in numbers)
        assert len(kept) == len(rules.CALLS) - len(numbers)
        patch.setattr(rules, "CALLS", kept)

    broken.__name__ = "without " + " ".join(numbers)
    return broken


def always_in_time(patch: Patch) -> None:
    patch.setattr(rules, "judge", in_time(WindowVerdict.WITHIN))


def in_time(verdict: WindowVerdict) -> Callable[[Any, Any], WindowVerdict]:
    return lambda interval, window: verdict


def answers_are_timings(patch: Patch) -> None:
    honest = timed.deadlines

    def forgetful(turn: Turn) -> None:
        honest(turn)
        turn.set(windows=tuple(replace(window, asked=False) for window in turn.state.windows))

    patch.setattr(timed, "deadlines", forgetful)
    patch.setattr(rules, "judge", in_time(WindowVerdict.WITHIN))


def power_change_voids_nothing(patch: Patch) -> None:
    patch.setattr(power, "void_results", lambda turn, action, since: None)


def bus_counts_without_a_yes(patch: Patch) -> None:
    patch.setattr(power, "claim", power.affirm)


def rest_is_remembered(patch: Patch) -> None:
    patch.setattr(positions, "reopen_rest", lambda turn: None)


def complete_unchecked(patch: Patch) -> None:
    def complete(turn: Turn) -> None:
        turn.set(complete=True)
        turn.move("finish")

    patch.setitem(COMMANDS, CommandName.COMPLETE, complete)


def speaks_of_everything(patch: Patch) -> None:
    honest = Standing.outstanding

    def all_of_it(standing: Standing, position: Any) -> Any:
        return [*honest(standing, position), *standing.checklist.items]

    patch.setattr(Standing, "outstanding", all_of_it)


def offers_after_the_end(patch: Patch) -> None:
    honest = Engine.offers

    def never_over(engine: Engine) -> Any:
        ended = engine.state.phase is Phase.FINISHED
        state = replace(engine.state, phase=Phase.AT_REST) if ended else engine.state
        return honest(Engine(engine.checklist, state))

    patch.setattr(Engine, "offers", never_over)


def never_ends(patch: Patch) -> None:
    patch.setitem(COMMANDS, CommandName.COMPLETE, lambda turn: None)
    patch.setattr(stepping, "give_reason", lambda turn, reason: None)


def only_giving_up_ends(patch: Patch) -> None:
    patch.setitem(COMMANDS, CommandName.COMPLETE, lambda turn: None)


def holds_for_ever(patch: Patch) -> None:
    patch.setattr(moves, "ASIDE", moves.ASIDE - {"command:stand-by"})
    patch.setitem(COMMANDS, CommandName.RESUME, lambda turn: None)


def reminds_for_ever(patch: Patch) -> None:
    patch.setattr(passing, "MAX_REMINDERS", 10**9)


def sleeps_through_deadlines(patch: Patch) -> None:
    patch.setattr(timed, "deadlines", lambda turn: None)


def says_what_it_did_not_do(patch: Patch) -> None:
    patch.setattr(power, "affirm", lambda turn, action, said: None)


def says_something_else_again(patch: Patch) -> None:
    patch.setitem(COMMANDS, CommandName.SAY_AGAIN, lambda turn: turn.say("dropped"))


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

    patch.setitem(COMMANDS, CommandName.READ_BACK, stumble)


BROKEN: list[tuple[Break, tuple[str, str, str], Began, set[str]]] = [
    (without("4.1"), UNSAFE, ONE, {"cause"}),
    (without("4.2"), UNSAFE, ONE, {"cause"}),
    (without("4.3"), HORN, ONE, {"cause"}),
    (without("6.1"), UNSAFE, ONE, {"miss"}),
    (without("6.5"), UNSAFE, ONE, {"miss"}),
    (without("8.1", "8.2"), LIGHTS, ONE_MICROPHONE, {"cause"}),
    (without("8.1", "8.2"), LIGHTS, TWO_MICROPHONES, {"cause"}),
    (without("9.6"), SKID, ONE, {"cause", "miss"}),
    (always_in_time, SKID, ONE, {"cause", "miss"}),
    (answers_are_timings, SKID, ONE, {"cause", "miss"}),
    (power_change_voids_nothing, UNSAFE, ONE, {"cause"}),
    (bus_counts_without_a_yes, UNSAFE, ONE, {"cause"}),
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
    found: set[str] = set()
    # Some need power, a position and a lamp before they show; then the first problem will do.
    for limit, enough in ((100, graph.ENOUGH), (3000, 1), (3000, graph.ENOUGH)):
        if not found & caught:
            monkeypatch.setattr(graph, "ENOUGH", enough)
            problems = explored(cut(*piece), crew, limit=limit).problems
            found = {problem.invariant for problem in problems}
    assert found & caught


@pytest.mark.parametrize(
    ("broken", "missing"),
    [(never_ends, "way out"), (only_giving_up_ends, "way on"), (holds_for_ever, "way on")],
)
def test_a_trap_is_caught(broken: Break, missing: str, monkeypatch: Patch) -> None:
    broken(monkeypatch)
    found = callouts_of(PANEL)
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

    def forgetful(plan: Any, state: SessionState) -> Any:
        return honest(plan, replace(state, power=dict.fromkeys(state.power)))

    monkeypatch.setattr(graph, "canonical", forgetful)
    monkeypatch.setattr(graph, "witnessed", lambda known: ())
    monkeypatch.setattr(graph, "TWINS_EVERY", 3)
    found = explored(cut("ZZ-HAA", "alone", "battery: off.panel"), limit=200)
    assert "merge" in {problem.invariant for problem in found.problems}


def test_a_problem_comes_with_the_way_to_it(monkeypatch: Patch) -> None:
    without("4.2")(monkeypatch)
    found = explored(cut(*UNSAFE), limit=1000)
    problem = next(p for p in found.problems if p.invariant == "cause")
    fresh = Engine(cut(*UNSAFE).checklist)
    for event in problem.events:
        fresh.handle(event)
    now = fresh.state.records["gear.unsafe"].now
    assert now is not None
    assert now.outcome == "satisfactory"
    assert "gear.unsafe:1" in str(problem)
