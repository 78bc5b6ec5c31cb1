"""record.yaml, report.yaml and page.yaml: what is wrong in them is told with line and remedy."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from toy import GRAMMAR

from voicecheck.caution import CAUTION
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.language import load_language
from voicecheck.shipped import grammars_dir
from voicecheck.words import PARTS, VARIABLE, chosen, english, read_words, say, slots_of, speaking


@pytest.mark.parametrize(
    ("part", "old", "new", "problem", "remedy"),
    [
        ("record", '  corrected: "', '  corected: "', "the text 'corrected' is missing",
         "add 'corrected: corrected by the crew'"),
        ("record", '  corrected: "', '  more: "x"\n  corrected: "', "no text 'more' is known",
         "remove it"),
        ("record", "{first}", "", "'needs-first' lacks the slot first", "its slots are: {first}"),
        ("record", "{first}", "{first} {last}", "invents the slot last", "its slots are: {first}"),
        ("record", "{first}", "{first!r}", "more than a name in the slot", "write {name}"),
        ("record", "{first}", "{first", "'needs-first': expected '}'", "write {name}"),
        ("report", '  airframe: "', '  airframe: " " # "', "'airframe' is empty",
         "write 'Airframe'"),
        ("page", "schema: 1", "schema: 2", "schema: must be 1", ""),
        ("page", "texts:", "words:", "'texts' is missing", "add"),
    ],
)  # fmt: skip
def test_a_file_of_words_that_would_fail(
    tmp_path: Path, part: str, old: str, new: str, problem: str, remedy: str
) -> None:
    shutil.copytree(GRAMMAR, tmp_path / "zul")
    path = tmp_path / "zul" / f"{part}.yaml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError) as caught:
        load_language(tmp_path / "zul")
    assert caught.value.place.file == str(path)
    assert caught.value.place.line is not None
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


@pytest.mark.parametrize("part", PARTS)
def test_a_missing_file_is_told_with_what_to_copy(tmp_path: Path, part: str) -> None:
    shutil.copytree(GRAMMAR, tmp_path / "zul")
    (tmp_path / "zul" / f"{part}.yaml").unlink()
    with pytest.raises(VoicecheckError, match=rf"{part}\.yaml: is missing; copy .*{part}\.yaml"):
        load_language(tmp_path / "zul")


def test_a_key_stands_in_one_file() -> None:
    words = english()
    assert not words.record.keys() & words.report.keys()
    assert not words.record.keys() & words.page.keys()
    assert not words.report.keys() & words.page.keys()


def test_the_english_caution_is_the_one_that_the_program_carries() -> None:
    assert english()("caution") == CAUTION


def test_the_language_of_the_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    toy = read_words(GRAMMAR)
    assert say("findings") == "Findings"
    with speaking(toy):
        assert say("findings") == toy.report["findings"] != "Findings"
    assert say("findings") == "Findings"
    monkeypatch.setenv(VARIABLE, str(GRAMMAR))
    assert chosen().report == toy.report
    monkeypatch.setenv(VARIABLE, "klingon")
    with pytest.raises(VoicecheckError, match="no such language; name one, or its folder"):
        chosen()


def test_every_language_has_the_texts_and_slots_of_english() -> None:
    toy, words = read_words(GRAMMAR), english()
    for part in PARTS:
        theirs, ours = getattr(toy, part), getattr(words, part)
        assert theirs.keys() == ours.keys()
        assert all(slots_of(theirs[key]) == slots_of(ours[key]) for key in ours)


def test_korean_has_what_a_language_needs() -> None:
    korean = load_language(Path(__file__).parents[1] / "korean" / "grammars" / "ko")
    assert korean.words.language == "ko"
    assert (grammars_dir() / "en").is_dir()
