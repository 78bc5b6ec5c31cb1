"""What the grammar files of one language must hold."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Templates(_Strict):
    """Wordings of what a crew may see or hear.

    Slots: {call} the spoken name; {n} a number word; {throw} a switch position;
    {lamp} a lamp's spoken name. In a lamp group's own `call`, '#' is the number.
    """

    lamp_lit: tuple[str, ...]
    lamp_dark: tuple[str, ...]
    lamp_named_dark: tuple[str, ...]
    group_only: tuple[str, ...]
    aural_good: tuple[str, ...]
    aural_bad: tuple[str, ...]
    aural_silenced: tuple[str, ...]
    aural_continues: tuple[str, ...]
    aural_returns: tuple[str, ...]
    aural_stays_quiet: tuple[str, ...]
    tactile_good: tuple[str, ...]
    tactile_bad: tuple[str, ...]
    cancels: tuple[str, ...]
    stays: tuple[str, ...]
    absent_good: tuple[str, ...]
    absent_bad: tuple[str, ...]
    throw_lit: tuple[str, ...]
    throw_dark: tuple[str, ...]
    throw_back: tuple[str, ...]
    extinguish_out: tuple[str, ...]
    extinguish_stays: tuple[str, ...]
    select: tuple[str, ...]
    selector_off: tuple[str, ...]
    power_on: tuple[str, ...]
    power_off: tuple[str, ...]


class CalloutsFile(_Strict):
    """Contents of callouts.yaml."""

    schema_: int = Field(alias="schema")
    numbers: tuple[str, ...] = Field(min_length=13)
    both: str
    none: str
    templates: Templates
    said: dict[str, str] = Field(description="short words for the record: what was expected")


class CommandsFile(_Strict):
    """commands.yaml: command id to its wordings."""

    schema_: int = Field(alias="schema")
    commands: dict[str, tuple[str, ...]]
    reasons: dict[str, tuple[str, ...]] = Field(
        description="reasons for abandoning a test, by the words for the record"
    )


class PromptsFile(_Strict):
    """prompts.yaml: prompt id to what is spoken; {slots} are filled by the engine."""

    schema_: int = Field(alias="schema")
    preamble: str
    more: str = Field("{listed}, and {n} more", description="a list that was cut short")
    prompts: dict[str, str]
    terse: dict[str, str] = Field(
        default_factory=dict, description="shorter words for some prompts; preamble among them"
    )


class SpeechFile(_Strict):
    """speech.yaml: what the recogniser must know of the language."""

    schema_: int = Field(alias="schema", default=1)
    pronunciations: dict[str, tuple[str, ...]]
    joiners: tuple[str, ...]
    swaps: tuple[tuple[str, ...], ...]
    negations: tuple[str, ...]
    chatter: tuple[str, ...]
    alternatives: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="word to clearer wordings that `validate` may propose"
    )
