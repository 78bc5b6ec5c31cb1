"""The journal told line by line: when, who, what."""

from __future__ import annotations

import enum
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from voicecheck.journal.chain import canonical
from voicecheck.journal.format import Kind, Line
from voicecheck.journal.reader import Journal
from voicecheck.logbook.wording import clean, figure, joined, named, power
from voicecheck.words import say


class Who(enum.StrEnum):
    """Whose line it is."""

    PILOT = "PILOT"
    SECOND = "SECOND"
    KEY = "KEY"
    TOUCH = "TOUCH"
    VOICE = "VOICE"
    UNCLEAR = "UNCLEAR"
    IGNORED = "IGNORED"
    NOTE = "NOTE"


@dataclass(frozen=True, slots=True)
class Row:
    """utc: RFC 3339. start, end: seconds of stream time, None where the line has none."""

    utc: str
    start: float | None
    end: float | None
    who: Who
    text: str


def rows(journal: Journal) -> list[Row]:
    """Everything that was said, heard, asked again, left alone or noted, in order."""
    return [row for line in journal.lines for row in _of_line(line)]


def notes(journal: Journal) -> list[Row]:
    """The notes alone: what stands recorded even if no summary was reached."""
    return [row for row in rows(journal) if row.who is Who.NOTE]


def spoken(journal: Journal) -> list[Row]:
    """When our own voice was audible (for a picture; its words stand in `rows`)."""
    found = []
    for line in journal.lines:
        event = _mapping(line.fields.get("event"))
        if _kind_of(event) == "prompted":
            start, end = _span(event)
            found.append(Row(line.utc, start, end, Who.VOICE, say("prompt")))
    return found


def _of_line(line: Line) -> Iterator[Row]:
    fields = line.fields
    start, end = _span(fields)
    if line.kind is Kind.EVENT:
        yield from _of_event(line)
    elif line.kind is Kind.SPEECH:
        heard = clean(str(fields.get("text") or ""))
        why = clean(str(fields.get("reason") or say("row-not-for-us")))
        text = say("row-heard", reason=why, text=heard) if heard else why
        yield Row(line.utc, start, end, Who.IGNORED, text)
    elif line.kind is Kind.RESUMED:
        yield Row(line.utc, start, end, Who.NOTE, _told(say("row-resumed"), fields))
    elif line.kind is Kind.REMARK:
        yield Row(line.utc, start, end, Who.NOTE, _text(fields, "text", say("row-remark")))


def _of_event(line: Line) -> Iterator[Row]:
    """An event, what it led to, and what was said then."""
    event = _mapping(line.fields.get("event"))
    start, end = _span(event)
    told = _event(event)
    if told is not None:
        yield Row(line.utc, start, end, *told)
    for effect in _list(line.fields.get("effects")):
        note = _mapping(effect)
        about = str(note.get("kind", "note"))
        if _kind_of(note) == "note" and about not in _ECHOES:
            at = _number(note.get("at"))
            text = _facts(about, _mapping(note.get("facts")))
            yield Row(line.utc, at if at is not None else start, None, Who.NOTE, text)
    for said in _list(line.fields.get("said")):
        yield Row(line.utc, end if end is not None else start, None, Who.VOICE, clean(str(said)))


_LONGEST = 1e6
"""Seconds; a time beyond eleven days is not one of a session."""

_ECHOES = frozenset({"unclear", "lost", "restored"})
"""Notes that only repeat the event they answer, which has a row already."""


def _event(event: Mapping[str, object]) -> tuple[Who, str] | None:
    """Who and what of one engine event; None for the mere passing of time."""
    words = _text(event, "words", _text(event, "callout", ""))
    match _kind_of(event):
        case "heard":
            return (Who.SECOND if event.get("channel") == 1 else Who.PILOT), words
        case "keypressed":
            return (Who.TOUCH if event.get("by") == "touch" else Who.KEY), words
        case "unclear":
            return Who.UNCLEAR, _unclear(event)
        case "lost" | "restored" as what:
            part = named("part", _text(event, "part", "")) or say("row-a-part")
            return Who.NOTE, say(f"row-part-{what}", part=part)
        case "ended":
            reason = _text(event, "reason", say("row-no-reason"))
            return Who.NOTE, say("row-ended", reason=reason)
        case "began":
            return Who.NOTE, say("row-began")
        case "passed" | "prompted" | "overheard":  # what was overheard has a line of its own
            return None
        case other:
            told = canonical(event).decode()
            return Who.NOTE, clean(say("row-facts", kind=other, facts=told))


def _facts(kind: str, facts: Mapping[str, object]) -> str:
    """A note of the engine with what it tells."""
    return _told(say("row-note") if kind == "note" else _word("note", kind), facts)


def _unclear(event: Mapping[str, object]) -> str:
    guess = joined(clean(str(name)) for name in _list(event.get("guess")))
    return say("row-unclear-guess" if guess else "row-unclear", guess=guess)


def _text(fields: Mapping[str, object], name: str, otherwise: str) -> str:
    return clean(str(fields.get(name) or otherwise))


def _told(title: str, facts: Mapping[str, object]) -> str:
    """In English "result: item gear.greens; outcome satisfactory"; absent ones are left out."""
    told = [
        say("row-fact", name=_word("fact", key), value=_value(value, key))
        for key, value in facts.items()
        if _has(value)
    ]
    if not told:
        return clean(title)
    return clean(say("row-facts", kind=title, facts=say("row-facts-between").join(told)))


def _word(kind: str, name: str) -> str:
    """The language's word for a kind of note or fact, else its name as words."""
    plain = name.replace("_", " ")
    found = named(kind, name.replace("_", "-"))
    return plain if found == name.replace("_", "-") else found


def _has(value: object) -> bool:
    return value is not None and value != [] and value != {} and value != ""


_KINDS = {"outcome": "outcome", "verdict": "verdict", "state": "", "part": "part"}
"""Facts whose values are identifiers, and how the texts for these begin."""


def _identifier(value: str, key: str) -> str:
    if key == "position" and value == "off":
        return say("off")  # the one position whose id is ours
    return named(_KINDS[key], value) if key in _KINDS else value


def _value(value: object, key: str) -> str:
    if isinstance(value, str):
        return _identifier(value, key)
    if isinstance(value, bool):
        return say("yes" if value else "no")
    if isinstance(value, Mapping) and all(isinstance(on, str) for on in value.values()):
        return power(value)
    if isinstance(value, list) and all(isinstance(part, str) for part in value):
        return joined(value)
    if isinstance(value, float):
        return figure(value)
    return canonical(value).decode()


def _kind_of(entry: Mapping[str, object]) -> str:
    return "".join(c for c in str(entry.get("type", "")).lower() if c.isalpha())


def _span(entry: Mapping[str, object]) -> tuple[float | None, float | None]:
    """Start and end in stream time; an instant has only a start."""
    for key in ("start", "at", "now"):
        if (start := _number(entry.get(key))) is not None:
            return start, _number(entry.get("end"))
    return None, None


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > _LONGEST:
        return None
    return float(value)


def _mapping(value: object) -> Mapping[str, object]:
    return value if isinstance(value, Mapping) else {}


def _list(value: object) -> Sequence[object]:
    return value if isinstance(value, list) else []
