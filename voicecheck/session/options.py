"""What a user chose for a session."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from voicecheck.audio.sound_file import SoundFormat
from voicecheck.audio.source import Channels
from voicecheck.session.shutter import USUAL_TAIL

ListenerName = Literal["pocketsphinx", "vosk"]


@dataclass(frozen=True, slots=True)
class HearingOptions:
    """Which listeners to use.

    model: a Vosk model folder or its name; second: auto, whisper, off or a folder; threads: of the
    second listener; where several sessions run side by side one each is cheapest; own: whether
    voicecheck's own listener leads and the others are its witnesses (docs/listener.md).
    """

    listener: ListenerName = "pocketsphinx"
    model: Path | None = None
    second: str = "auto"
    threads: int = 2
    own: bool = False


Wording = Literal["full", "terse"]


@dataclass(frozen=True, slots=True)
class VoiceOptions:
    """How prompts sound. rate: words a minute; speak False: text only, with tones if wanted."""

    speak: bool = True
    rate: int = 165
    voice: str | None = None
    volume: float = 1.0
    loudspeaker: str | None = None
    wording: Wording = "full"
    tones: bool = True


@dataclass(frozen=True, slots=True)
class CockpitOptions:
    """How the crew is heard.

    headset: prompts cannot reach the microphone; echo_tail: seconds that they linger where they
    can; channels 2: pilot and second crew member on one of their own; talk_key: hear only while
    it is pressed; keys: callouts may be typed; hear False: by key alone, no microphone is opened.
    """

    headset: bool = False
    echo_tail: float = USUAL_TAIL
    channels: Channels = 1
    talk_key: bool = False
    keys: bool = False
    hear: bool = True


@dataclass(frozen=True, slots=True)
class RecordingOptions:
    """Keeping the sound of a session; the crew's consent is this being given at all.

    folder: where; keep_days: older ones there are deleted; kind: of the sound file.
    """

    folder: Path
    keep_days: int = 30
    kind: SoundFormat = "wav"


@dataclass(frozen=True, slots=True)
class LogOptions:
    """Where a session is kept.

    database: URL of a shared logbook; None: SQLite in the folder. key: private key that signs the
    record, where there is such a file.
    """

    folder: Path
    database: str | None = None
    key: Path | None = None


@dataclass(frozen=True, slots=True)
class RunOptions:
    """One run: what is tested, by whom, from which sound, and where the log goes.

    log, database, key: as in LogOptions. recorded_at: when the recording began, as the user says;
    None: what is known of it tells. rehearsed: the sound of a student, who is tested now.
    """

    checklist: str
    airframe: str
    log: Path
    wav: Path | None = None
    microphone: str | None = None
    cockpit: CockpitOptions = field(default_factory=CockpitOptions)
    recording: RecordingOptions | None = None
    pilot: str | None = None
    second: str | None = None
    mixdown: Path | None = None
    database: str | None = None
    key: Path | None = None
    temperature_c: float | None = None
    recorded_at: str | None = None
    rehearsed: bool = False
    hearing: HearingOptions = field(default_factory=HearingOptions)
    voice: VoiceOptions = field(default_factory=VoiceOptions)
