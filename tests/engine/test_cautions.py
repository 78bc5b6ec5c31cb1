"""Cautions: spoken with the position that has one, and with a finding on an item that has one."""

from __future__ import annotations

from dataclasses import replace

from fleet import Crew

from voicecheck.engine import Engine
from voicecheck.engine.effects import Priority, Say
from voicecheck.engine.events import Began

WORDS = "Pull no breaker while the horn is tested."


def test_the_caution_of_an_item_is_spoken_with_its_finding_alone() -> None:
    """No item of the fleet has a caution of its own, so all of them get one here."""
    crew = Crew("ZZ-HAA")
    checklist = crew.engine.checklist
    positions = tuple(
        replace(p, items=tuple(replace(item, caution=WORDS) for item in p.items))
        for p in checklist.positions
    )
    crew.engine = Engine(replace(checklist, positions=positions))
    crew.feed(Began(0.0))
    crew.power(battery="on", avionics="off")
    assert crew.say("going to gear", "horn sounding") == ["ack", "ack"]
    assert crew.say("no horn") == ["finding", "caution"]
    said = [effect for effect in crew.effects if isinstance(effect, Say)]
    assert said[-1] == Say("caution", {"text": WORDS}, Priority.WARNING)
    assert crew.findings()[0]["caution"] == WORDS
