"""What is right when nothing shows must name the power that would show it; and going back."""

from __future__ import annotations

from pathlib import Path

import pytest

from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import Shows
from voicecheck.errors import InputError
from voicecheck.shipped import checklists_dir, grammars_dir

TYPE = """\
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
      skid:
        kind: lamps
        call: anti skid
        lamps: [{caption: SKID, say: anti skid, colour: amber, role: caution}]
      out: {kind: extinguish, lamp: skid, call: anti skid, within: {from: 2, to: 6}}
      heat:
        kind: switch
        call: pitot heat
        caption: PITOT
        throws: [{id: low, say: low heat}, {id: high, say: high heat}]
"""
AIRFRAME = """\
schema: 1
registration: ZZ-PLV
checklist: plover
operator: Hollin Air Ambulance
"""
PANEL = """\
rest:
  panel:
    kind: gauge
    expected: panel dark
    good: [panel dark]
    bad: [{say: light showing, finding: something is lit}]
"""


def load(folder: Path, type_text: str, airframe_text: str = AIRFRAME) -> Loaded:
    (folder / "airframes").mkdir(exist_ok=True)
    (folder / "plover.yaml").write_text(type_text, encoding="utf-8")
    (folder / "airframes" / "zz-plv.yaml").write_text(airframe_text, encoding="utf-8")
    return load_checklist(
        str(folder / "plover.yaml"), "ZZ-PLV", shipped=checklists_dir(), grammars=grammars_dir()
    )


DOOR = "      door: {kind: absent, call: door caption, caption: DOOR}\n"
HORN = "      horn: {kind: aural, call: horn, silence: must-silence}\n"
MASTER = "      master: {kind: cancel, call: master, must: reset}\n"


@pytest.mark.parametrize(
    ("item", "more"),
    [("gear.door", DOOR), ("gear.horn-silence", HORN), ("gear.master", MASTER), ("gear.out", "")],
)
@pytest.mark.parametrize("power", ["", "    power: {avionics: off}\n"])
def test_what_is_dark_or_silent_without_any_power_is_refused(
    tmp_path: Path, item: str, more: str, power: str
) -> None:
    text = TYPE.replace("    power: {battery: on}\n", power)
    if more:
        text = text.replace(text[text.index("      out:") : text.index("      heat:")], more)
    with pytest.raises(InputError, match="good when nothing shows or sounds") as caught:
        load(tmp_path, text)
    assert caught.value.problem.startswith(item)
    lines = text.splitlines()
    assert lines[(caught.value.place.line or 0) - 1].strip().startswith(item[5:8])
    assert "power: {battery: on}" in caught.value.remedy


def test_a_panel_that_is_dark_at_rest_names_its_power(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"off\.panel is good when nothing shows") as caught:
        load(tmp_path, TYPE + PANEL)
    assert caught.value.place.file.endswith("plover.yaml")
    assert caught.value.place.line == TYPE.count("\n") + 2
    load(tmp_path, TYPE + PANEL + "    power: {battery: on}\n")


def test_a_change_of_an_airframe_that_takes_the_power_away_is_told_by_its_line(
    tmp_path: Path,
) -> None:
    change = "changes:\n  gear: {because: rewired, power: {battery: off}}\n"
    with pytest.raises(InputError, match=r"gear\.out is good when nothing"):
        load(tmp_path, TYPE, AIRFRAME + change)


def test_a_gauge_at_rest_that_is_no_dark_panel_says_so(tmp_path: Path) -> None:
    found = load(tmp_path, TYPE + PANEL + "    dark: false\n")
    (gauge,) = found.checklist.positions[-1].items
    assert (gauge.shows, gauge.dark_of) == (Shows.READS, ())


def test_a_dark_panel_may_stand_in_a_position(tmp_path: Path) -> None:
    """Called while the lamp of another position is timed, it must wait for it."""
    panel = (
        PANEL.replace("rest:\n", "").replace("\n  ", "\n      ").replace("  panel", "      panel")
    )
    text = (
        TYPE
        + f"  all:\n    name: All\n    say: all\n    power: {{battery: on}}\n    expect:\n{panel}"
    )
    found = load(tmp_path, text + "        dark: true\n").checklist
    item = found.item("all.panel")
    assert item.shows is Shows.NOTHING
    assert item.dark_of == ("gear.out", "gear.other", "all.other", "off.other")


def test_a_caption_that_must_stay_dark_denies_the_lamp_that_is_itself(tmp_path: Path) -> None:
    dark = "rest:\n  {0}: {{kind: absent, call: {0} lamp, caption: {1}, power: {{battery: on}}}}\n"
    found = load(tmp_path, TYPE + dark.format("skid", "SKID")).checklist
    assert found.item("off.skid").dark_of == ("gear.out",)
    found = load(tmp_path, TYPE + dark.format("door", "DOOR")).checklist
    assert found.item("off.door").dark_of == ()


@pytest.mark.parametrize(
    ("back", "words"),
    [("", "pitot heat off"), ("auto", "pitot heat auto"), ("normal", "pitot heat normal")],
)
def test_a_switch_goes_back_to_where_the_checklist_says(
    tmp_path: Path, back: str, words: str
) -> None:
    text = TYPE.replace(
        "        caption: PITOT\n", f"        caption: PITOT\n        back: {back}\n"
    )
    item = load(tmp_path, text if back else TYPE).checklist.item("gear.heat-back")
    assert item.expected == words
    assert [reading.phrases[0] for reading in item.readings] == [words, "pitot heat stuck"]
    assert item.put_back


def test_an_expectation_cannot_take_the_place_of_what_nobody_foresaw(tmp_path: Path) -> None:
    text = TYPE + "      other: {kind: tactile, call: shaker}\n"
    with pytest.raises(InputError, match=r"two items would both be 'gear\.other'") as caught:
        load(tmp_path, text)
    assert caught.value.place.line == TYPE.count("\n") + 1
