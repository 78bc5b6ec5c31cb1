"""Opening a session's ears for one language."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from voicecheck.language import Language
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.proofreading.pronouncing import guesses
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import OpenedEar, open_ear
from voicecheck.words import say


def open_hearing(
    language: Language, options: HearingOptions, cache: Path, words: Iterable[str] = ()
) -> OpenedEar:
    """The listeners. Raises VoicecheckError for a missing or broken model.

    words: all that can be said, so that the unknown among them get a guessed sound.
    """
    opened = open_ear(
        lexicon_of(language, words),
        listener=options.listener,
        model=options.model,
        second=options.second,
        cache=cache,
        threads=options.threads,
        phones=options.own,
    )
    guessed = guesses(words, language) if options.listener == "pocketsphinx" else {}
    notices = tuple(say("notice-guessed", word=word, how=ways[0]) for word, ways in guessed.items())
    return replace(opened, notices=(*opened.notices, *notices))
