"""A manifest is checked before anything is heard: file, line, problem, remedy."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from voicecheck.errors import InputError, VoicecheckError
from voicecheck.measure.manifest import read_manifest
from voicecheck.measure.trial import tasks_of

GOOD: dict[str, Any] = {
    "audio": "one.wav",
    "checklist": "tarn-40",
    "airframe": "ZZ-HAA",
    "state": "at gear",
    "said": "three green",
    "noise": "clean",
    "end_s": 1.5,
}


def manifest(folder: Path, *lines: str) -> Path:
    soundfile.write(folder / "one.wav", np.zeros(1600), 16000)
    path = folder / "manifest.jsonl"
    path.write_text("".join(line + "\n" for line in lines), encoding="utf-8")
    return path


def test_words_and_keys_both_name_a_callout(tmp_path: Path) -> None:
    rows = [
        GOOD,
        {**GOOD, "said": "gear.greens:3"},
        {**GOOD, "said": "three green and one red"},
        {**GOOD, "said": None, "end_s": None},
    ]
    path = manifest(tmp_path, *map(json.dumps, rows))
    tasks = tasks_of(path, read_manifest(path))
    assert [len(task.said) for task in tasks] == [1, 1, 2, 0]
    assert tasks[0].said == tasks[1].said == tasks[2].said[:1]
    assert tasks[1].reference == "three green"
    assert [task.line.of_kind for task in tasks] == ["callout"] * 3 + ["chatter"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"audio": "two.wav"}, "audio: no file two.wav"),
        ({"checklist": "tarn-41"}, "did you mean 'tarn-40'"),
        ({"airframe": "ZZ-HZZ"}, "ZZ-HZZ"),
        ({"state": "at lunch"}, "no state 'at lunch'; use one that"),
        ({"said": "five green"}, "'five green' is no callout of state 'at gear'"),
        ({"end_s": None}, "end_s: missing"),
        ({"end_s": -1}, "end_s: Input should be greater"),
        ({"end_s": float("nan")}, "end_s: Input should be"),
        ({"kind": "whisper"}, "kind: Input should be"),
        ({"volume": 3}, "volume: Extra inputs"),
    ],
)
def test_a_bad_line_is_named(tmp_path: Path, change: dict[str, Any], message: str) -> None:
    path = manifest(tmp_path, json.dumps(GOOD), "", json.dumps({**GOOD, **change}))
    with pytest.raises(InputError, match=message) as caught:
        tasks_of(path, read_manifest(path))
    assert str(caught.value).startswith(f"{path}:3: ")


@pytest.mark.parametrize(
    ("line", "message"),
    [("{", "not JSON"), ("[]", "valid dictionary"), ("[" * 200_000, "not JSON")],
)
def test_what_is_no_object_is_named(tmp_path: Path, line: str, message: str) -> None:
    path = manifest(tmp_path, line)
    with pytest.raises(InputError, match=message):
        read_manifest(path)


def test_no_manifest_and_an_empty_one(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="make-corpus"):
        read_manifest(tmp_path / "none.jsonl")
    with pytest.raises(InputError, match="no recording"):
        read_manifest(manifest(tmp_path, "", " "))
