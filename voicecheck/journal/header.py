"""The first line: which session this is, of what, by whom, under which settings."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.journal.format import SCHEMA
from voicecheck.journal.rfc3339 import parse

SESSION_ID = r"^[0-9]{8}T[0-9]{6}Z-[A-Za-z0-9-]{1,40}$"
"""UTC of the start, airframe, a few random characters: 20261125T061500Z-ZZ-HAA-4f2a."""


def _utc(text: str) -> str:
    try:
        parse(text)
    except VoicecheckError as error:
        raise ValueError(str(error)) from error
    return text


Utc = Annotated[str, AfterValidator(_utc)]
"""An RFC 3339 time, kept as the text it was."""


class Part(BaseModel):
    """A piece of the record: immutable, and strict about types (no "yes" for true)."""

    model_config = ConfigDict(frozen=True, strict=True, extra="allow")


class ChecklistRef(Part):
    """The checklist that was run: its digest says exactly which edition."""

    id: str
    title: str
    sha256: str = Field(pattern=r"^[0-9a-f]{64}$")


class ResolvedChecklist(ChecklistRef):
    """The same, with the whole checklist as resolved for this airframe (for replay)."""

    resolved: dict[str, object]


class Crew(Part):
    """Names as given at the start; None where none was given."""

    pilot: str | None
    second: str | None


class CrewSeal(Part):
    """For each name that was given, the SHA-256 of its salt and itself (see logbook.crew).

    The names stand beside the journal, not in it, so that they can be purged and the chain
    still verifies.
    """

    pilot: str | None = Field(default=None, pattern=r"^[0-9a-f]{64}$")
    second: str | None = Field(default=None, pattern=r"^[0-9a-f]{64}$")


class Source(Part):
    """Where the sound came from. kind: file, microphone or keys."""

    kind: str
    name: str


class DatedBy(Part):
    """Why a recording has its date: told, beside, name or sound (see session.dating).

    played: when it was heard, by this machine's clock.
    """

    by: str
    played: Utc


class Header(Part):
    """Line 0 without the writer's own keys. rate: samples per second."""

    schema_: int = Field(alias="schema")
    session: str = Field(pattern=SESSION_ID)
    voicecheck: str
    started: Utc
    airframe: str
    operator: str
    checklist: ResolvedChecklist
    crew: Crew
    crew_seal: CrewSeal | None = None
    zone: str = "UTC"
    """IANA name of the time zone in which the operator counts calendar days."""
    dated: DatedBy | None = None
    """Of a recording alone."""
    temperature_c: float | None = None
    """Outside air in degrees Celsius, where it was given."""
    source: Source
    listeners: list[str]
    language: str
    rate: int = Field(gt=0)
    settings: dict[str, object]
    caution: str


def header_from(fields: object, place: Place) -> Header:
    """Check the fields of line 0. Raises InputError at `place`."""
    version = fields.get("schema") if isinstance(fields, dict) else None
    if type(version) is not int or version != SCHEMA:
        raise InputError(
            place,
            f"journal schema {version!r} is not known here",
            f"read it with the voicecheck that wrote it (this one reads schema {SCHEMA})",
        )
    try:
        return Header.model_validate(fields)
    except ValidationError as error:
        raise InputError(place, told(error), "restore the journal from a copy") from error


def told(error: ValidationError) -> str:
    """The first of pydantic's complaints as one plain line."""
    first = error.errors(include_url=False, include_input=False)[0]
    where = ".".join(str(step) for step in first["loc"]) or "the line"
    return f"{where}: {first['msg'][:200]}"
