"""The summary of a session as the logbook reads it: checked, typed, immutable.

Times `start`, `end`, `at` are seconds of audio-stream time; `lower`, `upper`, `low`,
`high` are seconds of duration (the allowed window, and the bounds of what was measured).
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field, ValidationError

from voicecheck.errors import InputError, Place
from voicecheck.journal.header import ChecklistRef, Crew, Part, Source, Utc, told

Outcome = Literal["satisfactory", "unsatisfactory", "not fitted", "not tested", "void"]


class Times(Part):
    """When the words that decided an item were spoken."""

    start: float
    end: float
    utc: Utc


class Past(Part):
    """One earlier result of an item; the newest is the item's own outcome."""

    outcome: str
    called: str | None
    start: float | None
    end: float | None
    reason: str | None
    by: str | None = None


class Item(Part):
    """One thing to be checked and what became of it."""

    id: str
    position: str
    position_name: str
    outcome: Outcome
    expected: str
    called: str | None
    times: Times | None
    reason: str | None
    power: dict[str, str]
    history: list[Past]
    by: str | None = None
    """Who called it: "pilot", "second" or "hand", where that is known."""


class Mel(Part):
    """What the operator's MEL data say of the item: data, never a decision."""

    item: str
    category: str | None
    title: str | None = None
    remark: str | None
    days: int | None = None
    """Calendar days that the remark of a category A item allows."""


class Window(Part):
    """Allowed (lower to upper) and measured (low to high); None where there is no bound."""

    lower: float | None
    upper: float | None
    low: float | None
    high: float | None


class Finding(Part):
    """Something that was called otherwise than expected. superseded: tested again since.

    intermittent: it came and went; called as expected on another visit, and open all the same.
    """

    item: str
    position_name: str
    what: str | None
    expected: str
    called: str | None
    lamp: str | None
    at: float
    utc: Utc
    power: dict[str, str]
    consequence: str | None
    caution: str | None
    chapter: str | None
    mel: Mel | None
    timing: Window | None
    superseded: bool
    intermittent: bool = False
    by: str | None = None


class Timing(Window):
    """A timed item and the verdict in words; `at` is when the closing callout was spoken."""

    item: str
    verdict: str
    at: float | None = None


class NotTested(Part):
    """An item that nothing was recorded for, and why."""

    id: str
    reason: str | None


class PowerChange(Part):
    """A bus that changed, as called."""

    bus: str
    state: str
    at: float
    utc: Utc


class Counts(Part):
    """Utterances heard, asked again, and left alone."""

    heard: int
    unclear: int
    ignored: int


class Summary(Part):
    """The machine-readable result of one session."""

    schema_: Literal[1] = Field(alias="schema")
    caution: str
    voicecheck: str
    session: str
    checklist: ChecklistRef
    airframe: str
    type: str
    operator: str
    crew: Crew
    started: Utc
    ended: Utc
    duration_s: float
    source: Source
    listeners: list[str]
    complete: bool
    reason: str | None
    items: list[Item]
    findings: list[Finding]
    void: list[str]
    not_tested: list[NotTested]
    timings: list[Timing]
    power: list[PowerChange]
    counts: Counts


def summary_from(fields: object, place: Place) -> Summary:
    """Check a summary read at `place`. Raises InputError."""
    try:
        return Summary.model_validate(fields)
    except ValidationError as error:
        raise InputError(
            place,
            f"summary not understood: {told(error)}",
            "read it with the voicecheck that wrote it",
        ) from error
