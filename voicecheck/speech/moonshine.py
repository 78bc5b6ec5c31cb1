"""The scoring listener: a Moonshine model that scores texts by teacher forcing.

Not asked what was said but how well each candidate explains the sound. Texts are scored as
sentences with their end, so that the beginning of a longer phrase does not win. The model takes
sound of any length: a short callout costs little.

Model: Moonshine base (Jeffries et al., 2024, arXiv 2410.15608), MIT licence.
"""

from __future__ import annotations

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
MODELS: Final = ("encoder_model", "decoder_model_merged")
TOKENS: Final = "tokenizer.bin"


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
        try:
            import onnxruntime
        except ImportError as error:
            raise VoicecheckError(
                f"the second listener needs {error.name}; install it or use --second-listener off"
            ) from error
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = threads
        options.inter_op_num_threads = 1
        # Threads that wait by spinning would take the processor from the grammar listener.
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
        try:
            self._encoder, self._decoder = (
                onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
                for path in files[:2]
            )
            past = [i for i in self._decoder.get_inputs() if i.name.startswith("past_key_values")]
            heads, width = past[0].shape[1], past[0].shape[3]
        except Exception as error:  # the native code raises classes of its own
            raise VoicecheckError(
                f"{folder}: not a usable Moonshine model ({error}); copy it again"
            ) from error
        self._pieces = read_pieces(files[2])
        self._nothing: Mapping[str, Any] = {
            i.name: np.zeros((0, heads, 1, width), np.float32) for i in past
        }
        self._kept = tuple(output.name for output in self._decoder.get_outputs()[1:])
        self._name = f"moonshine ({folder.name})"

    @property
    def name(self) -> str:
        """As written to the journal."""
        return self._name

    def score(self, samples: NDArray[np.int16], propose: Callable[[str], Sequence[str]]) -> Scores:
        """Score what is proposed; write freely from where that fits best; score what is new."""
        sound = samples.astype(np.float32) / 32768
        encoded = self._encode(np.pad(sound, (0, max(0, SHORTEST - sound.size))))
        rows = self._score(encoded, list(dict.fromkeys(propose(""))))
        free = spelled(self._write(encoded, list(rows.values()), samples.size / RATE))
        new = [*propose(free), *([free] if free else [])]
        rows |= self._score(encoded, [t for t in dict.fromkeys(new) if t not in rows])
        return Scores(
            {text: float(row.said.mean()) for text, row in rows.items()},
            {text: row.said.size for text, row in rows.items()},
            free,
            {text: float(row.said.min()) for text, row in rows.items()},
            {text: float((row.likeliest - row.said).sum()) for text, row in rows.items()},
            self.kind,
        )

    def _encode(self, sound: NDArray[np.float32]) -> NDArray[np.float32]:
        (encoded,) = self._encoder.run(None, {"input_values": sound[None]})
        return np.asarray(encoded, np.float32)

    def _decode(
        self,
        encoded: NDArray[np.float32],
        tokens: NDArray[np.int64],
        past: Mapping[str, Any] | None = None,
        wanted: Sequence[str] | None = None,
    ) -> list[Any]:
        fed = {"input_ids": tokens, "encoder_hidden_states": encoded}
        fed |= {"use_cache_branch": np.array([past is not None])}
        fed |= self._nothing if past is None else past
        return list(self._decoder.run(wanted, fed))

    def _score(self, encoded: NDArray[np.float32], texts: Sequence[str]) -> dict[str, _Row]:
        """All texts in one pass."""
        if not texts:
            return {}
        rows = [self._pieces.encode(f"{text.capitalize()}.") for text in texts]
        tokens = np.full((len(rows), max(map(len, rows)) + 1), END, np.int64)
        tokens[:, 0] = BEGIN
        for at, row in enumerate(rows):
            tokens[at, 1 : 1 + len(row)] = row
        batch = np.repeat(encoded, len(rows), axis=0)
        (logits,) = self._decode(batch, tokens, wanted=["logits"])
        scored = {}
        for at, (text, row) in enumerate(zip(texts, rows, strict=True)):
            own = logits[at, : len(row) + 1]
            top = own.max(axis=-1)
            every = top + np.log(np.exp(own - top[:, None]).sum(axis=-1))
            said = own[np.arange(len(row) + 1), [*row, END]] - every
            scored[text] = _Row(said, top - every, own.argmax(axis=-1), tuple(row))
        return scored

    def _write(self, encoded: NDArray[np.float32], rows: Sequence[_Row], seconds: float) -> str:
        """The likeliest token after the likeliest token, begun with the row that goes furthest.

        A text whose every token is expected need not be written again.
        """
        longest = min(LONGEST, 4 + int(PACE * seconds))
        best = max(rows, key=lambda row: row.expected, default=None)
        written: list[int] = []
        if best is not None:
            if best.expected > len(best.tokens):
                return self._pieces.decode(best.tokens)
            written = [*best.tokens[: best.expected], int(best.instead[best.expected])]
        past: dict[str, Any] | None = None
        while len(written) < longest and END not in written[-1:]:
            fed = [BEGIN, *written] if past is None else written[-1:]
            logits, *kept = self._decode(encoded, np.array([fed], np.int64), past)
            written.append(int(logits[0, -1].argmax()))
            named = {
                n.replace("present", "past_key_values"): k
                for n, k in zip(self._kept, kept, strict=True)
            }
            # With a past the decoder gives nothing new for the encoder's side.
            past = (
                named
                if past is None
                else past | {n: k for n, k in named.items() if ".decoder." in n}
            )
        return self._pieces.decode([token for token in written if token != END])


@lru_cache(maxsize=2)
def load_moonshine(folder: Path, threads: int = 2) -> MoonshineScorer:
    """One model in memory however many channels listen."""
    return MoonshineScorer(folder, threads=threads)
