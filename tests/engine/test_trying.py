"""Trying what would follow from an event, without letting it happen."""

from __future__ import annotations

from fleet import Crew

from voicecheck.engine import Engine, step
from voicecheck.engine.effects import Effect
from voicecheck.engine.events import Event, Heard, Passed


def leaving() -> Crew:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated", "selector off")
    return crew


def would(engine: Engine, event: Event) -> list[Effect]:
    """What would follow from an event."""
    return step(engine.checklist, engine.state, event)[1]


def everything(crew: Crew) -> tuple[object, ...]:
    engine = crew.engine
    return engine.state, engine.phase, engine.wake, tuple(engine.offers())


def test_what_would_follow_is_what_does_follow_and_nothing_has_changed() -> None:
    crew = leaving()
    for key in crew.engine.offers():
        event = Heard(key, key, crew.now + 0.3, crew.now + 1.1, 0.9)
        before = everything(crew)
        tried = would(crew.engine, event)
        assert everything(crew) == before
        assert Engine(crew.engine.checklist, crew.engine.state).handle(event) == tried
        assert everything(crew) == before
    assert crew.engine.handle(event) == tried


def test_trying_does_not_swallow_what_is_due() -> None:
    """A deadline and new offers are told when they come, though they were tried before."""
    crew = leaving()
    wake = crew.engine.wake
    assert wake is not None
    tried = would(crew.engine, Passed(wake))
    assert crew.prompts(tried) == ["window-ask"]
    assert crew.engine.wake == wake
    assert crew.feed(Passed(wake)) == tried


def test_a_second_engine_in_the_same_state_goes_its_own_way() -> None:
    crew = leaving()
    other = Engine(crew.engine.checklist, crew.engine.state)
    assert (other.state, other.phase, other.wake) == (
        crew.engine.state,
        crew.engine.phase,
        crew.engine.wake,
    )
    crew.say("going to gear")
    assert crew.engine.state.position == "gear"
    assert other.state.position == "off"
    key = crew.phrases()["three green"]
    assert key not in other.offers()
    assert key in crew.engine.offers()
