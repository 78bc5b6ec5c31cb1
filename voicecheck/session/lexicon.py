"""From a language's grammar files to what the recogniser needs of them."""

from __future__ import annotations

from voicecheck.language import Language
from voicecheck.speech.lexicon import Lexicon


def lexicon_of(language: Language) -> Lexicon:
    """What the recogniser must know of a language."""
    speech = language.speech
    return Lexicon(
        pronunciations=speech.pronunciations,
        joiners=speech.joiners,
        swaps=speech.swaps,
        negations=speech.negations,
        chatter=speech.chatter,
    )
