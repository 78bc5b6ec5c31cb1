"""Items of one position that need different power: a bus touches those that need it, and no other.

No airframe of the fleet has such a position without items for both states; it is made here.
"""

from __future__ import annotations

from dataclasses import replace

from fleet import Crew

from voicecheck.engine import Engine
from voicecheck.engine.effects import Priority, Say
from voicecheck.engine.events import Began, Unclear


def crew_with(last_needs: dict[str, str], *, second: bool = False) -> Crew:
    """ZZ-HAA, where fire alfa needs the battery, and its last item alone may need more."""
    crew = Crew("ZZ-HAA")
    checklist = crew.engine.checklist
    position = checklist.position("fire-alfa")
    battery = {"battery": "on"}
    items = (
        *(replace(item, power=battery) for item in position.items[1:]),
        replace(position.items[0], power={**battery, **last_needs}),  # the fire lights
    )
    changed = replace(position, power=battery, items=items)
    positions = (changed, *checklist.positions[1:])
    crew.engine = Engine(replace(checklist, positions=positions))
    crew.effects.clear()
    crew.feed(Began(0.0, second))
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa")
    return crew


def test_only_the_item_that_needs_the_bus_is_void_after_it_changed() -> None:
    crew = crew_with({"avionics": "off"})
    crew.say("bell sounding", "both fire lights", "avionics on", "affirm")
    assert crew.outcome("fire-alfa.bell") == "satisfactory"
    assert crew.outcome("fire-alfa.lights") == "void"


def test_a_half_called_item_lapses_with_the_bus_that_it_alone_needs() -> None:
    crew = crew_with({"avionics": "off"}, second=True)
    crew.say("both fire lights", "avionics on", "affirm", "avionics off", "affirm")
    assert crew.say("both fire lights") == ["read-back-wanted"]
    assert crew.outcome("fire-alfa.lights") == "not tested"


def test_a_half_called_item_outlasts_a_bus_that_only_others_need() -> None:
    crew = crew_with({}, second=True)
    crew.say("both fire lights", "avionics on", "affirm", "both fire lights")
    assert crew.outcome("fire-alfa.lights") == "satisfactory"


def test_what_was_called_in_one_breath_with_a_bus_is_void_when_it_needed_the_other_state() -> None:
    """Captions of ZZ-HJA: the panel needs avionics off, the mode lights avionics on."""
    crew = Crew("ZZ-HJA")
    crew.power(battery="on", avionics="off")
    crew.say("going to captions")
    known = crew.phrases()
    guess = (known["panel complete"], known["avionics on"])
    crew.feed(Unclear(crew.now + 0.2, crew.now + 1.0, guess))
    crew.now += 1.0
    crew.say("affirm")
    assert crew.outcome("captions.panel") == "void"


def test_everything_that_became_void_is_read_out() -> None:
    crew = Crew("ZZ-HAA")
    crew.power(battery="on", avionics="off")
    crew.say("going to fire alfa", "both fire lights", "bell sounding", "avionics on", "affirm")
    (said,) = [e for e in crew.effects if isinstance(e, Say) and e.prompt == "voided"]
    assert said.values == {"items": "both fire lights, bell sounding", "position": "fire alfa"}
    assert said.priority is Priority.WARNING
