"""The checklist of a journal's header, also of one from before checklists had all that is in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist, checklist_from_json
from voicecheck.language import load_language
from voicecheck.words import recorded, shipped_folder

_ONCE_TIMED: Final = "battery"
"""Id of the bus that was always the timed one, when a header had `battery_minutes`."""


def recorded_checklist(data: object) -> Checklist:
    """The checklist that a session was run with.

    A header without words is from when every record was written in English, whatever its
    language. Raises pydantic.ValidationError on foreign data.
    """
    if not isinstance(data, Mapping):
        return checklist_from_json(data)
    words = recorded(data)
    found: dict[str, Any] = {**data, "record": words.record, "report": words.report}
    minutes = found.pop("battery_minutes", None)
    if minutes is not None and isinstance(found.get("buses"), list):
        found["buses"] = [_timed(bus, minutes) for bus in found["buses"]]
    if isinstance(found.get("reasons"), Mapping):
        found["reasons"] = _in_order(found["reasons"], words.language)
    return checklist_from_json(found)


def _in_order(reasons: Mapping[str, Any], language: str) -> Mapping[str, Any]:
    """Reasons whose order a journal's sorted keys have lost: in that of the language, if known."""
    folder = shipped_folder(language)
    known = load_language(folder).reasons if folder is not None else {}
    return {name: reasons[name] for name in known} if set(known) == set(reasons) else reasons


def _timed(bus: Any, minutes: float) -> Any:
    if isinstance(bus, Mapping) and bus.get("id") == _ONCE_TIMED:
        return {**bus, "minutes": minutes}
    return bus
