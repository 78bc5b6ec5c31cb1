"""The grammar listener that is always there: PocketSphinx and the model in its wheel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.speech.decoys import decoys_of
from voicecheck.speech.denoise import denoise
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Hearing, Word
from voicecheck.speech.proof import LONGEST, competitors, proof_grammar

FRAME: Final = 0.01
"""Seconds per frame of the decoder."""
SILENCES: Final = frozenset({"<s>", "</s>", "<sil>", "(NULL)", "[NOISE]", "[SPEECH]"})


class SphinxListener:
    """Hears an utterance with decoys, with the callouts alone, and can put the result to the proof.

    The front end begins afresh each time: its noise reduction would else go on from the sound
    before, and a hearing depends on nothing that was said before it.
    """

    def __init__(self, lexicon: Lexicon) -> None:
        from pocketsphinx import Decoder

        self._lexicon = lexicon
        self._grammar = Grammar((), lexicon.joiners)
        self._decoder: Any = Decoder(lm=None, loglevel="FATAL")
        self._known: dict[str, bool] = {}
        self._sound = b""
        for word, sounds in lexicon.pronunciations.items():
            self._teach(word, sounds)

    @property
    def name(self) -> str:
        """As written to the journal."""
        return "pocketsphinx"

    def missing(self, words: Iterable[str]) -> tuple[str, ...]:
        """The words that neither the dictionary nor the lexicon can pronounce."""
        return tuple(word for word in sorted(set(words)) if not self._knows(word))

    def _knows(self, word: str) -> bool:
        # Asked once for each word: pocketsphinx 5 loses 48 bytes at every lookup, which made
        # 7 MiB in an hour of listening. Words are taught only when the listener is opened.
        known = self._known.get(word)
        if known is None:
            known = self._known[word] = self._decoder.lookup_word(word) is not None
        return known

    def listen(self, grammar: Grammar) -> None:
        """Compile both grammars. Raises VoicecheckError for a word without a sound."""
        missing = self.missing(grammar.words)
        if missing:
            raise VoicecheckError(
                f"no pronunciation for {', '.join(missing)}; "
                "add it under pronunciations in the language's speech.yaml"
            )
        decoys = self._sayable(decoys_of(grammar.phrases, grammar, self._lexicon))
        chatter = self._sayable(self._lexicon.chatter)
        self._grammar = grammar
        self._decoder.add_jsgf_string("now", grammar.jsgf(missing=self.missing).encode())
        rivals = grammar.jsgf(decoys, chatter, self.missing)
        self._decoder.add_jsgf_string("rivals", rivals.encode())

    def hear(self, samples: NDArray[np.int16]) -> Hearing:
        """Decode a whole utterance; words carry times from its first sample."""
        return self._heard(denoise(samples))

    def look_again(self, samples: NDArray[np.int16]) -> Hearing:
        """The same with its noise left in: what that takes from a voice is another thing."""
        return self._heard(samples)

    def _heard(self, samples: NDArray[np.int16]) -> Hearing:
        sound = self._sound = samples.astype("<i2").tobytes()
        rival = self._decode("rivals", sound)
        texts = tuple(word.text for word in rival)
        # The best of more paths, where it is a callout, is the best of the callouts too.
        ours = bool(texts) and self._grammar.read(texts) is not None
        words = rival if ours else self._decode("now", sound)
        return Hearing(words=words, rival=texts, proves=True)

    def prove(self, hearing: Hearing) -> Hearing:
        """The same with its proof; of the utterance that was heard last."""
        words = hearing.text
        if len(words) > LONGEST or self._grammar.read(words) is None:
            return hearing
        self._decoder.add_jsgf_string("proof", proof_grammar(words, competitors()).encode())
        proof = tuple(word.text for word in self._decode("proof", self._sound))
        return replace(hearing, proof=proof)

    def _decode(self, search: str, sound: bytes) -> tuple[Word, ...]:
        decoder = self._decoder
        decoder.activate_search(search)
        decoder.reinit_feat()
        decoder.start_utt()
        decoder.process_raw(sound, False, True)
        decoder.end_utt()
        if decoder.hyp() is None:
            return ()
        return tuple(
            Word(
                segment.word.split("(")[0],
                segment.start_frame * FRAME,
                (segment.end_frame + 1) * FRAME,
            )
            for segment in decoder.seg()
            if segment.word not in SILENCES
        )

    def _teach(self, word: str, sounds: tuple[str, ...]) -> None:
        known = set()
        at = 1
        while (sound := self._decoder.lookup_word(_numbered(word, at))) is not None:
            known.add(sound)
            at += 1
        for sound in sounds:
            if sound not in known:
                try:
                    self._decoder.add_word(_numbered(word, at), sound, True)
                except (RuntimeError, ValueError) as error:
                    raise VoicecheckError(
                        f"cannot pronounce {word!r} as {sound!r}; "
                        "use ARPAbet symbols without stress marks"
                    ) from error
                known.add(sound)
                at += 1

    def _sayable(self, phrases: Iterable[str]) -> tuple[str, ...]:
        return tuple(p for p in phrases if not self.missing(p.split()))


def _numbered(word: str, at: int) -> str:
    return word if at == 1 else f"{word}({at})"
