"""What the voices kept from training say, and among which phrases it must be heard.

    python -m voicecheck.training.trials ROLE SEED ESPEAK FOLDER

writes FOLDER/trials.json, and FOLDER/kokoro-trials.jsonl.gz for the voices that `synthesis` speaks.
Three kinds of place: a state of a shipped checklist, 18 short callouts that are alike, and 18
callouts of an invented checklist with words that were never trained.
"""

from __future__ import annotations

import gzip
import json
import random
import re
import sys
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal

from voicecheck.checklist.loader import load_checklist
from voicecheck.language import load_language
from voicecheck.measure import sentences
from voicecheck.measure.offered import State, states_of
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.training import words
from voicecheck.training.espeak import Espeak
from voicecheck.training.mnemonics import letters, units
from voicecheck.training.near_misses import near_miss
from voicecheck.training.voices import ALONE, CALIBRATE, TEST, Voice

Setting = Literal["state", "short", "invented"]
ALIKE: Final = 18
"""Callouts of a short or invented place."""
SAYINGS: Final[dict[Setting, dict[str, int]]] = {
    "state": {"callout": 10, "near_miss": 8, "opposite": 5, "chatter": 2, "other_state": 2},
    "short": {"callout": 6, "near_miss": 3},
    "invented": {"callout": 6, "near_miss": 2},
}
"""Sentences of each kind by one voice."""
_TIMES: Final = {"piper": 4, "kokoro": 2}
_NOUNS: Final = ("horn", "bell", "tone", "light", "lamp", "fire", "gear", "stall", "flaps", "door")
_STATES: Final = ("on", "off", "out", "lit", "dead", "dark", "open", "closed", "set", "low")


@dataclass(frozen=True, slots=True)
class Place:
    """phrases: wording -> what it means; decoys: wordings that must not be acted on."""

    setting: Setting
    phrases: dict[str, str]
    decoys: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Trial:
    """said: what the text means in its place, or None; kind: as in measure.sentences."""

    engine: str
    voice: str
    pace: float
    place: int
    text: str
    said: str | None
    kind: str


@lru_cache(maxsize=8)
def _states(checklist: str, airframe: str) -> tuple[State, ...]:
    loaded = load_checklist(checklist, airframe, shipped=checklists_dir(), grammars=grammars_dir())
    return states_of(loaded.checklist)


class Maker:
    """Draws places and what is said there."""

    def __init__(self, seed: int) -> None:
        self._choose = random.Random(seed)
        self._lexicon: Lexicon = lexicon_of(load_language(grammars_dir() / "en"))
        self.places: list[Place] = []

    def _kept(self, place: Place) -> int:
        self.places.append(place)
        return len(self.places) - 1

    def trials(self, voice: Voice) -> Iterator[Trial]:
        """All sentences of one voice."""
        for setting, kinds in SAYINGS.items():
            for kind, many in kinds.items():
                for _ in range(many * _TIMES.get(voice.engine, 1)):
                    place, text, said = self._one(setting, kind)
                    yield Trial(voice.engine, voice.name, voice.pace, place, text, said, kind)

    def _one(self, setting: Setting, kind: str) -> tuple[int, str, str | None]:
        while True:
            made = self._in_state(kind) if setting == "state" else self._alike(setting, kind)
            if made is not None:
                place, text, said = made
                return self._kept(place), text, said

    def _in_state(self, kind: str) -> tuple[Place, str, str | None] | None:
        choose = self._choose
        states = _states(*choose.choice(words.AIRFRAMES))
        state = choose.choice(states)
        grammar = Grammar(state.callouts, self._lexicon.joiners)
        phrases = {phrase: callout.key for phrase, callout in grammar.phrases.items()}
        sentence: sentences.Sentence | None
        match kind:
            case "callout":
                sentence = sentences.callout(state, grammar, state.callouts, choose)
            case "near_miss":
                sentence = sentences.near_miss(grammar, self._lexicon, state.callouts, choose)
            case "opposite":
                found = sentences.opposites(grammar, self._lexicon, state.callouts)
                if not found:
                    return None
                sentence = sentences.opposite(found, grammar, choose)
            case "chatter":
                sentence = sentences.chatter(choose)
            case _:
                sentence = sentences.other_state(state, states, grammar, choose)
        if sentence is None or (sentence.said and sentence.said not in phrases):
            return None  # two callouts in one breath: not measured here
        said = phrases[sentence.said] if sentence.said else None
        decoys = decoys_of(grammar.phrases, grammar, self._lexicon)
        return Place("state", phrases, decoys), sentence.text, said

    def _alike(self, setting: Setting, kind: str) -> tuple[Place, str, str | None] | None:
        phrases = self._short() if setting == "short" else self._invented()
        place = Place(setting, {phrase: phrase for phrase in phrases}, ())
        text = self._choose.choice(phrases)
        if kind == "callout":
            return place, text, text
        near = near_miss(text, self._choose)
        return (place, near, None) if near and near not in phrases else None

    def _short(self) -> list[str]:
        nouns = self._choose.sample(_NOUNS, 6)
        states = self._choose.sample(_STATES, 3)
        return [f"{noun} {state}" for noun in nouns for state in states]

    def _invented(self) -> list[str]:
        found: dict[str, None] = {}
        held = sorted(words.HELD)
        while len(found) < ALIKE:
            name = self._choose.choice(held)
            if self._choose.random() < 0.5:
                name = f"{self._choose.choice((*held, *words.TRADE))} {name}"
            pattern = self._choose.choice(words.templates())
            found[re.sub(r"\{\w+\}", name, pattern)] = None
        return list(found)


def main(role: str, seed: str, espeak_folder: str, folder: str) -> None:
    """Write the trials of the voices that calibrate or test ("test" and "alone" together)."""
    maker = Maker(int(seed))
    voices = CALIBRATE if role == "calibrate" else (*TEST, *ALONE)
    trials = [trial for voice in voices for trial in maker.trials(voice)]
    target = Path(folder)
    told = {"places": [asdict(p) for p in maker.places], "trials": [asdict(t) for t in trials]}
    (target / "trials.json").write_text(json.dumps(told), encoding="utf-8")
    espeak = Espeak(Path(espeak_folder))
    with gzip.open(target / "kokoro-trials.jsonl.gz", "wt", encoding="utf-8") as file:
        for number, trial in enumerate(trials):
            if trial.engine != "kokoro":
                continue
            british = trial.voice.startswith("b")
            espeak.speak_as("en" if british else "en-us")
            said = units(espeak.phonemes(trial.text)) or ()
            job = {
                "say": letters(said, british=british),
                "label": [],
                "blend": [[trial.voice, 1.0]],
                "speed": 1.0,
                "kind": trial.kind,
                "id": number,
            }
            file.write(json.dumps(job, ensure_ascii=False) + "\n")
    print(role, len(trials), "sentences by", len(voices), "voices")


if __name__ == "__main__":
    main(*sys.argv[1:])
