"""From a language's grammar files to what the recogniser needs of them."""

from __future__ import annotations

from collections.abc import Iterable

from voicecheck.language import Language
from voicecheck.proofreading.pronouncing import guesses
from voicecheck.speech.lexicon import Lexicon


def lexicon_of(language: Language, words: Iterable[str] = ()) -> Lexicon:
    """What the recogniser must know of a language.

    words: those of a checklist; what no dictionary and no grammar file knows is guessed.
    """
    speech = language.speech
    return Lexicon(
        pronunciations={**speech.pronunciations, **guesses(words, language)},
        joiners=speech.joiners,
        swaps=speech.swaps,
        negations=speech.negations,
        chatter=speech.chatter,
    )
