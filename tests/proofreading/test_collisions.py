"""What `validate` says of wordings with two meanings, and what `--say` prints."""

from __future__ import annotations

from pathlib import Path

import pytest
from command import call, refused
from fleet import FLEET, loaded

from voicecheck.checklist.advice import Severity
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.said import network_of
from voicecheck.checklist.wordings import said_together
from voicecheck.proofreading.collisions import collisions, losable
from voicecheck.proofreading.nearness import too_near
from voicecheck.proofreading.soundalike import soundalike
from voicecheck.shipped import checklists_dir, grammars_dir


def _tarn(text: str, folder: Path) -> Loaded:
    """The Tarn 40 of another text."""
    (folder / "tarn-40.yaml").write_text(text, "utf-8")
    (folder / "airframes").symlink_to(checklists_dir() / "airframes")
    return load_checklist(
        str(folder / "tarn-40.yaml"), "ZZ-HAB", shipped=checklists_dir(), grammars=grammars_dir()
    )


def test_a_wording_of_two_meanings_is_named_with_both() -> None:
    found = {a.position: a.text for a in collisions(loaded("ZZ-HAB"))}
    assert "'bell on' ('bell continues', 'bell sounding')" in found["fire-alfa"]
    assert "'horn gone' ('horn silenced', 'no horn')" in found["gear"]


@pytest.mark.parametrize("airframe", FLEET)
def test_no_shipped_wording_is_taught_for_one_thing_and_good_of_another(airframe: str) -> None:
    assert {a.severity for a in collisions(loaded(airframe))} <= {Severity.NOTE}


def test_a_taught_wording_that_could_mean_something_good_is_warned_of(tmp_path: Path) -> None:
    text = (checklists_dir() / "tarn-40.yaml").read_text("utf-8")
    old = "        call: door caption\n        also: [door]\n"
    assert old in text
    # "no ice caption" is taught for a dark lamp; the door that must stay dark takes it for good.
    text = text.replace(old, "        call: door caption\n        also: [ice caption]\n")
    made = _tarn(text, tmp_path)
    warned = [a for a in collisions(made) if a.severity is Severity.WARNING]
    assert {a.position for a in warned} == {"cabin"}
    assert "'no ice caption' is taught for cabin.ice not good and could mean" in warned[1].text


@pytest.mark.parametrize("airframe", ["ZZ-HAB", "ZZ-HJC"])
def test_what_becomes_good_by_a_lost_word_is_known(airframe: str) -> None:
    """Each pair is real: the interpreter reads both, the one as it was said, the other as good."""
    made = loaded(airframe)
    network = network_of(made.checklist, made.language.sayings)
    for position in made.checklist.positions:
        together = said_together(made.checklist, position)
        keys = {w.key for w in together}
        good = {w.key for w in together if w.closes_good}
        found = list(losable(made, position.id))
        assert found or position.id == "off"
        for each in found:
            assert each.taken in good
            assert each.said in network.meant(each.words, keys).keys
            assert each.taken in network.meant(each.heard, keys).keys


def test_all_that_can_be_said_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = call("validate", "tarn-40", "--say", "ZZ-HAB", capsys=capsys)
    assert status == 0
    assert "gear.horn:good: horn sounding" in out
    assert "<before> " in out
    assert "<be> = (is | 's | are | 're)" in out


def test_one_checklist_at_a_time_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    line = refused("validate", "tarn-40", "skerry-j2", "--say", "ZZ-HAB", capsys=capsys)
    assert "name its type file or shipped id alone" in line


@pytest.mark.parametrize("airframe", FLEET)
def test_what_is_taught_sounds_like_nothing_else_that_may_be_said(airframe: str) -> None:
    """A denial or another count, one word away, keeps the distance that the taught ones keep."""
    made = loaded(airframe)
    assert list(too_near(made, soundalike(made.language).near)) == []


def test_a_name_that_brings_two_wordings_together_is_warned_of(tmp_path: Path) -> None:
    text = (checklists_dir() / "tarn-40.yaml").read_text("utf-8")
    old = "needle low, reads: [low,"
    assert old in text
    text = text.replace(old, "needle low, reads: [in the rid,")
    made = _tarn(text, tmp_path)
    (warned,) = too_near(made, soundalike(made.language).near)
    assert warned.text.startswith(
        "'needle in the red' (battery.needle good) sounds like 'needle in"
    )
    assert warned.item == "battery.needle"
