"""What voicecheck remembers about a cockpit between sessions: one small YAML file."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any, Final, Literal

import platformdirs
import yaml
from pydantic import BaseModel, ConfigDict, Field

from voicecheck.errors import VoicecheckError
from voicecheck.session.shutter import USUAL_TAIL
from voicecheck.yaml_source import check_model, read_yaml

SETTINGS_VARIABLE: Final = "VOICECHECK_SETTINGS"
_HEAD: Final = "# Settings of voicecheck; any line may be left out. See `voicecheck audio`.\n"


class Settings(BaseModel):
    """Contents of settings.yaml; every field has a value that suits an open speaker."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    schema_: Literal[1] = Field(alias="schema", default=1)
    microphone: str | None = Field(None, description="name or part of it; none: the default")
    loudspeaker: str | None = Field(None, description="name or part of it; none: the default")
    cockpit: Literal["headset", "speaker"] = Field(
        "speaker", description="headset: prompts cannot reach the microphone"
    )
    echo_tail: float = Field(
        USUAL_TAIL, ge=0, le=3, description="seconds that a room carries the end of a prompt"
    )
    channels: Literal[1, 2] = Field(1, description="2: pilot left, second crew member right")
    talk_key: bool = Field(False, description="hear only while the talk key is pressed")
    voice: str | None = Field(None, description="espeak voice or language, such as en-gb")
    rate: int = Field(165, ge=80, le=450, description="words a minute")
    volume: float = Field(1.0, gt=0, le=1)
    wording: Literal["full", "terse"] = "full"
    tones: bool = Field(True, description="short tones for heard, not understood, warning")
    record: bool = Field(False, description="consent to keeping the sound of sessions")
    recordings: str | None = Field(None, description="folder for recordings")
    sound_file: Literal["wav", "flac"] = Field(
        "wav", description="flac: half the room; a crash may cost a quarter of a second more"
    )
    keep_days: int = Field(30, ge=1, le=3650, description="days until a recording is deleted")


def settings_file() -> Path:
    """The user's settings file, or the one that VOICECHECK_SETTINGS names."""
    named = os.environ.get(SETTINGS_VARIABLE)
    return Path(named) if named else platformdirs.user_config_path("voicecheck") / "settings.yaml"


def load_settings(file: Path | None = None) -> Settings:
    """The settings; without a file, those that suit an open speaker.

    Raises InputError naming line and remedy for a file that does not fit.
    """
    path = file or settings_file()
    if not path.exists():
        return Settings.model_validate({})
    return check_model(Settings, read_yaml(path))


def remember(file: Path | None = None, **changes: Any) -> Settings:
    """Write some settings and keep the rest. Raises VoicecheckError if it cannot be written."""
    path = file or settings_file()
    kept = load_settings(path).model_dump(by_alias=True, exclude_unset=True)
    wanted = {"schema": 1, **kept, **changes}
    settings = Settings.model_validate(wanted)
    text = _HEAD + yaml.safe_dump(wanted, sort_keys=False, allow_unicode=True)
    unfinished: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        unfinished = Path(name)
        with os.fdopen(descriptor, "w", encoding="utf-8") as out:
            out.write(text)
        unfinished.replace(path)
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be written ({error.strerror}); check the folder, or name another "
            f"file in {SETTINGS_VARIABLE}"
        ) from None
    finally:
        if unfinished is not None:
            unfinished.unlink(missing_ok=True)
    return settings
