"""The simulated aircraft against what its checklist says, whole and with faults."""

from __future__ import annotations

import math
import random

import pytest
from fleet import FLEET, loaded

from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, Shows
from voicecheck.errors import VoicecheckError
from voicecheck.world.aircraft import DECAY, RISE, SETTLED, Aircraft
from voicecheck.world.faults import Fault, FaultKind, faults_from, needs, possible
from voicecheck.world.panel import dark_readings, right_reading


def item_of(checklist: Checklist, item_id: str) -> Item:
    return next(item for item in checklist.items if item.id == item_id)


def seen_at(aircraft: Aircraft, item: Item, at: float) -> tuple[str, float]:
    """Go there with the right power, do all that comes before and the item; what is then so."""
    checklist = aircraft.checklist
    aircraft.switch("battery", True, at)
    for bus, state in needs(checklist, item).items():
        aircraft.switch(bus, state == "on", at)
    aircraft.select(OFF, at)
    aircraft.select(item.position, at)
    for stage in (*item.after, item.id):
        if item_of(checklist, stage).shows is not Shows.GOES_OUT:
            aircraft.do(stage, at)
    at += SETTLED
    timed = item_of(checklist, item.after[0]) if item.shows is Shows.GOES_OUT else None
    if timed is not None:
        aircraft.select(OFF, at)
        at += 60
    return right_reading(item, aircraft.panel(at), timed).key, at + 1


@pytest.mark.parametrize("registration", FLEET)
def test_a_whole_aircraft_shows_what_its_checklist_expects(registration: str) -> None:
    checklist = loaded(registration).checklist
    aircraft, at = Aircraft(checklist), 0.0
    for item in checklist.items:
        key, at = seen_at(aircraft, item, at)
        good = [r.key for r in item.readings if r.grade is Grade.GOOD]
        assert key in good, item.id


def shown(registration: str, fault: str, item_id: str) -> str:
    checklist = loaded(registration).checklist
    faults = faults_from(fault, checklist, random.Random(0))
    return seen_at(Aircraft(checklist, faults), item_of(checklist, item_id), 0.0)[0]


@pytest.mark.parametrize(
    ("fault", "item", "reading"),
    [
        ("lamp-dark:FIRE L", "fire.lights", "fire.lights:1"),
        ("lamp-dark:fire.lights", "fire.lights", "fire.lights:0"),
        ("lamp-dark:NOSE,lamp-dark:RIGHT", "gear.greens", "gear.greens:1"),
        ("lamp-dark:W/S OVHT", "windshield.heat-low", "windshield.heat-low:bad"),
        ("lamp-dark:windshield.heat-high", "windshield.heat-low", "windshield.heat-low:good"),
        ("lamp-dark:windshield.heat-high", "windshield.heat-high", "windshield.heat-high:bad"),
        ("lamp-stuck:DOOR", "cabin.door", "cabin.door:bad"),
        ("lamp-stuck:BLEED L", "off.panel", "off.panel:bad-0"),
        ("never-out:anti-skid.out", "anti-skid.out", "anti-skid.out:bad"),
        ("silent:gear.horn", "gear.horn", "gear.horn:bad"),
        ("silent:stall.shaker", "stall.shaker", "stall.shaker:bad"),
        ("not-silenced:gear.horn-silence", "gear.horn-silence", "gear.horn-silence:bad"),
        ("no-return:gear.horn-returns", "gear.horn-returns", "gear.horn-returns:bad"),
        (
            "wrongly-silenced:overspeed.clacker-silence",
            "overspeed.clacker-silence",
            "overspeed.clacker-silence:bad",
        ),
        ("wrong-cancel:captions.reset", "captions.reset", "captions.reset:bad"),
        ("wrong-cancel:reverser.master", "reverser.master", "reverser.master:bad"),
        ("wrong-reading:stall.pointer", "stall.pointer", "stall.pointer:bad-0"),
        ("bus-dead:avionics", "gear.unsafe", "gear.unsafe:0"),
        ("none", "gear.unsafe", "gear.unsafe:1"),
    ],
)
def test_a_fault_shows_where_it_is(fault: str, item: str, reading: str) -> None:
    assert shown("ZZ-HJC", fault, item) == reading


def test_nothing_shows_under_wrong_power_but_for_the_fault_that_it_does() -> None:
    checklist = loaded("ZZ-HJA").checklist  # its gear test needs avionics off
    greens = item_of(checklist, "gear.greens")
    for faults, lit in ((), 0), ((Fault(FaultKind.ANY_POWER, "gear.greens"),), 3):
        aircraft = Aircraft(checklist, faults)
        aircraft.switch("battery", True, 0.0)
        aircraft.switch("avionics", True, 0.0)
        aircraft.select("gear", 1.0)
        assert aircraft.panel(2.0).lit(greens) == lit


def test_a_bus_that_stays_on_was_on_once() -> None:
    aircraft = Aircraft(loaded("ZZ-HJA").checklist, [Fault(FaultKind.BUS_STAYS_ON, "avionics")])
    assert not aircraft.panel(0.0).buses["avionics"]
    aircraft.switch("avionics", True, 1.0)
    aircraft.switch("avionics", False, 2.0)
    assert aircraft.panel(3.0).buses["avionics"]


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [
        (None, 4.0, 8.0),
        (FaultKind.OUT_EARLY, 0.0, 2.4),
        (FaultKind.OUT_LATE, 9.6, 13.6),
        (FaultKind.NEVER_OUT, math.inf, math.inf),
    ],
)
def test_a_timed_lamp_goes_out_in_its_window_or_clear_of_it(
    kind: FaultKind | None, low: float, high: float
) -> None:
    """ZZ-HJD: four to eight seconds."""
    checklist = loaded("ZZ-HJD").checklist
    faults = [Fault(kind, "anti-skid.out")] if kind else []
    for seed in range(30):
        aircraft = Aircraft(checklist, faults, seed)
        aircraft.switch("battery", True, 0.0)
        aircraft.switch("avionics", True, 0.0)
        aircraft.select("anti-skid", 1.0)
        aircraft.select(OFF, 10.0)
        due = aircraft.goes_dark_at("anti-skid.out", 10.0)
        assert due is not None
        assert low <= due - 10.0 <= high
        if due < math.inf:
            assert aircraft.panel(due - 0.01).lamp("ANTI-SKID").lit
            assert not aircraft.panel(due + DECAY).lamp("ANTI-SKID").lit


def test_a_filament_takes_its_time() -> None:
    """One time constant after a step, 1 - 1/e of the way is gone (any physics text)."""
    aircraft = Aircraft(loaded("ZZ-HJA").checklist)
    aircraft.switch("battery", True, 0.0)
    aircraft.select("gear", 1.0)
    lamp = aircraft.panel(1.0 + RISE).lamp("NOSE")
    assert lamp.brightness == pytest.approx(1 - 1 / math.e)
    assert (lamp.caption, lamp.colour) == ("NOSE", "green")
    assert aircraft.panel(3.0).lamp("NOSE").brightness == pytest.approx(1.0, abs=1e-6)
    aircraft.select(OFF, 3.0)
    assert aircraft.panel(3.0 + DECAY).lamp("NOSE").brightness == pytest.approx(1 / math.e)


def test_an_intermittent_fault_shows_in_some_visits() -> None:
    checklist = loaded("ZZ-HJA").checklist
    aircraft = Aircraft(checklist, [Fault(FaultKind.LAMP_DARK, "NOSE", 0.5)], seed=3)
    aircraft.switch("battery", True, 0.0)
    seen, greens = set(), item_of(checklist, "gear.greens")
    for visit in range(40):
        aircraft.select("gear", 10.0 * visit)
        seen.add(aircraft.panel(10.0 * visit + 1).lit(greens))
        aircraft.select(OFF, 10.0 * visit + 2)
    assert seen == {2, 3}


def test_dark_lamps_are_named() -> None:
    checklist = loaded("ZZ-HJC").checklist
    aircraft = Aircraft(checklist, [Fault(FaultKind.LAMP_DARK, "L UNLOCK")])
    for bus in ("battery", "avionics"):
        aircraft.switch(bus, True, 0.0)
    aircraft.select("reverser", 0.0)
    left = item_of(checklist, "reverser.left")
    named = [reading.phrases[0] for reading in dark_readings(left, aircraft.panel(1.0))]
    assert named == ["left unlocked dark"]


@pytest.mark.parametrize("registration", FLEET)
def test_every_possible_fault_can_be_written_and_read(registration: str) -> None:
    checklist = loaded(registration).checklist
    faults = possible(checklist)
    assert {fault.kind for fault in faults} >= {FaultKind.LAMP_DARK, FaultKind.BUS_DEAD}
    text = ",".join(map(str, faults))
    assert faults_from(text, checklist, random.Random(0)) == faults


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("lamp-drak:FIRE L", "did you mean lamp-dark?"),
        ("lamp-dark:FIRE Q", "one of: "),
        ("silent:gear.greens", "'gear.greens' cannot have it"),
        ("random:many", "random:2"),
        ("lamp-dark:FIRE L~2", "~0.5"),
        ("lamp-dark:FIRE L~0.0", "~0.5"),
    ],
)
def test_a_fault_that_cannot_be_is_told_with_its_remedy(text: str, told: str) -> None:
    with pytest.raises(VoicecheckError) as error:
        faults_from(text, loaded("ZZ-HJC").checklist, random.Random(0))
    assert told in str(error.value)
