"""Real people, as an outside check: recordings in Debian packages.

pocketsphinx-testdata: cards called one after another, and sentences read from a novel.
asterisk-core-sounds-en-wav 1.6.1 (spoken by Allison Smith, CC-BY-SA 3.0): the spelling alphabet
and announcements of a telephone exchange, 8 kHz. Nobody there tests warnings.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from fleet import loaded

from voicecheck.audio.wav import WavSource
from voicecheck.callouts import Callout, Stakes
from voicecheck.measure.offered import states_of
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.session.places import cache_dir
from voicecheck.speech import open_ear
from voicecheck.speech.ear import Ear
from voicecheck.speech.opening import new_endpointer
from voicecheck.speech.verdict import Accepted, Unclear, Verdict

DATA = Path("/usr/share/pocketsphinx/test/data")
CARDS = {  # cards.transcription of the package, version 0.8+5prealpha+1-15
    "001": "ten of clubs",
    "002": "four queen of clubs",
    "003": "seven of clubs",
    "004": "five five",
    "005": "eight of spades four of clubs seven of hearts",
}
PROMPTS = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
# The code words of ICAO Annex 10, Volume II, 5.2.1.3 (spelling alphabet); edition from memory.
ALPHABET = (
    *("alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india"),
    *("juliett", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo"),
    *("sierra", "tango", "uniform", "victor", "whiskey", "xray", "yankee", "zulu"),
)
RANKS = ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "jack", "queen")
SUITS = ("clubs", "spades", "hearts", "diamonds")


@pytest.fixture(scope="module")
def ear(tmp_path_factory: pytest.TempPathFactory) -> Ear:
    lexicon = lexicon_of(loaded("ZZ-HAA").language)
    return open_ear(lexicon, cache=tmp_path_factory.mktemp("cache")).ear


def verdicts(ear: Ear, callouts: tuple[Callout, ...], recording: Path) -> list[Verdict]:
    fresh = ear.anew(new_endpointer())
    fresh.listen(callouts)
    heard: list[Verdict] = []
    for block in WavSource(recording).blocks():
        heard += fresh.feed(block.mixed)
    return heard + fresh.finish()


def test_people_who_say_something_else_are_never_acted_on(ear: Ear) -> None:
    states = states_of(loaded("ZZ-HAA").checklist)
    recordings = sorted([*(DATA / "cards").glob("*.wav"), *(DATA / "librivox").glob("*.wav")])
    assert len(recordings) == 10
    for number, recording in enumerate(recordings):
        state = states[number * 2]
        heard = verdicts(ear, state.callouts, recording)
        assert heard, recording
        assert not [v for v in heard if isinstance(v, Accepted)], (recording, state.name)


def test_people_who_call_what_is_on_offer_are_never_taken_for_another(ear: Ear) -> None:
    phrases = [f"{rank} of {suit}" for rank, suit in product(RANKS, SUITS)] + list(RANKS)
    callouts = tuple(Callout(p, (p,), Stakes.RECORDS_BAD, joins=True) for p in phrases)
    understood = 0
    for name, said in CARDS.items():
        heard = verdicts(ear, callouts, DATA / "cards" / f"{name}.wav")
        acted = [part.callout for v in heard if isinstance(v, Accepted) for part in v.spoken]
        rest = iter(said.split())
        assert all(word in rest for word in " ".join(acted).split()), (said, acted)
        guessed = [part.callout for v in heard if isinstance(v, Unclear) for part in v.guess]
        understood += " ".join(acted or guessed) == said
    assert understood >= 3


def test_a_person_who_spells_is_understood_or_asked() -> None:
    lexicon = lexicon_of(loaded("ZZ-HAA").language)
    taught = {"juliett": ("JH UW L IY EH T",), "xray": ("EH K S R EY",), "alfa": ("AE L F AH",)}
    lexicon = replace(lexicon, pronunciations={**lexicon.pronunciations, **taught})
    ear = open_ear(lexicon, cache=cache_dir()).ear
    callouts = tuple(Callout(word, (word,), Stakes.RECORDS_BAD) for word in ALPHABET)
    right = 0
    for word in ALPHABET:
        recording = PROMPTS / "phonetic" / f"{word[0]}_p.wav"
        acted = [
            s.callout
            for v in verdicts(ear, callouts, recording)
            if isinstance(v, Accepted)
            for s in v.spoken
        ]
        assert acted in ([], [word]), (word, acted)
        right += acted == [word]
    assert right >= 20


def test_announcements_are_never_acted_on(ear: Ear) -> None:
    states = states_of(loaded("ZZ-HAA").checklist)
    recordings = sorted(PROMPTS.glob("*.wav"))[::10]
    assert len(recordings) > 20
    for number, recording in enumerate(recordings):
        state = states[number % len(states)]
        heard = verdicts(ear, state.callouts, recording)
        assert not [v for v in heard if isinstance(v, Accepted)], (recording.name, state.name)
