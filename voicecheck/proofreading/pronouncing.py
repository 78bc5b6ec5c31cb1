"""Where the sound of each word comes from: dictionary, grammar files, or a guess."""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.vocabulary import place_of, words
from voicecheck.errors import Place
from voicecheck.language import Language
from voicecheck.speech.letter_to_sound import letter_to_sound
from voicecheck.speech.sounds import packaged_pronunciations


class Origin(enum.StrEnum):
    """Who says how a word sounds, the surest first."""

    GRAMMAR = "grammar"
    """The language's speech.yaml."""
    DICTIONARY = "dictionary"
    """The dictionary in the PocketSphinx wheel."""
    GUESS = "guess"
    """eSpeak NG's letter-to-sound rules: nobody has checked it."""


@dataclass(frozen=True, slots=True)
class Sounds:
    """A word's pronunciations, each ARPAbet symbols with spaces between, and their origin.

    dictionary: whether the dictionary has the word too.
    """

    word: str
    ways: tuple[str, ...]
    origin: Origin
    dictionary: bool


def sounds_of(vocabulary: Iterable[str], language: Language) -> Mapping[str, Sounds]:
    """Word to sounds, sorted by word; a word that nobody can pronounce is left out."""
    found = {}
    for word in sorted(set(vocabulary)):
        sounds = _sounds(word, language)
        if sounds is not None:
            found[word] = sounds
    return found


def guesses(vocabulary: Iterable[str], language: Language) -> dict[str, tuple[str, ...]]:
    """The pronunciations that had to be guessed."""
    all_sounds = sounds_of(vocabulary, language)
    return {w: s.ways for w, s in all_sounds.items() if s.origin is Origin.GUESS}


def _sounds(word: str, language: Language) -> Sounds | None:
    listed = packaged_pronunciations().get(word, ())
    ways = tuple(" ".join(phones) for phones in listed)
    taught = language.speech.pronunciations.get(word)
    if taught:
        extra = tuple(way for way in ways if way not in taught)
        return Sounds(word, (*taught, *extra), Origin.GRAMMAR, bool(listed))
    if ways:
        return Sounds(word, ways, Origin.DICTIONARY, True)
    guess = _guess(word, language.name)
    return Sounds(word, (guess,), Origin.GUESS, False) if guess else None


def told_of(loaded: Loaded) -> Iterator[tuple[Place, str, str]]:
    """(place, severity, text) for each word of a checklist that the dictionary lacks."""
    language = loaded.language
    file = f"grammars/{language.name}/speech.yaml"
    for word, sounds in sounds_of(words(loaded.checklist), language).items():
        ways = " or ".join(sounds.ways)
        if sounds.origin is Origin.GUESS:
            text = (
                f"no dictionary has '{word}': taken to sound like {ways}, by the letter-to-sound "
                f"rules of eSpeak NG; if it is said otherwise, add it under 'pronunciations' "
                f"in {file}"
            )
            yield place_of(word, loaded.files), "warning", text
        elif not sounds.dictionary:
            text = f"the dictionary lacks '{word}': it sounds like {ways}, from {file}"
            yield place_of(word, loaded.files), "note", text


@lru_cache(maxsize=4096)
def _guess(word: str, language: str) -> str | None:
    guesser = letter_to_sound(language)
    return guesser(word) if guesser is not None else None
