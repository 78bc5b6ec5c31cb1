"""Taking our own voice out of the microphone's sound, by the echo canceller of WebRTC.

It learns the way from loudspeaker to microphone from what is played and what comes back. What is
left is good enough to tell whether somebody speaks over a prompt, and too distorted to be acted on.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from voicecheck.audio.source import RATE, Samples
from voicecheck.errors import VoicecheckError


class Canceller:
    """One microphone channel. Raises VoicecheckError where the library is missing."""

    def __init__(self) -> None:
        try:
            from pywebrtc_audio import AudioProcessor  # late: a session with headsets needs none
        except (ImportError, OSError) as error:
            raise VoicecheckError(
                f"the echo canceller cannot be loaded ({error}); install pywebrtc-audio again"
            ) from None
        self._processor: Any = AudioProcessor(sample_rate=RATE, echo_cancellation=True)

    def without(self, own: Samples, heard: Samples) -> Samples:
        """`heard` less what came back of `own`; both 1-D int16 at 16 kHz, equally long.

        Must be given all sound in order, silence too, in multiples of 10 ms (the end of it all may
        be shorter).
        """
        if len(own) != len(heard):
            raise ValueError(f"{len(own)} samples of ours for {len(heard)} of the microphone")
        cleaned: Samples = self._processor.process(
            np.ascontiguousarray(heard), np.ascontiguousarray(own)
        )
        return cleaned
