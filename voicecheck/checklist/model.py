"""What a checklist file and an airframe file may hold (the published JSON Schema).

A type file names an aircraft type's positions and what each should show. An airframe file
names one registration and what differs on it. Both are YAML; see ``checklists/``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Final, Literal, Self
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator, model_validator

ID_PATTERN: Final = r"^[a-z0-9]+(-[a-z0-9]+)*$"
SPOKEN_PATTERN: Final = r"^[^\W\d_]+([' ][^\W\d_]+)*$"
CHAPTER_PATTERN: Final = r"^\d{2}$"
REGISTRATION_PATTERN: Final = r"^\S(.{0,14}\S)?$"
LANGUAGE_PATTERN: Final = r"^[A-Za-z0-9]+(-[A-Za-z0-9]+)*$"
_MEANT: Final = {
    ID_PATTERN: "lower-case words joined by hyphens",
    SPOKEN_PATTERN: "words as they are spoken, no digits or punctuation",
    CHAPTER_PATTERN: "two-digit system chapter",
    REGISTRATION_PATTERN: "1 to 16 characters, as on the hull",
    LANGUAGE_PATTERN: "the name of a folder of grammars, such as en",
}
"""What text of each pattern is, in words; for the schema and for errors."""


def _text(pattern: str) -> Any:
    return Field(pattern=pattern, description=_MEANT[pattern])


def _written(text: str) -> str:
    if not text.strip():
        raise ValueError("nothing is written in the quotes; write it out")
    return text


Id = Annotated[str, _text(ID_PATTERN)]
# "Bell" and "bell" sound alike: as two wordings they could stand for two items.
Spoken = Annotated[str, _text(SPOKEN_PATTERN), AfterValidator(str.lower)]
Registration = Annotated[str, _text(REGISTRATION_PATTERN)]
LanguageName = Annotated[str, _text(LANGUAGE_PATTERN)]
Written = Annotated[str, AfterValidator(_written)]
"""Text that a report shows, and that would leave a gap in it if it were blank."""
Switch = Literal["on", "off"]
PowerNeeds = dict[Id, Switch]


class _Strict(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )
    MEANT: ClassVar[Mapping[str, str]] = _MEANT


Names = Annotated[
    tuple[Spoken, ...], Field(description="other names that crews have for it; never read back")
]


class Bus(_Strict):
    """A source or bus whose state the crew calls."""

    say: Spoken
    also: Names = ()
    label: Written = Field(description="as it stands in reports, for instance 'avionics bus'")
    minutes: float | None = Field(
        None, gt=0, description="caution when it has been on for so long; of one bus at most"
    )


class Lamp(_Strict):
    """One lamp: its caption on the panel, how it is spoken, and its colour."""

    caption: str = Field(min_length=1)
    say: Spoken
    also: Names = ()
    colour: Literal["red", "amber", "yellow", "green", "white", "blue"]
    role: Literal["warning", "caution", "advisory", "status"] = Field(
        description="warning is red, caution is amber or yellow (14 CFR 25.1322(e)); "
        "advisory is neither red nor green",
    )

    @model_validator(mode="after")
    def _colour_fits_role(self) -> Self:
        wrong = {
            "warning": self.colour != "red",
            "caution": self.colour not in ("amber", "yellow"),
            "advisory": self.colour in ("red", "green"),
            "status": self.colour == "red",
        }[self.role]
        if wrong:
            raise ValueError(
                f"a {self.role} lamp cannot be {self.colour}; warning is red, caution amber or "
                "yellow, advisory neither red nor green, status not red"
            )
        return self


class _Expectation(_Strict):
    """Common to everything that a position should show."""

    consequence: str | None = Field(None, description="what a failure of this means, for the log")
    caution: str | None = Field(None, description="caution text to go with a finding")
    chapter: str | None = Field(None, pattern=CHAPTER_PATTERN, description=_MEANT[CHAPTER_PATTERN])
    mel: str | None = Field(None, description="key of an item in the airframe's mel list")
    power: PowerNeeds = Field(
        default_factory=dict, description="power for this alone, beside the position's own"
    )
    also: Names = ()
    read_back: bool = Field(
        False, description="with two crew, counts only when the other one calls it too"
    )


class Lamps(_Expectation):
    """Lamps of one colour that must all be lit."""

    kind: Literal["lamps"]
    call: Annotated[str, AfterValidator(str.lower)] = Field(
        description="spoken count with '#' for the number, or a single lamp's name"
    )
    lamps: tuple[Lamp, ...] = Field(min_length=1, max_length=12)

    @model_validator(mode="after")
    def _call_counts(self) -> Self:
        words = self.call.replace("#", "number")
        if self.call.count("#") > 1 or not re.fullmatch(SPOKEN_PATTERN, words):
            raise ValueError(
                f"'{self.call}' cannot be spoken; write words, with one '#' where the number goes"
            )
        if len(self.lamps) > 1 and "#" not in self.call:
            raise ValueError(
                f"'{self.call}' has no '#' for the number of {len(self.lamps)} lamps; "
                "write for instance '# green'"
            )
        if len({lamp.say for lamp in self.lamps}) < len(self.lamps):
            raise ValueError("two lamps are spoken alike; give each its own 'say'")
        if len({lamp.colour for lamp in self.lamps}) > 1:
            raise ValueError("one group has one colour; make a second expectation for the other")
        return self


class Aural(_Expectation):
    """A bell, horn, clacker or tone, and whether it may be silenced while testing."""

    kind: Literal["aural"]
    call: Spoken
    sound: Literal["bell", "clacker", "horn"] = Field(
        "horn", description="what it is like; a simulated aircraft sounds so"
    )
    silence: Literal["must-silence", "must-not-silence", "not-tried"] = "not-tried"
    returns: bool = Field(False, description="must sound again when set again after silencing")

    @model_validator(mode="after")
    def _returns_after_silence(self) -> Self:
        if self.returns and self.silence != "must-silence":
            raise ValueError("'returns' needs 'silence: must-silence'; only a silenced one returns")
        return self


class Tactile(_Expectation):
    """Something felt, such as a stick shaker."""

    kind: Literal["tactile"]
    call: Spoken


Reads = Annotated[
    tuple[Spoken, ...],
    Field(description="what else is said of it, after its name or one of 'also'; never read back"),
]


class Reading(_Strict):
    """A wrong gauge reading: the words of the callout and the text of the finding."""

    say: Spoken
    reads: Reads = ()
    finding: Written


class Gauge(_Expectation):
    """A pointer, a display or a whole panel with one right reading and named wrong ones."""

    kind: Literal["gauge"]
    expected: Written
    good: tuple[Spoken, ...] = Field(min_length=1)
    reads: Reads = ()
    bad: tuple[Reading, ...] = Field(min_length=1)
    dark: bool | None = Field(
        None,
        description="right is that nothing at all is lit; left out, it is so under 'rest', "
        "and nowhere else",
    )


class Cancel(_Expectation):
    """A warning that is pressed to reset, and whether it must go or must stay."""

    kind: Literal["cancel"]
    call: Spoken
    must: Literal["reset", "stay"]


class Absent(_Expectation):
    """A lamp that must stay dark in this position."""

    kind: Literal["absent"]
    call: Spoken
    caption: Written


class Throw(_Strict):
    """One position of a switch that is exercised inside a test position."""

    id: Id
    say: Spoken
    also: Names = ()


class Throws(_Expectation):
    """A caption that must light in each throw of a switch, which then goes back."""

    kind: Literal["switch"]
    call: Spoken = Field(description="spoken name of the switch")
    caption: Written
    back: Spoken | None = Field(
        None,
        description="where the switch goes back to, as it is spoken: normal, auto; "
        "left out, it is off",
    )
    throws: tuple[Throw, ...] = Field(min_length=2, max_length=4)


class Seconds(_Strict):
    """A time window in seconds."""

    from_: float = Field(alias="from", ge=0, le=600)
    to: float = Field(gt=0, le=600)

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.to <= self.from_:
            raise ValueError(
                f"'to' ({self.to}) must be later than 'from' ({self.from_}); swap them"
            )
        return self


class Extinguish(_Expectation):
    """A lamp that must go out within a window after the selector leaves the position."""

    kind: Literal["extinguish"]
    lamp: Id = Field(description="id of the one-lamp expectation in the same position")
    call: Spoken
    within: Seconds


Expectation = Annotated[
    Lamps | Aural | Tactile | Gauge | Cancel | Absent | Throws | Extinguish,
    Field(discriminator="kind"),
]


class Position(_Strict):
    """One position of the test selector."""

    name: Written
    say: Spoken
    also: Names = ()
    power: PowerNeeds = Field(default_factory=dict)
    caution: str | None = None
    expect: dict[Id, Expectation] = Field(default_factory=dict)


class Timing(_Strict):
    """How sure a spoken time is, in seconds. Settings, not measurements of the aircraft."""

    # Of 100 outer edges of callouts, by the six synthetic voices that speech.boundaries was set
    # on, 95 were right to 47 ms clean, 54 at 20 dB, 70 at 10 dB and 92 at 5 dB. People are less
    # even, and an edge between two callouts of one breath is less sure (0.24 s at 5 dB): wider.
    word_error: float = Field(
        0.13, ge=0, le=2, description="error of a recognised word boundary, each end"
    )
    # Medians of 0.3 to 0.8 s with a slow tail, and the hand: from memory, see docs/timing.md.
    reaction: float = Field(0.7, ge=0, le=5, description="from a light going out to the call")
    reaction_spread: float = Field(0.7, ge=0, le=5, description="to either side of it")
    hand_before: float = Field(0.9, ge=0, le=5, description="hand before the leaving call's end")
    hand_after: float = Field(0.7, ge=0, le=5, description="hand after the leaving call's end")
    silence: float = Field(15.0, gt=0, le=600, description="quiet before a reminder")


class TypeFile(_Strict):
    """An aircraft type's warning-system test."""

    schema_: Literal[1] = Field(alias="schema")
    id: Id
    title: Written
    type: Written
    language: LanguageName = "en"
    buses: dict[Id, Bus] = Field(min_length=1)
    timing: Timing = Field(default_factory=lambda: Timing.model_validate({}))
    battery_minutes: float | None = Field(
        None, gt=0, description="outdated: write 'minutes' with the bus, under 'buses'"
    )
    positions: dict[Id, Position] = Field(min_length=1)
    rest: dict[Id, Expectation] = Field(
        default_factory=dict, description="what to see with the selector back at off"
    )

    @model_validator(mode="before")
    @classmethod
    def _schema_known(cls, data: Any) -> Any:
        return _known_schema(data)


class MelItem(_Strict):
    """Reference data from the airframe's MEL: never a decision."""

    category: Literal["A", "B", "C", "D"]
    title: Written
    remark: str | None = None
    days: int | None = Field(
        None, ge=1, le=1000, description="category A only: the calendar days its remark allows"
    )

    @model_validator(mode="after")
    def _days_of_a(self) -> Self:
        if self.days is not None and self.category != "A":
            raise ValueError(
                f"'days' goes with category A; {self.category} has its own interval, leave it out"
            )
        return self


class Change(_Strict):
    """What differs in one position on this airframe, and why."""

    because: Written
    power: PowerNeeds | None = Field(None, description="replaces the position's power")
    caution: str | None = None
    expect: dict[Id, Expectation] = Field(
        default_factory=dict, description="replaces or adds expectations by id"
    )


class AirframeFile(_Strict):
    """One airframe: what is fitted, what differs, and its MEL reference data."""

    schema_: Literal[1] = Field(alias="schema")
    registration: Registration
    checklist: Id = Field(description="id of the type file")
    type: str | None = Field(None, description="variant name, if it differs from the type's")
    operator: Written
    timing: Timing | None = None
    battery_minutes: float | None = Field(
        None, gt=0, description="outdated: write 'minutes', with the id of the bus"
    )
    minutes: dict[Id, Annotated[float, Field(gt=0)]] = Field(
        default_factory=dict, description="of a bus that may be on for another time here"
    )
    not_fitted: dict[str, Written] = Field(
        default_factory=dict, description="'position' or 'position.expectation' to the reason"
    )
    changes: dict[Id, Change] = Field(default_factory=dict)
    mel: dict[str, MelItem] = Field(default_factory=dict)
    calendar: str = Field(
        "UTC",
        description="IANA time zone whose midnights bound the operator's calendar days, "
        "for instance UTC or Atlantic/Azores",
    )

    @field_validator("calendar")
    @classmethod
    def _zone_known(cls, name: str) -> str:
        try:
            ZoneInfo(name)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ValueError(
                f"'{name}' is not a time zone; write UTC or a name like Atlantic/Azores"
            ) from None
        return name

    @model_validator(mode="before")
    @classmethod
    def _schema_known(cls, data: Any) -> Any:
        return _known_schema(data)


def _known_schema(data: Any) -> Any:
    if isinstance(data, dict) and isinstance(data.get("schema"), int) and data["schema"] > 1:
        raise ValueError(
            f"schema {data['schema']} is newer than this voicecheck (1); update voicecheck"
        )
    return data
