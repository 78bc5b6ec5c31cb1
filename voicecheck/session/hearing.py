"""Opening a session's ears for one language."""

from __future__ import annotations

from pathlib import Path

from voicecheck.language import Language
from voicecheck.session.lexicon import lexicon_of
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import OpenedEar, open_ear


def open_hearing(language: Language, options: HearingOptions, cache: Path) -> OpenedEar:
    """The listeners. Raises VoicecheckError for a missing or broken model."""
    return open_ear(
        lexicon_of(language),
        listener=options.listener,
        model=options.model,
        second=options.second,
        cache=cache,
        threads=options.threads,
    )
