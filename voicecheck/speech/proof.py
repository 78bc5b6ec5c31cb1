"""Putting a hearing to the proof: would any other word have fitted as well?

A grammar has few words, so the nearest of them is taken for whatever was said. Here each word
of what was heard competes with a sample of the whole language, at its own place and between
any two: "coffee complete" for "test complete", "abandon pump test" for "abandon test". What
was really said wins; a neighbour of it hardly ever does.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from functools import lru_cache
from typing import Final

from voicecheck.speech.sounds import packaged_dictionary

SAMPLE: Final = 150
"""Words that compete at each place: more prove more and take longer."""
PHONES: Final = range(3, 7)
"""Phones of a competing word: shorter ones fit anywhere, longer ones nowhere."""
LONGEST: Final = 8
"""Words of a hearing that can be put to the proof in reasonable time."""


@lru_cache(maxsize=1)
def competitors() -> tuple[str, ...]:
    """A fixed sample of the dictionary in the PocketSphinx wheel, spread by checksum."""
    return sample(packaged_dictionary())


def sample(sounds: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """SAMPLE words of usual length, the same ones on every machine."""
    usual = (word for word, phones in sounds.items() if word.isalpha() and len(phones) in PHONES)
    return tuple(sorted(usual, key=lambda word: (zlib.crc32(word.encode()), word))[:SAMPLE])


def proof_grammar(words: tuple[str, ...], others: tuple[str, ...]) -> str:
    """JSGF 1.0: the words themselves, or with one of them exchanged, or with one more."""
    choices = [" ".join(words)]
    for at in range(len(words) + 1):
        choices.append(" ".join([*words[:at], "<other>", *words[at:]]))
        if at < len(words):
            choices.append(" ".join([*words[:at], "<other>", *words[at + 1 :]]))
    return (
        f"#JSGF V1.0;\ngrammar proof;\n<other> = {' | '.join(others)};\n"
        f"public <utterance> = {' | '.join(choices)};\n"
    )
