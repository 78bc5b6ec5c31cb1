"""Nothing dangerous goes unseen: engines broken on purpose, played by unruly crews and judged.

Some are broken inside (as in engine/test_exploration.py), others take an event for another one.
Each must be told to be dangerous, by what it was given; and a hearing that is broken before a
healthy engine, by what the crew said.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import pytest
from engine import test_exploration as inside
from fleet import FLEET, loaded

from voicecheck.engine import Engine
from voicecheck.engine.effects import Effect
from voicecheck.engine.events import Event, Heard, KeyPressed, Overheard, Unclear
from voicecheck.rehearsal import fast
from voicecheck.rehearsal.cast import MANNERS
from voicecheck.rehearsal.judge import Judgement
from voicecheck.rehearsal.proof import Terms, play_fast

UNRULY = Terms("random", *MANNERS["unruly"], seed=2026)
CARELESS = replace(
    UNRULY,
    manners=replace(UNRULY.manners, careless=1.0),
    ears=replace(UNRULY.ears, misguessed=0.2),
)
"""It says yes to whatever was read back, and every fifth call is read back as another."""
PATIENT = 150
"""Sessions in which a fault must have shown."""

Mistake = Callable[[Engine, Event], Event | None]


def judged(terms: Terms, sessions: int = PATIENT) -> Iterator[Judgement]:
    fleet = sorted(FLEET)
    for number in range(sessions):
        outcome = play_fast(loaded(fleet[number % len(fleet)]), number, terms)
        assert outcome.crash is None, outcome.crash
        yield outcome.judgement


def called(event: Event, name: str) -> bool:
    return isinstance(event, Heard | KeyPressed) and event.callout == name


def bad_for_good(engine: Engine, event: Event) -> Event:
    if isinstance(event, Heard):
        for item in engine.checklist.items:
            if item.window is None and event.callout in [r.key for r in item.readings[1:]]:
                return replace(event, callout=item.readings[0].key)
    return event


def next_item(engine: Engine, event: Event) -> Event:
    """Good of an item, taken for good of the one after it in the position."""
    if isinstance(event, Heard):
        for position in engine.checklist.positions:
            keys = [item.readings[0].key for item in position.items if item.window is None]
            if event.callout in keys:
                return replace(event, callout=keys[keys.index(event.callout) - 1])
    return event


def no_for_yes(_engine: Engine, event: Event) -> Event:
    no = called(event, "command:negative")
    return replace(event, callout="command:affirm") if no and isinstance(event, Heard) else event


def deaf_to_corrections(_engine: Engine, event: Event) -> Event | None:
    return None if called(event, "command:correction") else event


def deaf_to_what_is_not_clear(_engine: Engine, event: Event) -> Event | None:
    return None if isinstance(event, Unclear | Overheard) else event


def one_voice_for_two(_engine: Engine, event: Event) -> Event:
    """Each call seems to come from the other microphone than the one before."""
    one_voice_for_two.count = 1 - getattr(one_voice_for_two, "count", 0)  # type: ignore[attr-defined]
    turn = getattr(one_voice_for_two, "count", 0)
    return replace(event, channel=turn) if isinstance(event, Heard) else event


def late_for_in_time(engine: Engine, event: Event) -> Event:
    """A lamp that was called out is taken to have been called in the middle of its window."""
    for window in engine.state.windows if isinstance(event, Heard) else ():
        item = next(item for item in engine.checklist.items if item.id == window.item)
        if item.window is not None and called(event, item.readings[0].key):
            middle = (item.window.lower + item.window.upper) / 2
            start = window.anchor + engine.checklist.timing.reaction + middle
            return replace(event, start=start)  # type: ignore[call-arg]
    return event


MISTAKES: Sequence[Mistake] = (
    bad_for_good,
    next_item,
    no_for_yes,
    deaf_to_corrections,
    deaf_to_what_is_not_clear,
    one_voice_for_two,
    late_for_in_time,
)


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.__name__)
def test_an_engine_that_takes_one_thing_for_another_is_found_out(
    mistake: Mistake, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Engine.handle

    def mistaken(self: Engine, event: Event) -> list[Effect]:
        taken = mistake(self, event)
        return [] if taken is None else whole(self, taken)

    monkeypatch.setattr(Engine, "handle", mistaken)
    assert any("heard" in w.why or "cause" in w.why for j in judged(UNRULY) for w in j.dangerous)


@pytest.mark.parametrize(
    "broken",
    [
        inside.without("4.1"),
        inside.without("4.2"),
        inside.without("4.3"),
        inside.without("6.1"),
        inside.without("6.5"),
        inside.without("8.1", "8.2"),
        inside.always_in_time,
        inside.answers_are_timings,
        inside.power_change_voids_nothing,
        inside.bus_counts_without_a_yes,
        inside.rest_is_remembered,
    ],
    ids=lambda broken: broken.__name__,
)
def test_an_engine_that_breaks_a_rule_is_found_out(
    broken: inside.Break, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken(monkeypatch)
    assert any(judgement.dangerous for judgement in judged(UNRULY))


def test_a_hearing_that_takes_bad_for_good_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The engine does right by what it is given, and that is not what was said."""
    whole = fast.FastLoop._heard
    chance = random.Random(1)

    def misheard(self: fast.FastLoop, *about: object) -> list[Event]:
        heard = whole(self, *about)  # type: ignore[arg-type]
        wrong = [bad_for_good(self._engine, event) for event in heard]
        return wrong if chance.random() < 0.5 else list(heard)

    monkeypatch.setattr(fast.FastLoop, "_heard", misheard)
    assert any("said" in wrong.why for j in judged(CARELESS) for wrong in j.dangerous)


def test_a_healthy_engine_is_not_to_blame() -> None:
    """However careless the crew; what it agreed to without having said it is told apart."""
    found = list(judged(CARELESS, 60))
    assert [judgement.dangerous for judgement in found if judgement.dangerous] == []
    # What nobody foresaw is called in the same words everywhere; a crew that lets its position
    # be read back wrong has it written down there.
    false = [wrong for j in found for wrong in j.false_findings]
    assert [wrong for wrong in false if not wrong.item.endswith(".other")] == []
    assert any(judgement.careless for judgement in found)
