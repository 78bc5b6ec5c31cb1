"""Recordings of people from Debian's packages as trials: never trained or calibrated with.

    python -m voicecheck.training.people SEED FOLDER

writes FOLDER/trials.json and FOLDER/trials.npz. `asterisk-core-sounds-en-wav`: one professional
speaker over a telephone's band, words spliced to two-word callouts, and phrases as spoken.
`pocketsphinx-testdata`: readers of sentences; each must stand out among all of them.
"""

from __future__ import annotations

import json
import random
import re
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.errors import VoicecheckError
from voicecheck.training.trials import Place, Trial
from voicecheck.world.mixing import audible
from voicecheck.world.synthesis import LEVEL_DBFS, at_level

TELEPHONE: Final = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
READERS: Final = Path("/usr/share/pocketsphinx/test/data")
CALLOUTS: Final = 50
"""Spliced callouts, and as many near misses."""
_ALPHABET: Final = (
    *("alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india"),
    *("juliet", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo", "sierra"),
    *("tango", "uniform", "victor", "whiskey", "yankee", "zulu"),
)
_DIGITS: Final = ("one", "two", "three", "four", "five", "six")
_ORDINALS: Final = ("first", "second", "third", "fourth")
_NOUNS: Final = {
    **{word: f"phonetic/{word[0]}_p" for word in _ALPHABET},
    **{word: f"digits/{n}" for n, word in enumerate(_DIGITS, 1)},
    **{word: f"digits/h-{n}" for n, word in enumerate(_ORDINALS, 1)},
    **{word: word for word in ("location", "number", "extension", "time")},
}
_STATES: Final = {
    word: "de-activated" if word == "deactivated" else word
    for word in ("activated", "deactivated", "enabled", "disabled", "cancelled", "removed", "added")
}
WHOLE: Final = (
    *("please try again", "do not disturb", "call forwarding", "call waiting", "is set to"),
    *("is in use", "one moment please", "you entered", "speed dial", "telephone number"),
    *("from unknown caller", "to call this number", "to listen to it", "hello world", "calling"),
    *("goodbye", "seconds"),
)
"""Phrases that are one recording; the words are the name of its file, where the file holds no more
(transfer.wav and invalid.wav are whole sentences)."""
_GAP: Final = 0.06


def _read(path: Path) -> NDArray[np.int16]:
    try:
        samples, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise VoicecheckError(
            f"{path}: cannot be read ({error}); apt-get install asterisk-core-sounds-en-wav "
            "pocketsphinx-testdata"
        ) from error
    mono = soxr.resample(samples[:, 0], rate, RATE)
    return at_level(audible(np.asarray(np.clip(mono, -1, 1) * 32767, np.int16)), LEVEL_DBFS)


def _spliced(text: str) -> NDArray[np.int16]:
    noun, state = text.split()
    gap = np.zeros(int(_GAP * RATE), np.int16)
    return np.concatenate(
        [
            _read(TELEPHONE / f"{_NOUNS[noun]}.wav"),
            gap,
            _read(TELEPHONE / f"{_STATES[state]}.wav"),
        ]
    )


class Gallery:
    """Trials, their places and sounds."""

    def __init__(self, seed: int) -> None:
        self._choose = random.Random(seed)
        self.places: list[Place] = []
        self.trials: list[Trial] = []
        self.sounds: dict[str, NDArray[np.int16]] = {}

    def add(self, voice: str, place: Place, text: str, said: str | None, sound: NDArray[np.int16]):  # type: ignore[no-untyped-def]
        """One more."""
        self.places.append(place)
        kind = "callout" if said else "near_miss"
        at = len(self.places) - 1
        self.sounds[str(len(self.trials))] = sound
        self.trials.append(Trial("person", voice, 1.0, at, text, said, kind))

    def telephone(self) -> None:
        """Spliced callouts among 18 alike, as many near misses, and whole phrases."""
        for number in range(2 * CALLOUTS):
            nouns = self._choose.sample(sorted(_NOUNS), 8)
            states = self._choose.sample(sorted(_STATES), 5)
            phrases = [f"{noun} {state}" for noun in nouns[:6] for state in states[:3]]
            place = Place("short", {phrase: phrase for phrase in phrases}, ())
            text = self._choose.choice(phrases)
            if number % 2 == 0:
                self.add("telephone, spliced", place, text, text, _spliced(text))
                continue
            noun, state = text.split()
            other = self._choose.choice(
                (f"{self._choose.choice(nouns[6:])} {state}", f"{noun} {states[3]}")
            )
            self.add("telephone, spliced", place, other, None, _spliced(other))
        for text in WHOLE:
            place = Place("state", {phrase: phrase for phrase in WHOLE}, ())
            path = TELEPHONE / f"{text.replace(' ', '-')}.wav"
            self.add("telephone, whole", place, text, text, _read(path))

    def readers(self) -> None:
        """Each sentence among all sentences."""
        found: list[tuple[str, NDArray[np.int16]]] = []
        for folder, listed in (("cards", "cards.transcription"), ("librivox", "transcription")):
            lines = (READERS / folder / listed).read_text(encoding="utf-8").splitlines()
            for line in lines:
                match = re.fullmatch(r"<s> (.*?)\s*</s> \((.*)\)", line.strip())
                if match:
                    text = " ".join(re.findall(r"[a-z']+", match[1].lower()))
                    found.append((text, _read(READERS / folder / f"{match[2]}.wav")))
        raw = np.fromfile(READERS / "goforward.raw", np.int16)
        found.append(("go forward ten meters", at_level(audible(raw), LEVEL_DBFS)))
        place = Place("state", {text: text for text, _ in found}, ())
        for text, sound in found:
            self.add("readers", place, text, text, sound)


def main(seed: str, folder: str) -> None:
    """Write the trials and their sounds."""
    gallery = Gallery(int(seed))
    gallery.telephone()
    gallery.readers()
    told = {
        "places": [asdict(place) for place in gallery.places],
        "trials": [asdict(trial) for trial in gallery.trials],
    }
    Path(folder, "trials.json").write_text(json.dumps(told), encoding="utf-8")
    np.savez_compressed(Path(folder, "trials.npz"), **gallery.sounds)  # type: ignore[arg-type]
    print(len(gallery.trials), "trials")


if __name__ == "__main__":
    main(*sys.argv[1:])
