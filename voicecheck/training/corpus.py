"""A corpus as `voicecheck measure make-corpus` makes it, by voices of neural engines too.

    python -m voicecheck.training.corpus PART SEED KIT PIPER FOLDER [EACH]

PART is calibration or test: the voices with that role in `voices.py`. KIT is the folder that `kit`
fills, PIPER the Piper voice's model. EACH: sentences by each voice, 1 unless given. FOLDER gets the
recordings and a manifest, which `voicecheck measure` reads.
"""

from __future__ import annotations

import sys
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.checklist.loader import load_checklist
from voicecheck.errors import VoicecheckError
from voicecheck.measure.make_corpus import Plan, Size, Speaker, make_part, write_manifest
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.training import neural
from voicecheck.training.espeak import Espeak
from voicecheck.training.mnemonics import letters, units
from voicecheck.training.trial_speech import levelled
from voicecheck.training.voices import CALIBRATE, TEST, Voice
from voicecheck.world.synthesis import Talker

AIRFRAMES: Final = (
    *(("tarn-40", name) for name in ("ZZ-HAA", "ZZ-HAC")),
    *(("skerry-j2", name) for name in ("ZZ-HJA", "ZZ-HJD")),
)
SIZE: Final = Size(
    {"callout": 8, "near_miss": 5, "opposite": 5, "chatter": 2, "other_state": 2},
    ("clean", "10 dB", "5 dB"),
    good={"callout": 5, "near_miss": 7, "opposite": 3},
)
"""Sentences by each voice."""
TIMES: Final = {"kokoro": 2, "piper": 4, "flite": 1, "festival": 1, "espeak-ng": 1}
"""So many times as much by a voice of these engines: of the neural ones there are few."""


@dataclass(frozen=True, slots=True)
class Neural:
    """A voice of Kokoro or Piper that can be asked for a sentence."""

    engine: str
    voice: str
    kokoro: neural.Kokoro
    piper: neural.Piper
    espeak: Espeak

    def say(self, text: str) -> NDArray[np.int16]:
        """16 kHz without silence at its ends. Raises VoicecheckError for an unsayable text."""
        if self.engine == "piper":
            sound, rate = self.piper.say(text), self.piper.rate
        else:
            sound, rate = self._styled(text), neural.RATE
        spoken = soxr.resample(sound, rate, RATE)
        return levelled(np.asarray(np.clip(spoken, -1, 1) * 32767, np.int16))

    def _styled(self, text: str) -> NDArray[np.float32]:
        british = self.voice.startswith("b")
        self.espeak.speak_as("en" if british else "en-us")
        said = units(self.espeak.phonemes(text))
        if said is None:
            raise VoicecheckError(f"{self.voice} has no letters for {text!r}; leave it out")
        chance = np.random.default_rng(zlib.crc32(f"{self.voice} {text}".encode()))
        written = letters(said, british=british)
        return self.kokoro.say(written, [(self.voice, 1.0)], 1.0, chance)


def speakers(voices: tuple[Voice, ...], kit: Path, piper: Path) -> Iterator[tuple[Speaker, int]]:
    """Each voice of these and how many times as much it says."""
    espeak = Espeak(kit / "espeak")
    kokoro = neural.Kokoro(kit / "kokoro.onnx", kit / "vocabulary.json", kit / "styles.npz")
    joe = neural.Piper(piper, espeak)
    for voice in voices:
        if voice.engine in ("kokoro", "piper"):
            yield Neural(voice.engine, voice.name, kokoro, joe, espeak), TIMES[voice.engine]
        else:
            talker = Talker(voice.engine, voice.name, voice.pace)  # type: ignore[arg-type]
            yield talker, TIMES[voice.engine]


def main(part: str, seed: str, kit: str, piper: str, folder: str, each: str = "1") -> None:
    """Write the recordings and the manifest."""
    if part not in ("calibration", "test"):
        raise VoicecheckError(f"{part}: choose calibration or test")
    voices = CALIBRATE if part == "calibration" else TEST
    airframes = {
        named: load_checklist(*named, shipped=checklists_dir(), grammars=grammars_dir())
        for named in AIRFRAMES
    }
    lines = []
    for speaker, times in speakers(voices, Path(kit), Path(piper)):
        counts, good = (
            {kind: max(1, round(n * times * float(each))) for kind, n in of.items()}
            for of in (SIZE.sentences, SIZE.good)
        )
        size = Size(counts, SIZE.levels, good=good)
        plan = Plan(part, (speaker,), airframes, size, int(seed))  # type: ignore[arg-type]
        lines += make_part(plan, Path(folder), print)
    print(write_manifest(lines, Path(folder)), len(lines), "recordings")


if __name__ == "__main__":
    main(*sys.argv[1:])
