"""Bad checklist files: each error names file, line, column, the problem and a remedy."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import Timing
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.shipped import checklists_dir, grammars_dir

TYPE = """\
schema: 1
id: plover
title: Plover test
type: Plover
buses:
  battery: {say: battery, label: battery bus}
positions:
  gear:
    name: Gear
    say: gear
    power: {battery: on}
    expect:
      greens:
        kind: lamps
        call: "# green"
        lamps:
          - {caption: L, say: left gear, colour: green, role: status}
          - {caption: R, say: right gear, colour: green, role: status}
"""
AIRFRAME = """\
schema: 1
registration: ZZ-PLV
checklist: plover
operator: Hollin Air Ambulance
"""


def load(folder: Path, type_text: str = TYPE, airframe_text: str = AIRFRAME) -> Loaded:
    (folder / "airframes").mkdir(exist_ok=True)
    (folder / "plover.yaml").write_text(type_text, encoding="utf-8")
    (folder / "airframes" / "zz-plv.yaml").write_text(airframe_text, encoding="utf-8")
    return load_checklist(
        str(folder / "plover.yaml"), "ZZ-PLV", shipped=checklists_dir(), grammars=grammars_dir()
    )


def test_the_example_itself_loads(tmp_path: Path) -> None:
    load(tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "line", "problem", "remedy"),
    [
        ("    say: gear\n", "    say: gear\n    colour: red\n", 11, "unknown key 'colour'", ""),
        ("    expect:\n", "    expects:\n", 12, "unknown key 'expects'", "did you mean 'expect'"),
        ("    name: Gear\n", "", 8, "'name' is missing", "add 'name:'"),
        ("  gear:\n", "  gear:\n    name: One\n    say: one\n  gear:\n", 11, "stands twice", ""),
        ("    say: gear\n", "\tsay: gear\n", 10, "not valid YAML", "spaces, not tabs"),
        ("title: Plover test", "title: Plover: test", 3, "not valid YAML", "quotes"),
        ("{battery: on}", "{batery: on}", 11, "'batery'", "did you mean 'battery'"),
        ("{battery: on}", "{battery: maybe}", 11, "'on' or 'off'", ""),
        ('"# green"', '"green"', 13, "no '#'", "'# green'"),
        ('"# green"', '"3 green"', 13, "cannot be spoken", ""),
        ("kind: lamps", "kind: lamp", 14, "unknown kind 'lamp'", "did you mean 'lamps'"),
        ("colour: green, role: status}\n          - {caption: R", "colour: green, role: warning}\n"
         "          - {caption: R", 17, "a warning lamp cannot be green", "warning is red"),
        ("say: right gear", "say: left gear", 13, "spoken alike", "its own 'say'"),
        ("schema: 1", "schema: 7", 1, "newer than this voicecheck", "update voicecheck"),
        ("id: plover", "id: &a plover\nlanguage: *a", 3, "alias", "write the values out"),
        ("id: plover", "id: !!python/name:os.system x", 2, "not allowed", "plain text"),
        ("    power: {battery: on}\n", "    power: &p {battery: on}\n    caution: *p\n", 12,
         "alias", "write the values out"),
    ],
)  # fmt: skip
def test_a_wrong_type_file(
    tmp_path: Path, old: str, new: str, line: int, problem: str, remedy: str
) -> None:
    assert old in TYPE
    with pytest.raises(VoicecheckError) as caught:
        load(tmp_path, TYPE.replace(old, new, 1))
    text = str(caught.value)
    assert "\n" not in text
    assert problem in text
    assert remedy in text
    if line:
        assert isinstance(caught.value, InputError)
        assert caught.value.place.line == line, text
        assert caught.value.place.column is not None


@pytest.mark.parametrize(
    ("added", "line", "problem"),
    [
        ("not_fitted: {geer: gone}\n", 5, "did you mean 'gear'"),
        ("not_fitted: {gear: gone}\n", 5, "every position is marked not fitted"),
        ("changes:\n  stall: {because: none}\n", 6, "known are: gear"),
        ("changes:\n  gear: {because: x, power: {avionics: on}}\n", 6, "known are: battery"),
    ],
)
def test_a_wrong_airframe_file(tmp_path: Path, added: str, line: int, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        load(tmp_path, TYPE, AIRFRAME + added)
    assert problem in str(caught.value)
    assert caught.value.place.line == line
    assert caught.value.place.file.endswith("zz-plv.yaml")


def test_two_callouts_must_not_share_their_words(tmp_path: Path) -> None:
    double = TYPE + "      more:\n        kind: lamps\n" + TYPE.split("kind: lamps\n")[1]
    with pytest.raises(InputError, match="'both green' would mean both"):
        load(tmp_path, double)


def test_a_timed_lamp_needs_its_lamp(tmp_path: Path) -> None:
    timed = TYPE + (
        "      out:\n        kind: extinguish\n        lamp: skid\n        call: anti skid\n"
        "        within: {from: 3, to: 5}\n"
    )
    with pytest.raises(InputError, match=r"needs 'gear\.skid'") as caught:
        load(tmp_path, timed)
    assert caught.value.place.line == 21


def test_a_timed_lamp_at_rest_needs_its_lamp(tmp_path: Path) -> None:
    timed = TYPE + (
        "rest:\n  out:\n    kind: extinguish\n    lamp: skid\n    call: anti skid\n"
        "    within: {from: 3, to: 5}\n"
    )
    with pytest.raises(InputError, match=r"needs 'off\.skid'") as caught:
        load(tmp_path, timed)
    assert caught.value.place.line == 22


HORN = """\
      horn:
        kind: aural
        call: horn
        silence: must-silence
"""
HEAT = """\
      heat:
        kind: switch
        call: heat
        caption: W/S OVHT
        throws:
          - {id: low, say: low heat}
          - {id: high, say: high heat}
"""


@pytest.mark.parametrize(
    ("added", "item", "line"),
    [
        # One call would count for both: the second throw, or the shaker, need never be called.
        (HEAT.replace("id: high", "id: low"), "gear.heat-low", 19),
        (HEAT.replace("id: high", "id: back"), "gear.heat-back", 19),
        (
            HORN + "      horn-silence:\n        kind: tactile\n        call: shaker\n",
            "gear.horn-silence",
            23,
        ),
    ],
)
def test_no_two_items_have_one_id(tmp_path: Path, added: str, item: str, line: int) -> None:
    with pytest.raises(InputError, match=f"two items would both be '{item}'") as caught:
        load(tmp_path, TYPE + added)
    assert caught.value.place.line == line


def test_an_item_that_is_not_fitted_keeps_its_id_from_others(tmp_path: Path) -> None:
    double = TYPE + HORN + "      horn-silence:\n        kind: tactile\n        call: shaker\n"
    with pytest.raises(InputError, match=r"two items would both be 'gear\.horn-silence'"):
        load(tmp_path, double, AIRFRAME + "not_fitted: {gear.horn-silence: none here}\n")


def test_a_timed_lamp_is_one_lamp(tmp_path: Path) -> None:
    out = "      out:\n        kind: extinguish\n        lamp: {}\n        call: horn\n"
    window = "        within: {from: 3, to: 5}\n"
    for lamp, line in (("greens", 21), ("horn", 25)):
        text = TYPE + (HORN if lamp == "horn" else "") + out.format(lamp) + window
        with pytest.raises(InputError, match=rf"times 'gear\.{lamp}', which is not one") as caught:
            load(tmp_path, text)
        assert caught.value.place.line == line


def test_a_timed_lamp_of_an_airframe_is_blamed_there(tmp_path: Path) -> None:
    change = (
        "changes:\n  gear:\n    because: none\n    expect:\n      out: {kind: extinguish, "
        "lamp: skid, call: anti skid, within: {from: 3, to: 5}}\n"
    )
    with pytest.raises(InputError, match=r"needs 'gear\.skid'") as caught:
        load(tmp_path, TYPE, AIRFRAME + change)
    assert caught.value.place.file.endswith("zz-plv.yaml")
    assert caught.value.place.line == 9


def test_an_unknown_bus_of_the_rest_position(tmp_path: Path) -> None:
    rest = (
        "rest:\n  skid:\n    kind: absent\n    call: anti skid\n    caption: ANTI-SKID\n"
        "    power: {batery: on}\n"
    )
    with pytest.raises(InputError, match="did you mean 'battery'") as caught:
        load(tmp_path, TYPE + rest)
    assert caught.value.place.line == 24


def test_an_airframe_keeps_the_timing_that_it_does_not_change(tmp_path: Path) -> None:
    wide = TYPE + "timing: {word_error: 0.4, reaction_spread: 1.5}\n"
    loaded = load(tmp_path, wide, AIRFRAME + "timing: {silence: 30}\n")
    assert loaded.checklist.timing == Timing(0.4, 0.7, 1.5, 30, 0.9, 0.7)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [("title: Plover test", 'title: ""', 3), ("name: Gear", 'name: " "', 9),
     ("label: battery bus", 'label: ""', 6)],
)  # fmt: skip
def test_what_a_report_shows_is_not_blank(tmp_path: Path, old: str, new: str, line: int) -> None:
    with pytest.raises(InputError, match="nothing is written in the quotes") as caught:
        load(tmp_path, TYPE.replace(old, new))
    assert caught.value.place.line == line


def test_an_airframe_file_may_have_the_short_suffix(tmp_path: Path) -> None:
    load(tmp_path)
    (tmp_path / "airframes" / "zz-plv.yaml").rename(tmp_path / "airframes" / "zz-plv.yml")
    found = load_checklist(
        str(tmp_path / "plover.yaml"), "ZZ-PLV", shipped=checklists_dir(), grammars=grammars_dir()
    )
    assert found.checklist.registration == "ZZ-PLV"


@pytest.mark.parametrize("airframe", [False, True])
def test_minutes_on_battery_need_the_battery(tmp_path: Path, airframe: bool) -> None:
    minutes = "battery_minutes: 10\n"
    other = TYPE.replace("battery: {say", "main: {say").replace("{battery: on}", "{main: on}")
    load(tmp_path, TYPE + minutes)
    texts = (other, AIRFRAME + minutes) if airframe else (other + minutes, AIRFRAME)
    with pytest.raises(InputError, match="no bus has the id 'battery'") as caught:
        load(tmp_path, *texts)
    assert caught.value.place.line == (5 if airframe else 19)


def test_capitals_make_no_second_wording(tmp_path: Path) -> None:
    twins = TYPE.replace("# green", "# Green") + (
        "      bell: {kind: aural, call: Bell}\n      twin: {kind: aural, call: bell}\n"
    )
    with pytest.raises(InputError, match=r"'bell sounding' would mean both"):
        load(tmp_path, twins)
    one = load(tmp_path, twins.replace("call: bell", "call: horn")).checklist
    assert {reading.phrases[0] for item in one.items for reading in item.readings} >= {
        "both green",
        "bell sounding",
    }


def test_unknown_registration_lists_the_known_ones(tmp_path: Path) -> None:
    load(tmp_path)
    with pytest.raises(VoicecheckError, match="did you mean ZZ-PLV"):
        load_checklist(
            str(tmp_path / "plover.yaml"),
            "ZZ-PLW",
            shipped=checklists_dir(),
            grammars=grammars_dir(),
        )


def test_a_registration_stands_in_one_file_only(tmp_path: Path) -> None:
    load(tmp_path)
    (tmp_path / "airframes" / "again.yaml").write_text(AIRFRAME, encoding="utf-8")
    with pytest.raises(InputError, match="is already in"):
        load(tmp_path)


@pytest.mark.parametrize("name", ["nowhere.yaml", "skery-j2", "."])
def test_a_checklist_that_is_not_there(name: str) -> None:
    with pytest.raises(VoicecheckError) as caught:
        load_checklist(name, "ZZ-HJC", shipped=checklists_dir(), grammars=grammars_dir())
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("content", [b"", b"- a\n", b"\xff\xfe\x00", b"a: [1, 2", b"\x00"])
def test_files_that_are_no_checklist(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "odd.yaml"
    path.write_bytes(content)
    with pytest.raises(VoicecheckError) as caught:
        load_checklist(str(path), "ZZ-HJC", shipped=checklists_dir(), grammars=grammars_dir())
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_huge_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "huge.yaml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(VoicecheckError, match="over the limit"):
        load_checklist(str(path), "ZZ-HJC", shipped=checklists_dir(), grammars=grammars_dir())


def test_deep_nesting_is_refused(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="nested deeper"):
        load(tmp_path, TYPE + "x: " + "[" * 40 + "]" * 40 + "\n")


def test_a_users_own_folder_is_used(tmp_path: Path) -> None:
    shutil.copytree(checklists_dir(), tmp_path / "checklists")
    found = load_checklist(
        str(tmp_path / "checklists" / "tarn-40.yaml"),
        "zz-haa",
        shipped=tmp_path / "none",
        grammars=grammars_dir(),
    )
    assert found.checklist.registration == "ZZ-HAA"
    assert len(found.sha256) == 64
