"""The scoring listener: a small Whisper model that scores texts by teacher forcing.

Not asked what was said but how well each candidate explains the sound. Texts are scored
as sentences with a final stop, so that the beginning of a longer phrase does not win.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.speech.listener import Scores
from voicecheck.speech.spelling import spelled

RATE: Final = 16000
WINDOWS: Final = (3, 4, 6, 8)
"""Seconds of sound the encoder is given; the shortest that holds the utterance is used."""
HOP: Final = 160
MARGIN: Final = 0.3
"""Seconds of quiet that should follow the utterance inside the window."""
FREE_TOKENS: Final = 24
"""Tokens of free text at most,"""
FREE_RATE: Final = 5.0
"""and so many in each second (nobody speaks faster): a short window makes the model stutter."""
NEEDED: Final = ("model.bin", "config.json", "tokenizer.json")


class WhisperScorer:
    """A CTranslate2 Whisper model in one folder, on the CPU."""

    def __init__(self, folder: Path, *, threads: int = 2) -> None:
        missing = [name for name in NEEDED if not (folder / name).is_file()]
        if missing:
            raise VoicecheckError(
                f"{folder}: no {', '.join(missing)}; "
                "name a folder that holds a Whisper model converted for CTranslate2"
            )
        try:
            import ctranslate2
            import tokenizers
            from ctranslate2.models import Whisper
            from faster_whisper.feature_extractor import FeatureExtractor
            from faster_whisper.tokenizer import Tokenizer
        except ImportError as error:
            raise VoicecheckError(
                f"the second listener needs {error.name}; install it or use --second-listener off"
            ) from error
        try:
            self._model: Any = Whisper(
                str(folder), device="cpu", compute_type="int8", intra_threads=threads
            )
            tokens = tokenizers.Tokenizer.from_file(str(folder / "tokenizer.json"))
        except Exception as error:  # the native code raises RuntimeError, the Rust code Exception
            raise VoicecheckError(
                f"{folder}: not a usable Whisper model ({error}); convert or copy it again"
            ) from error
        self._storage: Any = ctranslate2.StorageView
        many = bool(self._model.is_multilingual)
        self._tokenizer: Any = Tokenizer(
            tokens, many, task="transcribe" if many else None, language="en" if many else None
        )
        self._features: Any = FeatureExtractor(feature_size=int(self._model.n_mels))
        self._name = f"whisper ({folder.name})"

    @property
    def name(self) -> str:
        """As written to the journal."""
        return self._name

    def score(self, samples: NDArray[np.int16], propose: Callable[[str], Sequence[str]]) -> Scores:
        """Write freely, ask `propose` for candidates given that text, score them all."""
        window = self._window(samples)
        encoded = self._encode(samples, window)
        free = spelled(self._write(encoded, samples.size / RATE))
        texts = list(dict.fromkeys([*propose(free), *([free] if free else [])]))
        if not texts:
            return Scores({}, {}, "")
        tokens = [self._tokenizer.encode(f" {text.capitalize()}.") for text in texts]
        rows = dict(zip(texts, self._score(encoded, window, tokens), strict=True))
        return Scores(
            {text: float(np.mean(row)) for text, row in rows.items()},
            {text: len(row) for text, row in rows.items()},
            free,
            {text: float(np.min(row)) for text, row in rows.items()},
        )

    @staticmethod
    def _window(samples: NDArray[np.int16]) -> int:
        wanted = samples.size / RATE + MARGIN
        return next((w for w in WINDOWS if w >= wanted), WINDOWS[-1])

    def _encode(self, samples: NDArray[np.int16], window: int) -> NDArray[np.float32]:
        count = window * RATE
        sound = samples[:count].astype(np.float32) / 32768
        sound = np.pad(sound, (0, count - sound.size))
        mel = self._features(sound, padding=HOP)[:, : count // HOP]
        features = self._storage.from_array(np.ascontiguousarray(mel[None].astype(np.float32)))
        return np.array(self._model.encode(features, to_cpu=True), dtype=np.float32)

    def _write(self, encoded: NDArray[np.float32], seconds: float) -> str:
        prompt = [*self._tokenizer.sot_sequence, self._tokenizer.no_timestamps]
        result = self._model.generate(
            self._storage.from_array(encoded),
            [prompt],
            beam_size=1,
            max_length=len(prompt) + min(FREE_TOKENS, 4 + int(FREE_RATE * seconds)),
        )[0]
        return str(self._tokenizer.decode(result.sequences_ids[0]))

    def _score(
        self, encoded: NDArray[np.float32], window: int, tokens: Sequence[Sequence[int]]
    ) -> list[NDArray[np.float64]]:
        """Log probability of every token of every text."""
        batch = np.ascontiguousarray(np.repeat(encoded, len(tokens), axis=0))
        results = self._model.align(
            self._storage.from_array(batch),
            self._tokenizer.sot_sequence,
            tokens,
            [window * RATE // (2 * HOP)] * len(tokens),
        )
        return [np.log(np.maximum(result.text_token_probs, 1e-12)) for result in results]


@lru_cache(maxsize=2)
def load_whisper(folder: Path, threads: int = 2) -> WhisperScorer:
    """One model in memory however many channels listen."""
    return WhisperScorer(folder, threads=threads)
