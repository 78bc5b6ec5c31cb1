"""Lists of what is said by which voice: everything the synthesis needs, and the labels.

    python -m voicecheck.training.jobs ESPEAK FOLDER SEED

ESPEAK: the folder of the package espeakng_loader; FOLDER: gets one list for each engine, each line
a JSON job (see synthesis). Needs what `voicecheck[second-listener]` installs.
"""

from __future__ import annotations

import gzip
import json
import random
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from voicecheck.speech.ctc import NUMBERS
from voicecheck.training import words
from voicecheck.training.espeak import Espeak
from voicecheck.training.labels import label, word_by_word
from voicecheck.training.mnemonics import Unit, bracketed, by_word, letters, phones_of, units
from voicecheck.training.near_misses import altered, speakable
from voicecheck.training.texts import LONGEST, Texts
from voicecheck.training.voices import ACCENTS, FOREIGN, KOKORO, VARIANTS
from voicecheck.training.ways_to_speak import with_an_accent

COUNTS: Final = {"espeak": 48_000, "hibari": 12_000, "kokoro": 60_000}
ALTERED: Final = 0.14
"""Share of utterances with phonemes that make no text."""
ACCENTED: Final = 0.35
"""Share of Kokoro's utterances in an accent of some kind."""
PROSE: Final = ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/*.md")
_LICENCES: Final = ("GPL-3", "Artistic", "Apache-2.0", "LGPL-3", "MPL-2.0")
_FOLDERS: Final = (Path("/usr/share/common-licenses"),)


class Speech:
    """Phonemes and labels of texts."""

    def __init__(self, espeak: Espeak) -> None:
        self._espeak = espeak
        self._own = lru_cache(maxsize=50_000)(self._alone)

    def _alone(self, accent: str, word: str) -> tuple[str, ...]:
        return phones_of(units(self._espeak.phonemes(word)) or ())

    def of(self, text: str, accent: str) -> tuple[tuple[Unit, ...], tuple[str, ...]] | None:
        """Units and label; None where the two do not fit or are too long."""
        self._espeak.speak_as(accent)
        said = units(self._espeak.phonemes(text))
        if not said:
            return None
        alone = [phones_of(unit) for unit in by_word(said)]

        def own(word: str) -> tuple[str, ...]:
            return self._own(accent, word)

        if len(alone) == len(text.split()):
            found = word_by_word(text, alone, words.ways, own)
        else:  # some words were said as one
            found = label(text, phones_of(said), words.ways, own)
        return (said, found) if found and len(found) <= LONGEST else None


def numbers(phones: tuple[str, ...]) -> list[int]:
    """Outputs of the listener."""
    return [NUMBERS[phone] for phone in phones]


def espeak_jobs(texts: Texts, speech: Speech, choose: random.Random) -> Iterator[dict[str, Any]]:
    """Jobs for eSpeak NG: text or bracketed mnemonics, voice, pace, pitch, span."""
    while True:
        text, kind = texts.draw()
        accent = choose.choice(ACCENTS)
        found = speech.of(text, accent)
        if found is None:
            continue
        said, phones = found
        spoken = text
        if accent == "en-us" and choose.random() < 3 * ALTERED:
            said = altered(said, choose)
            if not speakable(said):
                continue
            spoken, phones, kind = bracketed(said), phones_of(said), "cut"
        yield {
            "say": spoken,
            "label": numbers(phones),
            "voice": f"{accent}+{choose.choice(VARIANTS)}",
            "pace": choose.randint(120, 225),
            "pitch": choose.choice((None, choose.randint(20, 80))),
            "span": choose.choice((None, choose.randint(15, 85))),
            "kind": kind,
        }


def neural_jobs(
    engine: str, texts: Texts, speech: Speech, choose: random.Random
) -> Iterator[dict[str, Any]]:
    """Jobs for Kokoro and its kin: letters, a blend of styles, speed."""
    while True:
        text, kind = texts.draw()
        accented = engine == "kokoro" and choose.random() < ACCENTED
        blend = _blend(choose, accented) if engine == "kokoro" else [("heart", 1.0)]
        british = blend[0][0].startswith("b")
        found = speech.of(text, "en" if british else "en-us")
        if found is None:
            continue
        said, phones = found
        if not british and choose.random() < ALTERED:
            said = altered(said, choose)
            if not speakable(said):
                continue
            phones, kind = phones_of(said), "cut"
        spoken = letters(said, british=british)
        if accented:
            spoken = with_an_accent(spoken, choose)
        yield {
            "say": spoken + choose.choice(("", "", ".", ",")),
            "label": numbers(phones),
            "blend": blend,
            "speed": round(choose.uniform(0.75, 1.45), 2),
            "kind": kind,
        }


def _blend(choose: random.Random, accented: bool) -> list[tuple[str, float]]:
    kind = choose.random()
    if accented and kind < 0.4:  # a style of another language by itself
        return [(choose.choice(FOREIGN), 1.0)]
    if kind < 0.35:
        return [(choose.choice(KOKORO), 1.0)]
    weight = round(choose.uniform(0.3, 0.7), 2)
    if kind < 0.8:
        one, other = choose.sample(KOKORO, 2)
        return [(one, weight), (other, round(1 - weight, 2))]
    main = round(choose.uniform(0.45, 0.8), 2)
    return [(choose.choice(KOKORO), main), (choose.choice(FOREIGN), round(1 - main, 2))]


def clauses(root: Path) -> list[tuple[str, ...]]:
    """Prose of the repository, of licences and of Python's own modules."""
    files = [file for pattern in PROSE for file in sorted(root.glob(pattern))]
    files += [folder / name for folder in _FOLDERS for name in _LICENCES]
    library = Path(json.__file__).parent.parent
    files += sorted(library.glob("*.py")) + sorted(library.glob("*/*.py"))[:300]
    return list(words.prose([file for file in files if file.is_file()]))


def main(espeak_folder: str, folder: str, seed: str) -> None:
    """Write the lists."""
    speech = Speech(Espeak(Path(espeak_folder)))
    sentences = clauses(Path(__file__).resolve().parents[2])
    print(f"{len(sentences)} clauses of prose, {len(words.callouts()[0])} shipped wordings")
    for at, (engine, count) in enumerate(COUNTS.items()):
        texts = Texts(int(seed) + at, sentences)
        choose = random.Random(int(seed) + 100 + at)
        made = (
            espeak_jobs(texts, speech, choose)
            if engine == "espeak"
            else neural_jobs(engine, texts, speech, choose)
        )
        with gzip.open(Path(folder) / f"{engine}.jsonl.gz", "wt", encoding="utf-8") as file:
            for _, job in zip(range(count), made, strict=False):
                file.write(json.dumps(job, ensure_ascii=False, separators=(",", ":")) + "\n")
        print(engine, count)


if __name__ == "__main__":
    main(*sys.argv[1:])
