"""Advice on checklists: every rule speaks about its own fault, and none about the fleet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from fleet import FLEET, loaded

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.lint import lint
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.places import place_in_files
from voicecheck.checklist.resolved import OFF, Checklist, Grade, Item, NotFitted, Position
from voicecheck.checklist.wordings import said_together
from voicecheck.engine.offers import offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, OpenWindow, Outcome, Question, Record, Result, SessionState
from voicecheck.engine.windows import uncertainty
from voicecheck.proofreading.soundalike import soundalike
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.yaml_source import read_yaml

HEAD = """\
schema: 1
id: plover
title: Plover test
type: Plover
buses:
  battery: {say: battery, label: battery bus}
  avionics: {say: avionics, label: avionics bus}
positions:
  gear:
    name: Gear
    say: gear
    power: {battery: on}
    expect:
"""
HORN = "      horn: {kind: aural, call: horn, silence: must-silence, returns: true}\n"
SKID = """\
      lamp:
        kind: lamps
        call: anti skid
        lamps: [{caption: SKID, say: anti skid, colour: amber, role: caution}]
      out: {kind: extinguish, lamp: lamp, call: anti skid, within: {from: 2, to: 6}}
"""
AIRFRAME = """\
schema: 1
registration: ZZ-PLV
checklist: plover
operator: Hollin Air Ambulance
"""


def gauge(good: str, *bad: str, name: str = "needle", more: str = "") -> str:
    wrong = ", ".join(f"{{say: {say}, finding: {say}}}" for say in bad)
    return (
        f"      {name}: {{kind: gauge, expected: {good}, good: [{good}], bad: [{wrong}]{more}}}\n"
    )


@pytest.fixture
def load(tmp_path: Path) -> Callable[..., Loaded]:
    def loads(expect: str, after: str = "", airframe: str = AIRFRAME) -> Loaded:
        (tmp_path / "airframes").mkdir(exist_ok=True)
        (tmp_path / "plover.yaml").write_text(HEAD + expect + after, encoding="utf-8")
        (tmp_path / "airframes" / "zz-plv.yaml").write_text(airframe, encoding="utf-8")
        return load_checklist(
            str(tmp_path / "plover.yaml"),
            "ZZ-PLV",
            shipped=checklists_dir(),
            grammars=grammars_dir(),
        )

    return loads


def advice(checklist: Checklist) -> list[Advice]:
    alike = soundalike(loaded("ZZ-HAA").language)
    return lint(checklist, uncertainty=uncertainty(checklist.timing), alike=alike)


def only(checklist: Checklist, severity: Severity, about: str | None, words: str) -> Advice:
    """The one piece of advice there is; checks what it is about."""
    found = advice(checklist)
    assert len(found) == 1, [str(one) for one in found]
    assert found[0].severity is severity, str(found[0])
    assert (found[0].item or found[0].position) == about
    assert words in str(found[0])
    assert found[0].proposal
    return found[0]


def changed(checklist: Checklist, item_id: str, **fields: object) -> Checklist:
    """The checklist with fields of one item replaced, as no file can say it."""

    def item(one: Item) -> Item:
        return replace(one, **fields) if one.id == item_id else one  # type: ignore[arg-type]

    return replace(
        checklist,
        positions=tuple(
            replace(position, items=tuple(map(item, position.items)))
            for position in checklist.positions
        ),
    )


@pytest.mark.parametrize("registration", FLEET)
def test_the_fleet_needs_no_advice(registration: str) -> None:
    assert [str(one) for one in advice(loaded(registration).checklist)] == []


@pytest.mark.parametrize("expect", [HORN, SKID, HORN + SKID, gauge("needle in the red", "low")])
def test_a_sound_example_needs_no_advice(load: Callable[..., Loaded], expect: str) -> None:
    assert advice(load(expect).checklist) == []


def test_a_position_without_items(load: Callable[..., Loaded]) -> None:
    empty = "  lamps: {name: Lamps, say: lamps, expect: {}}\n"
    only(load(HORN, empty).checklist, Severity.WARNING, "lamps", "has no items")


def test_a_position_that_an_airframe_leaves_without_items(load: Callable[..., Loaded]) -> None:
    airframe = AIRFRAME + "not_fitted: {gear.horn: no horn}\n"
    only(load(HORN, airframe=airframe).checklist, Severity.WARNING, "gear", "has no items")


def test_a_rest_position_may_be_empty(load: Callable[..., Loaded]) -> None:
    checklist = load(HORN).checklist
    assert checklist.position(OFF).items == ()
    assert advice(checklist) == []


@pytest.mark.parametrize(
    ("item", "fields", "severity", "words"),
    [
        ("gear.horn", {"after": ("gear.bell",)}, Severity.ERROR, "does not have"),
        ("gear.horn", {"after": ("gear.out",)}, Severity.ERROR, "only when the selector has left"),
        ("gear.horn", {"after": ("gear.lamp",)}, Severity.WARNING, "stands before 'gear.lamp'"),
    ],
)
def test_an_order_that_cannot_be_followed(
    load: Callable[..., Loaded],
    item: str,
    fields: dict[str, object],
    severity: Severity,
    words: str,
) -> None:
    checklist = load(HORN + SKID).checklist
    found = advice(changed(checklist, item, **fields))
    assert [one for one in found if one.severity is severity and words in one.text], found
    assert {one.item for one in found} == {item}


@pytest.mark.parametrize("after", [("gear.horn",), ("gear.horn-returns",)])
def test_a_ring_of_items(load: Callable[..., Loaded], after: tuple[str, ...]) -> None:
    checklist = load(HORN).checklist
    found = advice(changed(checklist, "gear.horn", after=after))
    rings = [one for one in found if "each of these waits for another" in one.text]
    assert len(rings) == 1
    assert rings[0].severity is Severity.ERROR
    assert "gear.horn" in rings[0].text


def test_an_item_that_can_never_be_good(load: Callable[..., Loaded]) -> None:
    checklist = load(HORN).checklist
    bad = tuple(r for r in checklist.items[0].readings if r.grade is not Grade.GOOD)
    found = advice(changed(checklist, "gear.horn", readings=bad))
    assert [(one.severity, one.item) for one in found] == [
        (Severity.ERROR, "gear.horn"),
        (Severity.ERROR, "gear.horn-silence"),
    ]
    assert "never be satisfactory" in found[0].text
    assert "never reached" in found[1].text


def test_a_timed_lamp_under_other_power_than_its_lamp(load: Callable[..., Loaded]) -> None:
    expect = SKID.replace("call: anti skid\n", "call: anti skid\n        power: {avionics: off}\n")
    expect = expect.replace("within:", "power: {avionics: on}, within:")
    only(load(expect).checklist, Severity.ERROR, "gear.out", "is timed with 'avionics on'")


def test_a_stage_under_other_power_than_the_one_before(load: Callable[..., Loaded]) -> None:
    checklist = changed(load(HORN).checklist, "gear.horn", power={"avionics": "on"})
    checklist = changed(checklist, "gear.horn-silence", power={"avionics": "off"})
    only(checklist, Severity.WARNING, "gear.horn-silence", "needs 'avionics off', but comes after")


def test_power_of_a_position_that_no_item_uses(load: Callable[..., Loaded]) -> None:
    expect = gauge("needle in the red", "low", more=", power: {battery: off}")
    only(load(expect).checklist, Severity.WARNING, "gear", "never used")


def test_power_that_one_item_still_uses(load: Callable[..., Loaded]) -> None:
    expect = HORN + gauge("needle in the red", "low", more=", power: {battery: off}")
    assert advice(load(expect).checklist) == []


@pytest.mark.parametrize(
    ("grade", "words"), [(Grade.GOOD, "that it went out"), (Grade.BAD, "that it stays lit")]
)
def test_a_timed_lamp_that_nothing_can_close(
    load: Callable[..., Loaded], grade: Grade, words: str
) -> None:
    checklist = load(SKID).checklist
    timed = next(item for item in checklist.items if item.window)
    for readings in (
        tuple(r for r in timed.readings if r.grade is not grade),
        tuple(replace(r, phrases=()) if r.grade is grade else r for r in timed.readings),
    ):
        only(changed(checklist, "gear.out", readings=readings), Severity.ERROR, "gear.out", words)


@pytest.mark.parametrize(("upper", "fires"), [("4", True), ("4.15", True), ("4.16", False)])
def test_a_window_narrower_than_spoken_times_are_sure(
    load: Callable[..., Loaded], upper: str, fires: bool
) -> None:
    """The hand 0.8, the reaction 0.7 and two word ends of 0.13 s, as squares: 1.079 s each way."""
    checklist = load(SKID.replace("to: 6", f"to: {upper}")).checklist
    assert uncertainty(checklist.timing) == pytest.approx(1.0788, abs=1e-4)
    if fires:
        only(checklist, Severity.ERROR, "gear.out", "always be too close to call")
    else:
        only(checklist, Severity.WARNING, "gear.out", "leaves 0.00 s")


def test_a_window_with_room_for_a_verdict(load: Callable[..., Loaded]) -> None:
    for upper, advised in (("5.15", 1), ("5.16", 0)):
        checklist = load(SKID.replace("to: 6", f"to: {upper}")).checklist
        assert len(advice(checklist)) == advised


def test_a_wording_that_is_good_and_bad(load: Callable[..., Loaded]) -> None:
    """Within one item, where the loader does not look."""
    checklist = load(gauge("needle low", "needle low", "needle high")).checklist
    told = only(checklist, Severity.ERROR, "gear.needle", "'needle low' means both")
    assert "gear.needle good and gear.needle not good" in told.text


def test_two_buses_of_one_name(load: Callable[..., Loaded]) -> None:
    checklist = load(HORN).checklist
    battery, avionics = checklist.buses
    twin = replace(avionics, on=battery.on)
    found = advice(replace(checklist, buses=(battery, twin)))
    assert {one.severity for one in found} == {Severity.ERROR}
    assert [one.text for one in found] == [
        f"'{phrase}' means both bus battery on and bus avionics on" for phrase in battery.on
    ]


@pytest.mark.parametrize(
    "phrase",
    [
        "affirm",
        "battery shut down",
        "going to gear",
        "going to tail",
        "power lost",
        "horn sounding",
    ],
)
def test_a_running_window_against_everything_else(load: Callable[..., Loaded], phrase: str) -> None:
    """Its wordings are heard in every other position too."""
    gone = NotFitted("tail.x", "tail", "Tail", "x", "removed", "tail")
    after = "  skid:\n    name: Skid\n    say: skid\n    power: {battery: on}\n    expect:\n" + SKID
    checklist = replace(load(HORN, after).checklist, not_fitted=(gone,))
    timed = next(item for item in checklist.items if item.window)
    out = replace(timed.readings[0], phrases=(phrase,))
    clash = changed(checklist, timed.id, readings=(out, timed.readings[1]))
    told = only(clash, Severity.ERROR, told_about(phrase), f"'{phrase}' means both")
    assert "skid.out good" in told.text
    assert told.position == told.item.split(".")[0]  # type: ignore[union-attr]


def told_about(phrase: str) -> str:
    return "gear.horn" if phrase == "horn sounding" else "skid.out"


def test_the_same_words_in_two_positions_are_no_clash(load: Callable[..., Loaded]) -> None:
    after = "  bell:\n    name: Bell\n    say: bell\n    power: {battery: on}\n    expect:\n" + HORN
    assert advice(load(HORN, after).checklist) == []


@pytest.mark.parametrize(
    ("good", "bad", "why"),
    [
        ("needle right", "needle light", "limit 6"),
        ("needle at five", "needle at fife", "distance 0.0"),
        ("needle at nine", "needle at niner", "distance 0.0"),
        ("needle temperature", "needle temperatures", "limit 6"),
        ("needle on", "needle off", "limit 6"),
        ("all lamps lit", "lamps lit", "only 'all' apart"),
        ("needle green", "needle dark green", "only 'dark' apart"),
    ],
)
def test_wordings_that_sound_alike(
    load: Callable[..., Loaded], good: str, bad: str, why: str
) -> None:
    found = advice(load(gauge(good, bad)).checklist)
    assert [(one.severity, one.item) for one in found] == [(Severity.WARNING, "gear.needle")]
    assert f"'{good}' (gear.needle good) sounds like '{bad}'" in found[0].text
    assert why in found[0].text


@pytest.mark.parametrize(
    ("good", "bad"),
    [
        ("needle in the red", "needle low"),
        ("needle steady", "needle not steady"),  # the listeners' own decoys
        ("needle steady", "needle temperature steady"),
        ("needle xqzrt", "needle xqzrd"),  # no known sound: told by another check
        ("three pointers", "two pointers"),
    ],
)
def test_wordings_that_do_not(load: Callable[..., Loaded], good: str, bad: str) -> None:
    assert advice(load(gauge(good, bad)).checklist) == []


def test_alike_wordings_that_are_both_bad_or_mean_the_same(load: Callable[..., Loaded]) -> None:
    assert advice(load(gauge("panel complete", "lamp right", "lamp light")).checklist) == []
    same = gauge("lamp right", "panel dead").replace(
        "good: [lamp right]", "good: [lamp right, lamp light]"
    )
    assert advice(load(same).checklist) == []


def test_on_and_off_of_a_bus_are_asked_about_and_a_good_result_is_not(
    load: Callable[..., Loaded],
) -> None:
    """On and off differ by one phone; only where one of the two closes an item is it told."""
    assert advice(load(HORN).checklist) == []
    told = advice(load(gauge("avionics own", "needle low")).checklist)
    assert {(one.severity, one.item) for one in told} == {(Severity.WARNING, "gear.needle")}
    assert "sounds like 'avionics on' (bus avionics on)" in told[0].text
    assert "call it 'avionics powered up'" in told[0].proposal


def test_a_running_window_that_sounds_like_another_position(load: Callable[..., Loaded]) -> None:
    after = "  skid:\n    name: Skid\n    say: skid\n    power: {battery: on}\n    expect:\n" + SKID
    skid = load(gauge("anti skid doubt", "anti skid low"), after)
    told = [one.text for one in advice(skid.checklist)]
    assert len(told) == 1, told
    assert "gear.needle good" in told[0]
    assert "skid.out good" in told[0]


def test_without_sounds_nothing_is_compared(load: Callable[..., Loaded]) -> None:
    checklist = load(gauge("needle right", "needle light")).checklist
    assert lint(checklist, uncertainty=uncertainty(checklist.timing)) == []


@pytest.mark.parametrize("registration", FLEET)
def test_what_is_said_together_is_what_the_engine_offers(registration: str) -> None:
    """The checklist room may not look into the engine, so here both are compared."""
    checklist = loaded(registration).checklist
    for position in checklist.positions:
        assert {(w.phrase, w.key) for w in said_together(checklist, position)} == {
            (phrase, offer.callout.key)
            for state in _states(checklist, position)
            for offer in offers(checklist, state).values()
            for phrase in offer.callout.phrases
        }


def _states(checklist: Checklist, position: Position) -> list[SessionState]:
    windows = tuple(
        OpenWindow(item.id, 0.0, 9.0)
        for item in checklist.items
        if item.window is not None and item.position != position.id
    )
    here = Phase.AT_REST if position.id == OFF else Phase.TESTING
    good = Result(Outcome.SATISFACTORY, 1, "", "", 0.0, 0.0, 0)
    records = {item.id: Record(good) for item in checklist.items}
    return [
        SessionState(phase, position.id, windows=windows, question=Question(ask), records=records)
        for ask in Ask
        for phase in (Phase.HELD, here)
    ]


def test_places(load: Callable[..., Loaded]) -> None:
    change = "changes:\n  gear:\n    because: rewired\n    expect:\n" + HORN
    power = ", power: {battery: on}"
    panel = gauge("panel dark", "light showing", name="panel", more=power)
    rest = "rest:\n" + panel.replace("      ", "  ")
    found = load(HORN + SKID, rest, AIRFRAME + change)
    type_file, airframe = map(read_yaml, found.files)

    def line(position: str | None, item: str | None) -> str:
        place = place_in_files(position, item, type_file, airframe)
        text = Path(place.file).read_text(encoding="utf-8").splitlines()[(place.line or 0) - 1]
        return f"{Path(place.file).stem}: {text.strip()[:6].rstrip(':{ ')}"

    assert line("gear", "gear.horn-silence") == "zz-plv: horn"
    assert line("gear", "gear.out") == "plover: out"
    assert line("gear", "gear.lamp") == "plover: lamp"
    assert line("gear", None) == "plover: gear"
    assert line(OFF, "off.panel") == "plover: panel"
    assert line(OFF, None) == "plover: rest"
    assert line(None, None) == "plover: schema"
