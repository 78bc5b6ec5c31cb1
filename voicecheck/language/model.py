"""What the grammar files of one language must hold."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from voicecheck.language.prompts import check_slots

_Words = tuple[str, ...]


def _some(wordings: _Words) -> _Words:
    if not all(text.strip() for text in wordings) or not wordings:
        raise ValueError("nothing is written in it; write at least one wording")
    return tuple(text.lower() for text in wordings)


def _with(*slots: str) -> Callable[[_Words], _Words]:
    def checked(wordings: _Words) -> _Words:
        for text in wordings:
            check_slots(text, slots)
        return wordings

    return checked


def _between(text: str) -> str:
    check_slots(text, ("call", "lower", "upper"))
    return text


def _of_day(text: str) -> str:
    check_slots(text, ("day", "month"))
    return text


_Some = Annotated[_Words, AfterValidator(_some)]
_Called = Annotated[_Some, AfterValidator(_with("call"))]
_OfLamp = Annotated[_Some, AfterValidator(_with("lamp"))]
_OfThrow = Annotated[_Some, AfterValidator(_with("throw"))]
_OfSwitch = Annotated[_Some, AfterValidator(_with("call", "back"))]
_Bare = Annotated[_Some, AfterValidator(_with())]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Templates(_Strict):
    """Wordings of what a crew may see or hear.

    Slots: {call} the spoken name; {throw} a switch position; {back} the one to which the switch
    goes back; {lamp} a lamp's spoken name. In a lamp group's own `call`, '#' is the number.
    """

    lamp_lit: _Called
    lamp_dark: _Called
    lamp_named_dark: _OfLamp
    group_only: _Called
    aural_good: _Called
    aural_bad: _Called
    aural_silenced: _Called
    aural_continues: _Called
    aural_returns: _Called
    aural_stays_quiet: _Called
    tactile_good: _Called
    tactile_bad: _Called
    cancels: _Called
    stays: _Called
    absent_good: _Called
    absent_bad: _Called
    throw_lit: _OfThrow
    throw_dark: _OfThrow
    throw_back: _Called
    throw_back_to: _OfSwitch
    throw_stuck: _Called
    extinguish_out: _Called
    extinguish_stays: _Called
    select: _Called
    selector_off: _Bare
    disregard: _Called
    power_on: _Called
    power_off: _Called


class Said(_Strict):
    """What is expected of a lamp that goes out: {call} its name, {lower} and {upper} seconds."""

    out_between: Annotated[str, AfterValidator(_between)]


class Other(_Strict):
    """What can be called at every position, beside what is expected there."""

    finding: _Bare
    light: _Bare
    lit: _Bare
    dim: _Bare
    flicker: _Bare
    colour: _Bare
    sound: _Bare


class CalloutsFile(_Strict):
    """Contents of callouts.yaml."""

    schema_: Literal[1] = Field(alias="schema")
    numbers: tuple[str, ...] = Field(min_length=13)
    both: str
    none: str
    singular: dict[str, str] = Field(
        default_factory=dict,
        description="ending of a call of several lamps to the ending that it has of one",
    )
    templates: Templates
    other: Other
    said: Said


class CommandsFile(_Strict):
    """commands.yaml: command id to its wordings."""

    schema_: Literal[1] = Field(alias="schema")
    commands: dict[str, _Some]
    reasons: dict[str, _Some] = Field(
        description="reasons for abandoning a test, by the words for the record", min_length=1
    )


class PromptsFile(_Strict):
    """prompts.yaml: prompt id to what is spoken; its {slots} are those of language.prompts."""

    schema_: Literal[1] = Field(alias="schema")
    preamble: str
    more: str = Field(description="a list that was cut short: {listed}, and {n} that are left out")
    prompts: dict[str, str]
    terse: dict[str, str] = Field(
        default_factory=dict, description="shorter words for some prompts; preamble among them"
    )


class SpeechFile(_Strict):
    """speech.yaml: what the recogniser must know of the language."""

    schema_: Literal[1] = Field(alias="schema", default=1)
    pronunciations: dict[str, tuple[str, ...]]
    joiners: tuple[str, ...]
    swaps: tuple[tuple[str, ...], ...]
    negations: tuple[str, ...]
    chatter: tuple[str, ...]
    spelling: dict[str, str] = Field(
        default_factory=dict,
        description="letters and digits, '-' and '.' of a number, to how they are said; what is "
        "not here is left to the synthesiser",
    )
    respelt: dict[str, str] = Field(
        default_factory=dict, description="word to what the synthesiser must read to say it right"
    )
    alternatives: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="word to clearer wordings that `validate` may propose"
    )


class CalendarFile(_Strict):
    """calendar.yaml: how a day is named."""

    schema_: Literal[1] = Field(alias="schema")
    months: tuple[str, ...] = Field(min_length=12, max_length=12)
    day: Annotated[str, AfterValidator(_of_day)]
