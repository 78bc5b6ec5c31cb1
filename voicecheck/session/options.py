"""What a user chose for a session."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

ListenerName = Literal["pocketsphinx", "vosk"]


@dataclass(frozen=True, slots=True)
class HearingOptions:
    """Which listeners to use.

    model: a Vosk model folder or its name; second: auto, off or a folder.
    """

    listener: ListenerName = "pocketsphinx"
    model: Path | None = None
    second: str = "auto"


@dataclass(frozen=True, slots=True)
class VoiceOptions:
    """How prompts sound. rate: words a minute; speak False: text only."""

    speak: bool = True
    rate: int = 165
    voice: str | None = None
    volume: float = 1.0
    loudspeaker: str | None = None


@dataclass(frozen=True, slots=True)
class RunOptions:
    """One run: what is tested, by whom, from which sound, and where the log goes."""

    checklist: str
    airframe: str
    log: Path
    wav: Path | None = None
    microphone: str | None = None
    headset: bool = False
    pilot: str | None = None
    second: str | None = None
    mixdown: Path | None = None
    hearing: HearingOptions = field(default_factory=HearingOptions)
    voice: VoiceOptions = field(default_factory=VoiceOptions)
