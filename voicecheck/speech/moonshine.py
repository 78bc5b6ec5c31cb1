"""The scoring listener: a Moonshine model that scores texts by teacher forcing.

Not asked what was said but how well each candidate explains the sound. Texts are scored as
sentences with their end, so that the beginning of a longer phrase does not win. The model takes
sound of any length: a short callout costs little.

Model: Moonshine base (Jeffries et al., 2024, arXiv 2410.15608), MIT licence.
"""

from __future__ import annotations

import contextlib
import ctypes
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.speech.listener import Scores
from voicecheck.speech.sentence_pieces import read_pieces
from voicecheck.speech.spelling import spelled

RATE: Final = 16000
BEGIN: Final = 1
END: Final = 2
"""Token numbers of the beginning and the end of a text."""
LONGEST: Final = 24
"""Tokens of free text: enough to tell chatter, too few to stutter for long,"""
PACE: Final = 6.5
"""and so many in each second, which the model's authors advise against stuttering."""
SHORTEST: Final = 1600
"""Samples below which the encoder's filters find nothing to work on (0.1 s)."""
SOUND: Final = "encoder_hidden_states"
TOKEN_NUMBERS: Final = "input_ids"
MODELS: Final = ("encoder_model", "decoder_model_merged")
TOKENS: Final = "tokenizer.bin"

_MMAP_THRESHOLD: Final = -3
"""Of the C library (malloc.h): blocks above it are the kernel's again when they are freed."""

Keys = Mapping[str, Any]
"""What the decoder needs of one sound, by name of its input."""


def model_files(folder: Path) -> tuple[Path, Path, Path] | None:
    """Encoder, decoder and tokens of a Moonshine model, or None where it is not one."""
    found = []
    for name in MODELS:
        there = [path for end in (".ort", ".onnx") if (path := folder / f"{name}{end}").is_file()]
        found += there[:1]
    tokens = folder / TOKENS
    if len(found) < len(MODELS) or not tokens.is_file():
        return None
    return found[0], found[1], tokens


@dataclass(frozen=True, slots=True)
class _Row:
    """One text: log probability of each token and of its end; those of the likeliest instead."""

    said: NDArray[np.float32]
    likeliest: NDArray[np.float32]
    instead: NDArray[np.int64]
    tokens: tuple[int, ...]

    @property
    def expected(self) -> int:
        """Tokens from the beginning that the model would have written itself."""
        same = self.instead == np.array([*self.tokens, END])
        return int(np.argmin(same)) if not same.all() else len(same)


class MoonshineScorer:
    """A Moonshine model in one folder (ONNX files, merged decoder), on the CPU."""

    kind: Final = "moonshine"

    def __init__(self, folder: Path, *, threads: int = 2) -> None:
        files = model_files(folder)
        if files is None:
            raise VoicecheckError(
                f"{folder}: no {', '.join(MODELS)} (.ort or .onnx) and {TOKENS} in it; "
                "name a folder that holds a Moonshine model"
            )
        _return_large_blocks()
        try:
            from voicecheck.speech.moonshine_graph import readable, taken_apart

            decoder = taken_apart(readable(files[1]))
            # The encoder has time while the grammar is decoded, and keeps its small weights.
            self._encoder, self._keys, self._texts = (
                _session(model, threads) for model in (str(files[0]), decoder.keys, decoder.texts)
            )
        except ImportError as error:
            raise VoicecheckError(
                f"the second listener needs {error.name}; install it or use --second-listener off"
            ) from error
        except Exception as error:  # the native code raises classes of its own
            raise VoicecheckError(
                f"{folder}: not a usable Moonshine model ({error}); copy it again, or use the one "
                "that is packaged"
            ) from error
        self._pieces = read_pieces(files[2])
        self._name = f"moonshine ({folder.name})"

    @property
    def name(self) -> str:
        """As written to the journal."""
        return self._name

    def score(self, samples: NDArray[np.int16], propose: Callable[[str], Sequence[str]]) -> Scores:
        """Score what is proposed; write freely from where that fits best; score what is new."""
        sound = samples.astype(np.float32) / 32768
        keys = self._listen(np.pad(sound, (0, max(0, SHORTEST - sound.size))))
        rows = self._score(keys, list(dict.fromkeys(propose(""))))
        free = spelled(self._write(keys, list(rows.values()), samples.size / RATE))
        new = [*propose(free), *([free] if free else [])]
        rows |= self._score(keys, [t for t in dict.fromkeys(new) if t not in rows])
        return Scores(
            {text: float(row.said.mean()) for text, row in rows.items()},
            {text: row.said.size for text, row in rows.items()},
            free,
            {text: float(row.said.min()) for text, row in rows.items()},
            {text: float((row.likeliest - row.said).sum()) for text, row in rows.items()},
            self.kind,
        )

    def _listen(self, sound: NDArray[np.float32]) -> Keys:
        """What the decoder needs of a sound, once for all texts."""
        (encoded,) = self._encoder.run(None, {"input_values": sound[None]})
        keys = self._keys.run(None, {SOUND: encoded})
        named = (output.name for output in self._keys.get_outputs())
        return dict(zip(named, keys, strict=True))

    def _logits(self, keys: Keys, tokens: NDArray[np.int64]) -> NDArray[np.float32]:
        (logits,) = self._texts.run(None, {TOKEN_NUMBERS: tokens, **keys})
        return np.asarray(logits, np.float32)

    def _score(self, keys: Keys, texts: Sequence[str]) -> dict[str, _Row]:
        """All texts in one pass."""
        if not texts:
            return {}
        rows = [self._pieces.encode(f"{text.capitalize()}.") for text in texts]
        tokens = np.full((len(rows), max(map(len, rows)) + 1), END, np.int64)
        tokens[:, 0] = BEGIN
        for at, row in enumerate(rows):
            tokens[at, 1 : 1 + len(row)] = row
        logits = self._logits(keys, tokens)
        scored = {}
        for at, (text, row) in enumerate(zip(texts, rows, strict=True)):
            own = logits[at, : len(row) + 1]
            top = own.max(axis=-1)
            every = top + np.log(np.exp(own - top[:, None]).sum(axis=-1))
            said = own[np.arange(len(row) + 1), [*row, END]] - every
            scored[text] = _Row(said, top - every, own.argmax(axis=-1), tuple(row))
        return scored

    def _write(self, keys: Keys, rows: Sequence[_Row], seconds: float) -> str:
        """The likeliest token after the likeliest token, begun with the row that goes furthest.

        A text whose every token is expected need not be written again. All tokens go in each time:
        keeping what was computed of the first ones would save less than it takes to hand over.
        """
        longest = min(LONGEST, 4 + int(PACE * seconds))
        best = max(rows, key=lambda row: row.expected, default=None)
        written: list[int] = []
        if best is not None:
            if best.expected > len(best.tokens):
                return self._pieces.decode(best.tokens)
            written = [*best.tokens[: best.expected], int(best.instead[best.expected])]
        while len(written) < longest and END not in written[-1:]:
            logits = self._logits(keys, np.array([[BEGIN, *written]], np.int64))
            written.append(int(logits[0, -1].argmax()))
        return self._pieces.decode([token for token in written if token != END])


def _session(model: str | bytes, threads: int) -> Any:
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.inter_op_num_threads = 1
    options.enable_cpu_mem_arena = False  # it would keep the memory of the longest utterance
    # Threads that wait by spinning would take the processor from the grammar listener.
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


def _return_large_blocks() -> None:
    """Have the C library of Linux give large blocks back at once: some 150 MB less are held."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, 1 << 20)


@lru_cache(maxsize=2)
def load_moonshine(folder: Path, threads: int = 2) -> MoonshineScorer:
    """One model in memory however many channels listen."""
    return MoonshineScorer(folder, threads=threads)
