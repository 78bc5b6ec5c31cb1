"""A script: who says what, when, and what a session must make of it."""

from __future__ import annotations

from pathlib import Path
from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from voicecheck.world.noise import NoiseName
from voicecheck.world.synthesis import EngineName, Talker
from voicecheck.yaml_source import check_model, read_yaml


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Voice(_Strict):
    """A synthetic person."""

    engine: EngineName
    voice: str
    pace: float = Field(1.0, gt=0.4, lt=2.5)

    def talker(self) -> Talker:
        """The person who speaks with this voice."""
        return Talker(self.engine, self.voice, self.pace)


class Line(_Strict):
    """One utterance.

    say: the words. meant False: talk that voicecheck must leave alone. gap: seconds from the
    end of the utterance before, whatever the prompts do; None waits until prompts are over.
    pause: seconds after the prompts.
    """

    who: str
    say: str
    meant: bool = True
    gap: float | None = Field(None, ge=0.2, le=120)
    pause: float = Field(0.9, ge=0.2, le=120)


class Noise(_Strict):
    """Noise under the whole recording. db: speech level over noise level."""

    name: NoiseName
    db: float


class ExpectedFinding(_Strict):
    """A finding that must stand at the end. lamp: the caption it must name."""

    item: str
    lamp: str | None = None


class Expect(_Strict):
    """What is true: outcomes that are not satisfactory, findings, and how the session ends."""

    outcomes: dict[str, Literal["unsatisfactory", "not tested", "void"]] = Field(
        default_factory=dict
    )
    findings: tuple[ExpectedFinding, ...] = ()
    complete: bool = True
    void_attempts: tuple[str, ...] = Field(
        (), description="items whose history must hold a void attempt"
    )


class Crew(_Strict):
    """Invented names for the record."""

    pilot: str
    second: str | None = None


class Script(_Strict):
    """One staged session."""

    title: str
    checklist: str
    airframe: str
    crew: Crew
    recorded: str = Field(description="when it is said to be, RFC 3339; invented as all else")
    voices: dict[str, Voice]
    noise: Noise | None = None
    repeats: bool = Field(
        False,
        description="staged with real listeners: what they ask about is answered or said again",
    )
    seed: int
    lines: tuple[Line, ...] = Field(min_length=1)
    expect: Expect

    @model_validator(mode="after")
    def _everybody_has_a_voice(self) -> Self:
        mute = sorted({line.who for line in self.lines} - set(self.voices))
        if mute:
            raise ValueError(f"no voice for {', '.join(mute)}; give each one under 'voices'")
        return self


def read_script(path: Path) -> Script:
    """Read a script file. Raises InputError."""
    return check_model(Script, read_yaml(path))
