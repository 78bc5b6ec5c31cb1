"""Nobody speaks on two sides."""

from __future__ import annotations

import pytest

from voicecheck.training.packages import PACKAGES
from voicecheck.training.voices import (
    ACCENTS,
    ALONE,
    CALIBRATE,
    REGISTRY,
    REHEARSED,
    TEST,
    THRESHOLD_SETTERS,
    TRAIN,
    VARIANTS,
    Voice,
    person,
)


def _people(voices: tuple[Voice, ...]) -> set[str]:
    return {voice.person for voice in voices}


def test_training_calibration_and_test_share_nobody() -> None:
    sides = [_people(TRAIN), _people(CALIBRATE), _people(TEST), _people(ALONE)]
    for at, one in enumerate(sides):
        assert one
        for other in sides[at + 1 :]:
            assert not one & other


def test_nobody_is_trained_with_who_sets_a_threshold_or_a_table_elsewhere() -> None:
    assert not _people(TRAIN) & THRESHOLD_SETTERS


def test_nobody_is_tested_with_who_sets_a_threshold_or_a_table_elsewhere() -> None:
    assert not _people(TEST) & THRESHOLD_SETTERS
    assert _people(ALONE) <= THRESHOLD_SETTERS


def test_nobody_is_trained_with_who_speaks_in_a_rehearsal() -> None:
    assert not _people(TRAIN) & REHEARSED


def test_no_accent_of_the_training_is_one_that_is_kept() -> None:
    kept = {"en-gb-scotland", "en-029", "en-gb-x-gbcwmd"}
    assert not kept & set(ACCENTS)
    assert kept <= {v.name.partition("+")[0] for v in (*CALIBRATE, *TEST, *ALONE)}


def test_every_voice_has_one_role() -> None:
    names = [(voice.engine, voice.name) for voice in REGISTRY]
    assert len(names) == len(set(names))
    assert len(VARIANTS) == len(set(VARIANTS))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("flite", "kal16"), ("festival", "kal_diphone")),
        (("flite", "slt"), ("festival", "cmu_us_slt_arctic_hts")),
        (("espeak-ng", "en-us+m3"), ("espeak-ng", "en-029+m3")),
    ],
)
def test_a_person_is_the_same_in_every_engine(one: tuple[str, str], other: tuple[str, str]) -> None:
    assert person(*one) == person(*other)


def test_plain_accents_are_different_people() -> None:
    assert person("espeak-ng", "en-us") != person("espeak-ng", "en-gb-x-rp")


def test_every_engine_has_a_package_and_every_package_a_licence() -> None:
    carried = {(p.engine, role) for p in PACKAGES for role in p.roles}
    assert {(voice.engine, voice.role) for voice in REGISTRY} <= carried
    assert all(package.licence and package.version for package in PACKAGES)


def test_recordings_of_people_are_for_the_test_alone() -> None:
    assert [p.roles for p in PACKAGES if p.engine == "person"] == [("test",), ("test",)]
