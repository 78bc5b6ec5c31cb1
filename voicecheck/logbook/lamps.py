"""Which lamps a finding names dark, as the logbook keeps it.

A JSON list of captions, with a null for what is dark and was not named: a count of one of three
lit, after which one lamp is named, is of two dark lamps. It is empty where the finding is about
no lamp.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from voicecheck.journal.reader import Journal
from voicecheck.logbook.summary import Finding

Lamps = tuple[str | None, ...]
"""Captions of dark lamps, each once; None for what was not named."""
_SHORT: Final = "short"
"""The grade of a reading that counts too few lamps and names none."""


def lamps_of(journal: Journal, finding: Finding) -> str:
    """Those of a finding of the summary.

    The summary joins the captions to a text; where the journal's own note has them one by one,
    they are taken from there.
    """
    named: object = finding.lamp.split(", ") if finding.lamp else []
    for facts in _findings(journal):
        noted = facts.get("lamps")
        if facts.get("item") != finding.item or not isinstance(noted, list) or not noted:
            continue
        if ", ".join(map(str, noted)) == finding.lamp:
            named = noted
    return lamps_in(journal, finding.item, finding.called, named)


def lamps_in(journal: Journal, item: str, called: object, named: object) -> str:
    """The same of what else is known of a finding: its item, what was called, what was named."""
    lamps: list[str | None] = []
    if isinstance(named, list):
        lamps += dict.fromkeys(str(lamp) for lamp in named)
    if len(lamps) < _dark(journal, item, called if isinstance(called, str) else ""):
        lamps.append(None)
    return json.dumps(lamps, ensure_ascii=False)


def lamps_from(kept: str | None) -> Lamps:
    """What `lamps_of` made; where nothing is known, something that was not named."""
    return (None,) if kept is None else tuple(json.loads(kept))


def _dark(journal: Journal, item: str, called: str) -> int:
    """How many lamps a short count in these words leaves dark; 0 where there is none."""
    most = 0
    for position in _mappings(journal.header.checklist.resolved.get("positions")):
        for entry in _mappings(position.get("items")):
            if entry.get("id") == item:
                for reading in _mappings(entry.get("readings")):
                    if reading.get("grade") == _SHORT and _is_in(reading, called):
                        most = max(most, _left_dark(entry, reading))
    return most


def _is_in(reading: Mapping[str, Any], called: str) -> bool:
    phrases = reading.get("phrases")
    return isinstance(phrases, list) and any(str(phrase) in called for phrase in phrases)


def _left_dark(item: Mapping[str, Any], reading: Mapping[str, Any]) -> int:
    """All lamps of the item without those of the count, which ends the reading's key."""
    total = len(list(_mappings(item.get("darks"))))
    lit = str(reading.get("key", "")).rpartition(":")[2]
    return max(1, total - int(lit)) if lit.isdecimal() else 1


def _findings(journal: Journal) -> Iterator[Mapping[str, Any]]:
    for line in journal.lines:
        for effect in _mappings(line.fields.get("effects")):
            facts = effect.get("facts")
            if effect.get("kind") == "finding" and isinstance(facts, Mapping):
                yield facts


def _mappings(value: object) -> Iterator[Mapping[str, Any]]:
    """The objects of a JSON list; nothing for what is none."""
    if isinstance(value, list):
        yield from (one for one in value if isinstance(one, Mapping))
