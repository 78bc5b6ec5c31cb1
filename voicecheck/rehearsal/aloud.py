"""One session of a proof through sound, or through a sound card made of software."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.live import LiveLoop
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Cast, Terms, played
from voicecheck.rehearsal.sound import SoundLoop
from voicecheck.session.options import HearingOptions
from voicecheck.speech.opening import OpenedEar
from voicecheck.world.microphones import in_pink_noise
from voicecheck.world.voices import VOICES, Voices


def play_sound(
    loaded: Loaded,
    number: int,
    terms: Terms,
    ears: Sequence[OpenedEar],
    cache: Path,
    db: float | None,
) -> Outcome:
    """One session through synthesis, noise and listeners. ears: as many as the terms say."""

    def begun(cast: Cast) -> SoundLoop:
        channels = cast.crew.account.channels
        microphones = in_pink_noise(channels, db, terms.seed * 100_003 + number)
        return SoundLoop(loaded, cast.crew, ears[:channels], _voices(cast, cache), microphones)

    return replace(played(loaded, number, terms, begun, VoicecheckError), noise_db=db)


def play_live(
    loaded: Loaded, number: int, terms: Terms, hearing: HearingOptions, cache: Path
) -> Outcome:
    """One session in real time, through a sound card made of software."""

    def begun(cast: Cast) -> LiveLoop:
        return LiveLoop(loaded, cast.crew, hearing, _voices(cast, cache))

    return played(loaded, number, replace(terms, channels=1), begun, Exception)


def _voices(cast: Cast, cache: Path) -> Voices:
    cast.talkers = tuple(cast.chance.sample(VOICES, 2))
    return Voices(cast.talkers, cache)
