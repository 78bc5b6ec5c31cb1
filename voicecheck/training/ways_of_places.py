"""The phones of everything that may be said in the trials' places.

    python -m voicecheck.training.ways_of_places FOLDER...

writes FOLDER/ways.json: for each text its pronunciations as outputs of the listener. With it `hear`
needs no dictionary, so that it runs beside the accelerator too.
"""

from __future__ import annotations

import itertools
import json
import sys
from pathlib import Path
from typing import Final

from voicecheck.language import load_language
from voicecheck.proofreading.pronouncing import guesses
from voicecheck.shipped import grammars_dir
from voicecheck.speech.accents import run_together
from voicecheck.speech.ctc import NUMBERS, Way
from voicecheck.training import words

MOST: Final = 8
"""Ways to say one text that are tried."""
_REDUCED: Final = {
    "and": ("AH N D", "AE N D", "AH N", "N"),
    "to": ("T AH", "T UW"),
    "of": ("AH V",),
}


def ways_of(text: str) -> tuple[Way, ...]:
    """Pronunciations of a text: each word's by the dictionary, guessed where it has none."""
    options = []
    for word in text.lower().split():
        found = _ways_of_word(word)
        if not found:
            return ()
        options.append(found[:3])
    joined = itertools.islice(itertools.product(*options), MOST)
    spelled = [tuple(NUMBERS[p] for way in ways for p in way) for ways in joined]
    return tuple(dict.fromkeys(way for one in spelled for way in run_together(one)))


def _ways_of_word(word: str) -> list[tuple[str, ...]]:
    found = [tuple(way.split()) for way in _REDUCED.get(word, ())]
    found += [way for way in words.ways(word) if way not in found]
    if not found:
        language = load_language(grammars_dir() / "en")
        found = [tuple(way.split()) for way in guesses([word], language).get(word, ())]
    return found


def main(*folders: str) -> None:
    """Write the file of each folder."""
    for folder in folders:
        told = json.loads(Path(folder, "trials.json").read_text(encoding="utf-8"))
        texts = {text for place in told["places"] for text in (*place["phrases"], *place["decoys"])}
        texts |= {trial["text"] for trial in told["trials"]}
        found = {text: ways_of(text) for text in sorted(texts)}
        Path(folder, "ways.json").write_text(json.dumps(found), encoding="utf-8")
        unknown = [text for text, ways in found.items() if not ways]
        print(folder, len(found), "texts; without a pronunciation:", unknown[:10])


if __name__ == "__main__":
    main(*sys.argv[1:])
