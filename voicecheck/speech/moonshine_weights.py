"""Moonshine weights that came in by the package installer.

Only the package's data files are used; its code is never run. Every file is pinned by SHA-256.
"""

from __future__ import annotations

import hashlib
import importlib.util
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

PACKAGE: Final = "moonshine_cpp"
MODEL: Final = Path("models", "base-en")
SHA256: Final = {
    "encoder_model.ort": "9d1a19e044cbf89a207723d1adb667de89a5671a1e3e611b8ebe721b2c31219c",
    "decoder_model_merged.ort": "370e0c1f161d68dc1c2264c1a82024fb123380da3b73f47f05531d1e8d3308c3",
    "tokenizer.bin": "04670d78994d030185c3dd843c60591788fed0a56cc6750747bd326825f13ca9",
}


def packaged_moonshine() -> Path | None:
    """The model folder in the package, or None when that is not installed."""
    spec = importlib.util.find_spec(PACKAGE)
    if spec is None or not spec.submodule_search_locations:
        return None
    return Path(next(iter(spec.submodule_search_locations))) / MODEL


def checked(folder: Path) -> Path:
    """The folder, when it holds the files this version was calibrated with.

    Raises VoicecheckError naming the first file that it does not.
    """
    for name, expected in SHA256.items():
        path = folder / name
        try:
            with path.open("rb") as file:
                found = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError as error:
            raise VoicecheckError(
                f"{path}: cannot be read ({error.strerror}); install moonshine-cpp 0.1.4 again"
            ) from error
        if found != expected:
            raise VoicecheckError(
                f"{path}: not the file this version was calibrated with; "
                "install moonshine-cpp 0.1.4 again or use --second-listener off"
            )
    return folder
