"""docs/licences.md lists what is installed, and nothing in it speaks against our licence."""

from __future__ import annotations

import re
from email.message import Message
from importlib import metadata
from pathlib import Path

import pytest

from licence_page import Package, installed, licence_of, page, unknown, write
from voicecheck.errors import VoicecheckError

ROOT = Path(__file__).resolve().parents[2]


def test_the_page_is_current() -> None:
    told = (ROOT / "docs" / "licences.md").read_text(encoding="utf-8")
    assert told == page(), "out of date; run: make docs"


def test_no_licence_is_of_another_kind() -> None:
    assert unknown(installed()) == []


def test_a_strong_copyleft_licence_is_noticed() -> None:
    strange = [Package("a", "GPL-3.0-only"), Package("b", "MIT AND AGPL-3.0"), Package("c", "MIT")]
    assert [one.name for one in unknown(strange)] == ["a", "b"]


def test_every_direct_dependency_is_there() -> None:
    names = {one.name for one in installed()}
    for line in metadata.requires("voicecheck") or ():
        name = re.split(r"[^\w.-]", line, maxsplit=1)[0].lower()
        assert name in names


@pytest.mark.parametrize(
    ("fields", "licence"),
    [
        ({"License-Expression": "MIT OR Apache-2.0"}, "MIT OR Apache-2.0"),
        ({"License": "BSD 3-Clause License"}, "BSD-3-Clause"),
        ({"License": "Copyright\nall the text"}, "not told"),
        ({"License": "UNKNOWN", "Classifier": "License :: OSI Approved :: MIT License"}, "MIT"),
        ({}, "not told"),
    ],
)
def test_a_licence_is_read(fields: dict[str, str], licence: str) -> None:
    about = Message()
    for name, value in fields.items():
        about[name] = value
    assert licence_of(about) == licence  # type: ignore[arg-type]


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="cannot be written"):
        write(tmp_path / "none" / "licences.md")
