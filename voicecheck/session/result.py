"""The machine-readable result of a session: the engine's summary with who, what and when."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any

from voicecheck.journal.rfc3339 import format_utc

EXIT_GOOD, EXIT_FINDINGS, EXIT_USAGE, EXIT_INCOMPLETE = 0, 1, 2, 3


def full_summary(
    header: Mapping[str, Any], engine: Mapping[str, Any], ignored: int, type_name: str
) -> dict[str, Any]:
    """Join the journal's header with the engine's summary; stream times also get a UTC."""
    started = datetime.fromisoformat(str(header["started"]))

    def utc(at: float) -> str:
        return format_utc(started + timedelta(seconds=at))

    checklist = {key: header["checklist"][key] for key in ("id", "title", "sha256")}
    body = {key: value for key, value in engine.items() if key != "ended_at"}
    _stamp(body, utc)
    return {
        "schema": 1,
        "caution": header["caution"],
        "voicecheck": header["voicecheck"],
        "session": header["session"],
        "checklist": checklist,
        "airframe": header["airframe"],
        "type": type_name,
        "operator": header["operator"],
        "crew": header["crew"],
        "started": header["started"],
        "ended": utc(float(engine["ended_at"])),
        "duration_s": engine["ended_at"],
        "source": header["source"],
        "listeners": header["listeners"],
        **body,
        "counts": {**engine["counts"], "ignored": ignored},
    }


def _stamp(body: dict[str, Any], utc: Callable[[float], str]) -> None:
    body["items"] = [
        {**i, "times": {**i["times"], "utc": utc(i["times"]["start"])} if i["times"] else None}
        for i in body["items"]
    ]
    for part in ("findings", "power"):
        body[part] = [{**entry, "utc": utc(entry["at"])} for entry in body[part]]


def exit_status(summary: Mapping[str, Any]) -> int:
    """0 all satisfactory or not fitted, 1 findings, 3 not everything was tested."""
    if not summary["complete"]:
        return EXIT_INCOMPLETE
    standing = [finding for finding in summary["findings"] if not finding["superseded"]]
    return EXIT_FINDINGS if standing else EXIT_GOOD
