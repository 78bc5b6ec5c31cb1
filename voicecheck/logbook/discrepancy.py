"""One finding as a text that a pilot can copy into a technical log."""

from __future__ import annotations

from collections.abc import Mapping

from voicecheck.journal.header import Header
from voicecheck.logbook.crew import Crew
from voicecheck.logbook.summary import Finding, Mel, Summary
from voicecheck.logbook.wording import allowed, clean, joined, measured, moment, power, stream
from voicecheck.words import say, spoken


def discrepancy(
    finding: Finding, summary: Summary, header: Header | None = None, crew: Crew | None = None
) -> str:
    """The finding in full sentences, without a verdict on what follows from it.

    header: of the same session; brings the outside temperature and the local time, if known.
    crew: named in the text. The database keeps the text without, so that names can be purged.
    """
    zone = header.zone if header is not None else "UTC"
    parts = [
        say("text-test", airframe=summary.airframe, type=summary.type),
        say(
            "text-finding",
            position=finding.position_name,
            power=power(finding.power),
            what=what(finding),
        ),
        say(
            "text-called" if finding.called else "text-not-called",
            expected=finding.expected,
            called=finding.called,
            when=moment(finding.utc, zone),
            stream=stream(finding.at),
        ),
    ]
    if spoken().has(by := f"text-by-{finding.by}"):
        parts.append(say(by))
    if finding.lamp:
        parts.append(say("text-lamp", lamps=finding.lamp))
    if finding.timing:
        window = finding.timing
        took, limits = measured(window.low, window.high), allowed(window.lower, window.upper)
        parts.append(say("text-timed", measured=took, allowed=limits))
    if finding.intermittent:
        parts.append(say("text-intermittent"))
    if header is not None and header.temperature_c is not None:
        parts.append(say("text-temperature", degrees=f"{header.temperature_c:g}"))
    meant = (finding.consequence or say("not-stated")).rstrip(".")
    parts.append(say("text-consequence", consequence=meant))
    parts.append(say("text-chapter", chapter=finding.chapter or say("not-stated")))
    parts.append(say("text-session", session=summary.session))
    if crew is not None:
        parts.append(crew_sentence(crew.as_json()))
    return clean(" ".join(parts))


def crew_sentence(names: Mapping[str, str | None]) -> str:
    """The crew of a session as a sentence."""
    return say("text-crew", crew=crew_line(names) or say("text-crew-unnamed"))


def crew_line(names: Mapping[str, str | None]) -> str:
    """Each name with its role; empty where nobody was named."""
    told = ((say(f"role-{role}"), name) for role, name in names.items() if name)
    return joined(say("text-crew-member", role=role, name=name) for role, name in told)


def what(finding: Finding) -> str:
    """What is wrong, in a few words, and whether it came and went."""
    told = finding.what or say("finding-none")
    return say("finding-intermittent", what=told) if finding.intermittent else told


def mel_data(mel: Mel) -> str:
    """The MEL reference data in words."""
    key = "mel-item-titled" if mel.title else "mel-item"
    parts = [say(key, item=mel.item, title=mel.title)]
    if mel.category:
        parts.append(say("mel-category", category=mel.category))
    if mel.remark:
        parts.append(mel.remark)
    return clean(joined(parts))
