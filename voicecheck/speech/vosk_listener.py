"""A grammar listener on any Vosk model folder the user has.

Vosk's native code ends the process on an empty or broken grammar, on a grammar change in
mid-utterance and on some broken models; everything is checked before it gets there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing, Word

RATE: Final = 16000
UNKNOWN: Final = "[unk]"


def model_fault(folder: Path) -> str | None:
    """What keeps this folder from being a run-time-grammar Vosk model, or None."""
    if not folder.is_dir():
        return "there is no such folder"
    acoustic = ("am/final.mdl", "final.mdl")
    features = ("conf/mfcc.conf", "mfcc.conf")
    graph = ("graph/HCLr.fst", "HCLr.fst")
    words = ("graph/Gr.fst", "Gr.fst")
    for names, what in (
        (acoustic, "acoustic model"),
        (features, "feature settings"),
        (graph, "look-ahead graph (only models with one can change grammar)"),
        (words, "look-ahead word graph"),
    ):
        if not any((folder / name).is_file() and (folder / name).stat().st_size for name in names):
            return f"it has no {what} ({names[0]})"
    return None


def grammar_json(phrases: Iterable[str]) -> str:
    """The grammar as Vosk wants it: a JSON list that is never empty. Raises ValueError."""
    listed = sorted({phrase for phrase in phrases if phrase.strip()})
    if not listed:
        raise ValueError("a grammar needs at least one phrase")
    return json.dumps(listed, ensure_ascii=False)


class VoskListener:
    """Vosk in the place of PocketSphinx: hears an utterance with and without decoys."""

    def __init__(self, folder: Path, lexicon: Lexicon) -> None:
        fault = model_fault(folder)
        if fault is not None:
            raise VoicecheckError(f"{folder}: not a usable Vosk model: {fault}; unpack it again")
        try:
            import vosk
        except (ImportError, OSError) as error:
            raise VoicecheckError(
                f"Vosk cannot be loaded ({error}); install vosk or use --listener pocketsphinx"
            ) from error
        vosk.SetLogLevel(-2)
        try:
            self._model: Any = vosk.Model(model_path=str(folder))
            self._recogniser: Any = vosk.KaldiRecognizer(self._model, RATE)
        except Exception as error:  # the package raises nothing more particular
            raise VoicecheckError(
                f"{folder}: Vosk cannot read this model; unpack it again"
            ) from error
        self._recogniser.SetWords(True)
        self._lexicon = lexicon
        self._name = f"vosk ({folder.name})"
        self._now: str | None = None
        self._rivals: str | None = None
        self._fed = 0.0
        """Seconds fed since opening: word times run on across Reset()."""

    @property
    def name(self) -> str:
        """As written to the journal."""
        return self._name

    def missing(self, words: Iterable[str]) -> tuple[str, ...]:
        """The words the model does not know."""
        find = self._model.vosk_model_find_word
        return tuple(word for word in sorted(set(words)) if find(word) < 0)

    def listen(self, grammar: Grammar) -> None:
        """Raises VoicecheckError for a word the model lacks: it would silently be dropped."""
        missing = self.missing(grammar.words)
        if missing:
            raise VoicecheckError(
                f"the Vosk model does not know {', '.join(missing)}; "
                "use --listener pocketsphinx or another wording in callouts.yaml"
            )
        decoys = decoys_of(grammar.phrases, grammar, self._lexicon)
        extra = [p for p in (*decoys, *self._lexicon.chatter) if not self.missing(p.split())]
        if not self.missing([UNKNOWN]):
            extra.append(UNKNOWN)
        phrases = [*grammar.phrases, *grammar.joiners]
        self._now = grammar_json(phrases)
        self._rivals = grammar_json([*phrases, *extra])

    def hear(self, samples: NDArray[np.int16]) -> Hearing:
        """Decode a whole utterance twice; words carry times from its first sample."""
        if self._now is None or self._rivals is None:
            raise RuntimeError("hear() before listen()")
        sound = samples.astype("<i2").tobytes()
        words = self._decode(self._now, sound)
        rival = self._decode(self._rivals, sound)
        return Hearing(words=words, rival=tuple(word.text for word in rival))

    def _decode(self, grammar: str, sound: bytes) -> tuple[Word, ...]:
        recogniser = self._recogniser
        recogniser.Reset()
        recogniser.SetGrammar(grammar)
        began = self._fed
        results = []
        for at in range(0, len(sound), 8000):
            if recogniser.AcceptWaveform(sound[at : at + 8000]):
                results.append(json.loads(recogniser.Result()))
        results.append(json.loads(recogniser.FinalResult()))
        self._fed = began + len(sound) / 2 / RATE
        return tuple(
            Word(word["word"], word["start"] - began, word["end"] - began)
            for result in results
            for word in result.get("result", ())
        )
