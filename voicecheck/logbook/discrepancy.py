"""One finding as a text that a pilot can copy into a technical log."""

from __future__ import annotations

from voicecheck.logbook.summary import Finding, Mel, Summary
from voicecheck.logbook.wording import allowed, clean, measured, moment, power, stream


def discrepancy(finding: Finding, summary: Summary) -> str:
    """The finding in full sentences, without a verdict on what follows from it."""
    called = f"“{finding.called}” was called" if finding.called else "nothing was called"
    parts = [
        f"{summary.airframe} ({summary.type}), warning-system test.",
        f"{finding.position_name} selected, power {power(finding.power)}: {what(finding)}.",
        f"Expected “{finding.expected}”, {called} at {moment(finding.utc)} "
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
    parts.append(f"Consequence: {(finding.consequence or 'not stated').rstrip('.')}.")
    parts.append(f"System chapter {finding.chapter or 'not stated'}.")
    return clean(" ".join(parts))


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
