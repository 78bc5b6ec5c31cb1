"""Lamps as a screen draws them, from the file to the resolved checklist and back."""

from __future__ import annotations

import yaml
from fleet import FLEET, loaded

from voicecheck.checklist.resolved import Lamp, checklist_from_json, checklist_to_json
from voicecheck.shipped import checklists_dir


def test_every_lamp_of_the_files_is_drawn_in_its_colour() -> None:
    """Read with a YAML reader of its own: captions and colours as they stand in the file."""
    for registration, name in FLEET.items():
        data = yaml.safe_load((checklists_dir() / f"{name}.yaml").read_text("utf-8"))
        written = {
            (lamp["caption"], lamp["colour"])
            for position in data["positions"].values()
            for expectation in position["expect"].values()
            for lamp in expectation.get("lamps", ())
        }
        items = loaded(registration).checklist.items
        drawn = {(lamp.caption, lamp.colour) for item in items for lamp in item.lamps}
        coloured = {lamp for lamp in drawn if lamp[1] is not None}
        assert len(coloured) >= 8
        changed = loaded(registration).files[1].read_text("utf-8")
        assert all(lamp in written or lamp[0] in changed for lamp in coloured)


def test_a_lamp_that_must_stay_dark_says_so() -> None:
    items = {item.id: item for item in loaded("ZZ-HAA").checklist.items}
    assert items["cabin.door"].lamps == (Lamp("DOOR", None, lit=False),)


def test_a_checklist_from_an_older_journal_has_no_lamps_and_still_reads() -> None:
    data = checklist_to_json(loaded("ZZ-HJC").checklist)
    assert checklist_to_json(checklist_from_json(data)) == data
    for position in data["positions"]:
        for item in position["items"]:
            del item["lamps"]
    assert all(item.lamps == () for item in checklist_from_json(data).items)
