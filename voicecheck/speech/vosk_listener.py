"""A grammar listener on any Vosk model folder the user has.

Vosk's native code ends its process on an empty or broken grammar, on a grammar change in
mid-utterance and on some broken models. Each is kept from it (vosk_model looks at the folder,
grammar_json makes the grammar, vosk_child makes a recogniser for each), and should it end all
the same, that is a child process, which is started again and given the utterance once more.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing, Word
from voicecheck.speech.vosk_model import find_model, model_fault
from voicecheck.speech.vosk_process import VoskProcess, VoskStopped

UNKNOWN: Final = "[unk]"
TRIES: Final = 2
"""How often an utterance is given to a child before it counts as not understood."""


def grammar_json(phrases: Iterable[str]) -> str:
    """The grammar as Vosk wants it: a JSON list that is never empty. Raises ValueError."""
    listed = sorted({phrase for phrase in phrases if phrase.strip()})
    if not listed:
        raise ValueError("a grammar needs at least one phrase")
    return json.dumps(listed, ensure_ascii=False)


class VoskListener:
    """Vosk in the place of PocketSphinx: hears an utterance with and without decoys.

    It listens while the utterance is still being said (follow), so that hear() has little left
    to do. model: a folder, or the name of one in the usual places.
    """

    def __init__(self, model: Path, lexicon: Lexicon) -> None:
        folder = find_model(model)
        fault = model_fault(folder)
        if fault is not None:
            raise VoicecheckError(f"{folder}: not a usable Vosk model: {fault}; unpack it again")
        self._process = VoskProcess(folder.resolve())
        self._lexicon = lexicon
        self._name = f"vosk ({folder.name})"
        self._grammars: dict[str, str] = {}
        self._followed: list[NDArray[np.int16]] = []
        self._known: dict[str, bool] = {}

    @property
    def name(self) -> str:
        """As written to the journal."""
        return self._name

    @property
    def rejects(self) -> bool:
        """Whether the model has a word for what is none of ours; many lack it."""
        return not self.missing([UNKNOWN])

    def missing(self, words: Iterable[str]) -> tuple[str, ...]:
        """The words the model does not know."""
        wanted = sorted(set(words))
        unseen = [word for word in wanted if word not in self._known]
        if unseen:
            answer = self._asked({"do": "find", "words": unseen})
            absent = set(answer["missing"])
            self._known.update((word, word not in absent) for word in unseen)
        return tuple(word for word in wanted if not self._known[word])

    def listen(self, grammar: Grammar) -> None:
        """Raises VoicecheckError for a word the model lacks: it would silently be dropped."""
        missing = self.missing(grammar.words)
        if missing:
            raise VoicecheckError(
                f"the Vosk model does not know {', '.join(missing)}; "
                "use --listener pocketsphinx or another wording in callouts.yaml"
            )
        decoys = decoys_of(grammar.phrases, grammar, self._lexicon)
        offered = (*decoys, *self._lexicon.chatter)
        self.missing(word for phrase in offered for word in phrase.split())  # in one go
        extra = [phrase for phrase in offered if not self.missing(phrase.split())]
        if self.rejects:
            extra.append(UNKNOWN)
        phrases = [*grammar.phrases, *grammar.joiners, *self._wide(grammar)]
        now, rivals = grammar_json(phrases), grammar_json([*phrases, *extra])
        self._followed = []
        self._grammars = {"now": now, "rivals": rivals}
        self._asked({"do": "grammar", "grammars": self._grammars})

    def _wide(self, grammar: Grammar) -> list[str]:
        """What stands for the wordings that nobody taught, where the grammar has them."""
        if grammar.network is None:
            return []
        wide = grammar.network.cover(callout.key for callout in grammar.callouts)
        self.missing(word for phrase in wide for word in phrase.split())  # in one go
        return [phrase for phrase in wide if not self.missing(phrase.split())]

    def follow(self, blocks: Sequence[NDArray[np.int16]]) -> None:
        """All blocks of the utterance in progress so far; decoding them begins at once."""
        try:
            self._send(blocks)
        except VoskStopped:
            self._followed = []  # hear() starts a new child and begins again

    def hear(self, samples: NDArray[np.int16]) -> Hearing:
        """A whole utterance; words carry times from its first sample."""
        if not self._grammars:
            raise RuntimeError("hear() before listen()")
        for _ in range(TRIES):
            try:
                self._send_rest(samples)
                return _hearing(self._process.ask({"do": "end"}))
            except VoskStopped:
                self._restart()
            finally:
                self._followed = []
        return Hearing(words=())

    def close(self) -> None:
        """Let go of the child."""
        self._process.close()

    def _send(self, blocks: Sequence[NDArray[np.int16]]) -> None:
        sent = len(self._followed)
        same = sent <= len(blocks) and all(
            a is b for a, b in zip(self._followed, blocks, strict=False)
        )
        if not same:
            self._process.tell({"do": "drop"})
            self._followed, sent = [], 0
        fresh = blocks[sent:]
        if fresh:
            self._process.tell({"do": "sound"}, _pcm(np.concatenate(fresh)))
            self._followed = list(blocks)

    def _send_rest(self, samples: NDArray[np.int16]) -> None:
        sent = sum(block.size for block in self._followed)
        known = np.concatenate(self._followed) if self._followed else samples[:0]
        if not np.array_equal(known, samples[:sent]):
            self._process.tell({"do": "drop"})
            sent = 0
        self._process.tell({"do": "sound"}, _pcm(samples[sent:]))

    def _asked(self, request: dict[str, Any]) -> dict[str, Any]:
        try:
            return self._process.ask(request)
        except VoskStopped:
            self._restart()
        try:
            return self._process.ask(request)
        except VoskStopped as stopped:
            raise VoicecheckError(
                f"Vosk ended twice over the same request ({stopped}); use --listener pocketsphinx"
            ) from None

    def _restart(self) -> None:
        self._process.start()
        self._followed = []
        if self._grammars:
            try:
                self._process.ask({"do": "grammar", "grammars": self._grammars})
            except VoskStopped as stopped:
                raise VoicecheckError(
                    f"Vosk cannot take the grammar ({stopped}); use --listener pocketsphinx"
                ) from None


def _pcm(samples: NDArray[np.int16]) -> bytes:
    return samples.astype("<i2").tobytes()


def _hearing(answer: dict[str, Any]) -> Hearing:
    words = tuple(Word(text, start, end, sure) for text, start, end, sure in answer["now"])
    return Hearing(words=words, rival=tuple(entry[0] for entry in answer["rivals"]))
