"""One finding as a text that a pilot can copy into a technical log."""

from __future__ import annotations

from collections.abc import Mapping

from voicecheck.journal.header import Header
from voicecheck.logbook.crew import Crew
from voicecheck.logbook.summary import Finding, Mel, Summary
from voicecheck.logbook.wording import allowed, clean, measured, moment, power, stream


def discrepancy(
    finding: Finding, summary: Summary, header: Header | None = None, crew: Crew | None = None
) -> str:
    """The finding in full sentences, without a verdict on what follows from it.

    header: of the same session; brings the outside temperature and the local time, if known.
    crew: named in the text. The database keeps the text without, so that names can be purged.
    """
    zone = header.zone if header is not None else "UTC"
    called = f"“{finding.called}” was called" if finding.called else "nothing was called"
    parts = [
        f"{summary.airframe} ({summary.type}), warning-system test.",
        f"{finding.position_name} selected, power {power(finding.power)}: {what(finding)}.",
        f"Expected “{finding.expected}”, {called} at {moment(finding.utc, zone)} "
        f"({stream(finding.at)} into the session).",
    ]
    if finding.lamp:
        parts.append(f"Lamp: {finding.lamp}.")
    if finding.timing:
        window = finding.timing
        parts.append(
            f"Time measured {measured(window.low, window.high)}, "
            f"allowed {allowed(window.lower, window.upper)}."
        )
    if header is not None and header.temperature_c is not None:
        parts.append(f"Outside air {header.temperature_c:g} °C.")
    parts.append(f"Consequence: {(finding.consequence or 'not stated').rstrip('.')}.")
    parts.append(f"System chapter {finding.chapter or 'not stated'}.")
    parts.append(f"Session {summary.session}.")
    if crew is not None:
        parts.append(called_by(crew.as_json()))
    return clean(" ".join(parts))


def called_by(names: Mapping[str, str | None]) -> str:
    """The crew of a session as a sentence."""
    named = [f"{role} {name}" for role, name in names.items() if name]
    return f"Called by {', '.join(named) or 'a crew that was not named'}."


def what(finding: Finding) -> str:
    """What is wrong, in a few words."""
    return finding.what or "called otherwise than expected"


def mel_data(mel: Mel) -> str:
    """The MEL reference data in words."""
    parts = [f"item {mel.item}" + (f" {mel.title}" if mel.title else "")]
    if mel.category:
        parts.append(f"category {mel.category}")
    if mel.remark:
        parts.append(mel.remark)
    return clean(", ".join(parts))
