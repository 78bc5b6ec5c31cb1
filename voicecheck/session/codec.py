"""Events and effects as JSON, and back: what a journal line holds."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final, get_args

from pydantic import TypeAdapter, ValidationError

from voicecheck.engine import effects, events
from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import canonical, digest

_ADAPTERS: Final[dict[str, TypeAdapter[Any]]] = {
    kind.__name__.lower(): TypeAdapter(kind) for kind in get_args(events.Event)
}


def event_to_json(event: events.Event) -> dict[str, Any]:
    """A flat object with the event's type and fields."""
    return {"type": type(event).__name__.lower(), **asdict(event)}


def event_from_json(data: Mapping[str, Any]) -> events.Event:
    """The inverse. Raises VoicecheckError for an event this version does not know."""
    fields = dict(data)
    kind = str(fields.pop("type", ""))
    adapter = _ADAPTERS.get(kind)
    if adapter is None:
        raise VoicecheckError(f"event '{kind}' is unknown; the journal is from another version")
    try:
        event: events.Event = adapter.validate_python(fields)
    except ValidationError as error:
        problem = error.errors(include_url=False)[0]["msg"]
        raise VoicecheckError(f"event '{kind}' cannot be read: {problem}") from None
    return event


def effect_to_json(effect: effects.Effect) -> dict[str, Any]:
    """A flat object with the effect's type and fields."""
    kind = re.sub(r"(?<!^)(?=[A-Z])", "-", type(effect).__name__).lower()
    return {"type": kind, **asdict(effect)}


def effects_digest(made: Sequence[effects.Effect]) -> str:
    """SHA-256 of the canonical JSON of all effects of one event, for replay."""
    return digest(canonical([effect_to_json(effect) for effect in made]))


def kept_effects(made: Sequence[effects.Effect]) -> list[dict[str, Any]]:
    """The effects that a journal line holds in full: what was said, noted and concluded."""
    kept = (effects.Say, effects.Note, effects.Finish)
    return [effect_to_json(effect) for effect in made if isinstance(effect, kept)]
