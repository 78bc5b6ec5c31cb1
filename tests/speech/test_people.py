"""Real people, as an outside check: recordings of Debian's package pocketsphinx-testdata.

Cards called one after another, and sentences read from a novel: nobody there tests warnings.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from fleet import loaded

from voicecheck.audio.wav import WavSource
from voicecheck.callouts import Callout, Stakes
from voicecheck.measure.offered import states_of
from voicecheck.session.lexicon import lexicon_of
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
