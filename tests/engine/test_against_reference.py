"""The engine against the reference account of its rules, over crews that hypothesis invents.

HYPOTHESIS_PROFILE=long runs many more sessions, new ones each time; the default is repeatable.
HYPOTHESIS_PROFILE=mutation runs few, and stops at the first that fails without making it shorter.
"""

from __future__ import annotations

import json
import os

import pytest
from engine.invented_sessions import CHANNELS, PARTS, PAUSES, Sessions
from fleet import FLEET, loaded
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from hypothesis.stateful import run_state_machine_as_test
from pydantic import TypeAdapter

from voicecheck.engine import Engine, effects
from voicecheck.engine import events as e
from voicecheck.session.codec import (
    effect_to_json,
    effects_digest,
    event_from_json,
    event_to_json,
)

PROFILE = os.environ.get("HYPOTHESIS_PROFILE")
LONG, MUTATION = PROFILE == "long", PROFILE == "mutation"
AIRFRAMES = ["ZZ-HAA", "ZZ-HJA", "ZZ-HJC"] if MUTATION else list(FLEET)
# A failing session may take five minutes to be made as short as it can be.
pytestmark = pytest.mark.timeout(1800 if LONG else 60 if MUTATION else 600)
CALM = settings(
    deadline=None,
    database=None,
    derandomize=not LONG,
    phases=(Phase.generate,) if MUTATION else tuple(Phase),
    report_multiple_bugs=not MUTATION,
    suppress_health_check=list(HealthCheck),
)
SESSIONS = settings(
    CALM, max_examples=400 if LONG else 4 if MUTATION else 28, stateful_step_count=40
)
SEQUENCES = settings(CALM, max_examples=1000 if LONG else 8 if MUTATION else 60)


@pytest.mark.parametrize("registration", AIRFRAMES)
def test_engine_and_reference_agree(registration: str) -> None:
    class OfThisAirframe(Sessions):
        def __init__(self) -> None:
            super().__init__(registration)

    run_state_machine_as_test(OfThisAirframe, settings=SESSIONS)


@pytest.mark.parametrize("registration", AIRFRAMES)
@pytest.mark.parametrize("channels", [1, 2])
def test_the_crew_that_behaves_gets_to_the_end(registration: str, channels: int) -> None:
    """The sessions above are deep: left alone, their crew completes with nothing missing."""
    session = Sessions(registration)
    session.feed(e.Began(0.0, True, channels))
    session.go_on(200, 0)
    assert session.summary["complete"]
    assert not session.summary["not_tested"]


@st.composite
def sequences(draw: st.DrawFn) -> tuple[str, list[e.Event]]:
    """A random sequence of callouts that were on offer when they came, and other events."""
    registration = draw(st.sampled_from(sorted(FLEET)))
    engine = Engine(loaded(registration).checklist)
    events: list[e.Event] = [e.Began(0.0, draw(st.booleans()), draw(st.integers(1, 2)))]
    engine.handle(events[0])
    now = 0.0
    for kind in draw(st.lists(st.sampled_from("hhhhhhhhkuopptlr"), max_size=60)):
        now = round(now + draw(PAUSES), 4)
        offered = sorted(engine.offers())
        key = draw(st.sampled_from(offered or ["command:affirm"]))
        channel, part = draw(CHANNELS), draw(PARTS)
        event: e.Event
        match kind:
            case "h":
                event = e.Heard(key, "words", now - 0.1, now, 0.9, channel)
            case "k":
                event = e.KeyPressed(key, now)
            case "u":
                event = e.Unclear(now - 0.1, now, (key,) if draw(st.booleans()) else (), channel)
            case "o":
                event = e.Overheard(now - 0.1, now)
            case "p":
                event = e.Passed(now)
            case "t":
                event = e.Prompted(now - 0.1, now)
            case "l":
                event = e.Lost(part, now)
            case _:
                event = e.Restored(part, now)
        events.append(event)
        engine.handle(event)
    return registration, [*events, e.Ended(now, "the source ended")]


def run(registration: str, events: list[e.Event]) -> list[list[effects.Effect]]:
    engine = Engine(loaded(registration).checklist)
    return [engine.handle(event) for event in events]


@SEQUENCES
@given(sequences())
def test_offered_callouts_never_raise_and_replay_alike(case: tuple[str, list[e.Event]]) -> None:
    registration, events = case
    first = run(registration, events)
    assert sum(isinstance(effect, effects.Finish) for made in first for effect in made) == 1
    again = run(registration, [event_from_json(event_to_json(event)) for event in events])
    assert again == first
    assert [effects_digest(made) for made in again] == [effects_digest(made) for made in first]


@SEQUENCES
@given(sequences())
def test_events_and_effects_survive_the_journal(case: tuple[str, list[e.Event]]) -> None:
    registration, events = case
    for event in events:
        assert event_from_json(json.loads(json.dumps(event_to_json(event)))) == event
    for effect in (effect for made in run(registration, events) for effect in made):
        fields = json.loads(json.dumps(effect_to_json(effect)))
        kind = "".join(part.title() for part in fields.pop("type").split("-"))
        assert TypeAdapter(getattr(effects, kind)).validate_python(fields) == effect


@SEQUENCES
@given(sequences(), st.data())
def test_what_is_not_on_offer_changes_nothing(
    case: tuple[str, list[e.Event]], data: st.DataObject
) -> None:
    registration, events = case
    checklist = loaded(registration).checklist
    engine = Engine(checklist)
    for event in events[: data.draw(st.integers(1, len(events) - 1))]:
        engine.handle(event)
    commands = [f"command:{name}" for name in checklist.commands]
    keys = [r.key for item in checklist.items for r in (*item.readings, *item.darks)]
    off = sorted({*keys, *commands, "select:nowhere"} - set(engine.offers()))
    before, phase = engine.state, engine.phase
    now = before.now
    made = engine.handle(e.Heard(data.draw(st.sampled_from(off)), "words", now, now, 0.9))
    assert (engine.state, engine.phase) == (before, phase)
    notes = [effect.kind for effect in made if isinstance(effect, effects.Note)]
    assert notes == ([] if phase.value == "finished" else ["not-on-offer"])
    assert {type(effect) for effect in made} <= {effects.Note, effects.Show}
