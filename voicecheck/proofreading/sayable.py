"""Before a session starts: every word that may be said has a pronunciation."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.vocabulary import place_of, words
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.voice.spoken import spell
from voicecheck.yaml_source import read_yaml

Missing = Callable[[Iterable[str]], tuple[str, ...]]


def require_sayable(loaded: Loaded, missing: Missing) -> None:
    """Raise InputError at the first word that the listener, or our own voice, cannot say."""
    try:
        spell(loaded.checklist.registration, loaded.language.speech.spelling)
    except VoicecheckError as error:
        place = read_yaml(loaded.files[1]).place(("registration",))
        problem, _, remedy = str(error).partition("; ")
        raise InputError(place, problem, remedy) from None
    unknown = missing(words(loaded.checklist))
    if not unknown:
        return
    place = place_of(unknown[0], loaded.files)
    more = f" (and {len(unknown) - 1} more: {', '.join(unknown[1:6])})" if unknown[1:] else ""
    raise InputError(
        place,
        f"no pronunciation for '{unknown[0]}'{more}",
        f"add it under 'pronunciations' in grammars/{loaded.language.name}/speech.yaml, "
        "use another word, or install libespeak-ng1, whose rules guess English ones",
    )
