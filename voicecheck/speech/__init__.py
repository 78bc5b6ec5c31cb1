"""Sound to callouts: endpointing, the listeners, and the one place that accepts."""

from __future__ import annotations

from voicecheck.speech.ear import Ear
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.opening import OpenedEar, open_ear

__all__ = ["Ear", "Lexicon", "OpenedEar", "open_ear"]
