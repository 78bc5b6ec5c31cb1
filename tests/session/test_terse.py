"""Terse wording: no prompt of any checklist is longer than four seconds, and nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from every_prompt import prompts
from fleet import loaded

from voicecheck.engine.effects import Say
from voicecheck.errors import InputError
from voicecheck.language import load_language
from voicecheck.session.places import cache_dir
from voicecheck.session.wording import LONGEST, Manner, word
from voicecheck.shipped import grammars_dir
from voicecheck.voice.speaker import Speaker

LANGUAGE = loaded("ZZ-HJC").language


@pytest.mark.parametrize("rate", [165, 130])
def test_no_terse_prompt_is_longer_than_four_seconds(rate: int) -> None:
    """Measured on the sound itself, after leaving out what is certainly short."""
    manner = Manner("terse", rate)
    pieces = {piece for say in prompts() for piece in word(say, LANGUAGE, manner).spoken}
    longest = sorted(pieces, key=len, reverse=True)[:40]
    speaker = Speaker(rate, cache_dir=cache_dir() / "prompts")
    try:
        for piece in longest:
            assert len(speaker.render(piece)) / 16_000 <= LONGEST, piece
    finally:
        speaker.close()


def test_the_screen_always_shows_the_full_wording() -> None:
    for say in prompts():
        full, terse = (word(say, LANGUAGE, Manner(kind)) for kind in ("full", "terse"))
        assert full.shown == terse.shown


def test_a_list_is_cut_with_the_number_of_what_is_left_out() -> None:
    names = ["captions", "fire", "gear", "stall", "windshield", "anti skid", "overspeed"]
    say = Say("missing", {"positions": ", ".join(names)})
    (spoken,) = word(say, LANGUAGE, Manner("terse", 165)).spoken
    kept = spoken.removeprefix("Not tested: ").split(", and ")[0].split(", ")
    assert kept == names[: len(kept)]
    assert spoken.endswith(f"and {LANGUAGE.number(len(names) - len(kept))} more.")


def test_what_cannot_be_cut_is_parted_and_whole() -> None:
    text = (
        "this is the horn of the other system: silence it first, wait until the pressure has "
        "fallen, and only then move the selector on to the next position"
    )
    pieces = word(Say("caution", {"text": text}), LANGUAGE, Manner("terse", 165)).spoken
    assert len(pieces) > 1
    assert " ".join(pieces) == f"Caution. {text}"
    assert all(piece.strip() == piece for piece in pieces)


def test_what_the_crew_is_asked_to_affirm_is_never_cut() -> None:
    claims = "battery powered up, avionics shut down, ground power powered up, inverter shut down"
    pieces = word(Say("confirm", {"claims": claims}), LANGUAGE, Manner("terse", 165)).spoken
    assert " ".join(pieces) == f"{claims}. Is that so?"


def test_slower_speech_gets_fewer_words() -> None:
    say = Say("missing", {"positions": "captions, fire, gear, stall, windshield"})
    lengths = [len(word(say, LANGUAGE, Manner("terse", rate)).spoken[0]) for rate in (100, 250)]
    assert lengths[0] < lengths[1]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('  hello: "Hello."', "no prompt 'hello'; remove it, or correct the name"),
        ('  ack: "{speed}."', "prompt 'ack': no slot 'speed'; the slots are: {words}"),
        ('  ack: "{words."', "prompt 'ack'"),
    ],
)
def test_a_wrong_terse_prompt_is_told_with_its_place(tmp_path: Path, line: str, told: str) -> None:
    for file in (grammars_dir() / "en").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    path = tmp_path / "prompts.yaml"
    path.write_text(path.read_text("utf-8") + line + "\n", "utf-8")
    number = len(path.read_text("utf-8").splitlines())
    with pytest.raises(InputError) as caught:
        load_language(tmp_path)
    assert told in str(caught.value)
    assert str(caught.value).startswith(f"{path}:{number}:")
