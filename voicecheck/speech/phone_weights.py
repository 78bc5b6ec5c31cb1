"""The weights of the listener that writes phones: which file, and that it is that file.

Another round of training is another NAME and SHA256 here, its parts in MODELS, and a new
calibration (`voicecheck measure calibrate`).
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

MODELS: Final = Path(__file__).with_name("models")
NAME: Final = "listener-1.onnx"
SHA256: Final = "165db365318ecfa9d9941af76414564be1bf064c0237f48a143b0cadfd208ccb"
"""Of the parts joined."""


def whole(folder: Path = MODELS) -> bytes:
    """The model, put together of its parts NAME.0, NAME.1 and so on.

    Raises VoicecheckError where they are missing or not those that were calibrated with.
    """
    parts = sorted(folder.glob(f"{NAME}.*"), key=lambda part: int(part.suffix[1:]))
    try:
        model = b"".join(part.read_bytes() for part in parts)
    except OSError as error:
        raise VoicecheckError(
            f"{folder}: the listener's weights cannot be read ({error.strerror}); "
            "install voicecheck again"
        ) from error
    if not parts or hashlib.sha256(model).hexdigest() != SHA256:
        raise VoicecheckError(
            f"{folder / NAME}: not the weights this version was calibrated with; "
            "install voicecheck again, or use --no-own-listener"
        )
    return model
