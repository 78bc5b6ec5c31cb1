"""Invented sessions as journals, made without a session: for measuring the logbook and testing it.

The journals have everything that the logbook reads (chain, notes, windows, summary); what was
heard is abridged. Airframes, crews and figures are invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from voicecheck import __version__
from voicecheck.caution import CAUTION
from voicecheck.journal.chain import FIRST, canonical, digest, seal
from voicecheck.journal.rfc3339 import format_utc
from voicecheck.logbook.crew import name_crew, names_to_json

ITEMS: Final = 30
"""Items in each session, one of them timed."""
HALF: Final = 0.46
"""Half the width of a measured interval, in seconds: that of a session's default settings."""
POWER: Final = {"battery": "on", "avionics": "on"}
_CHECKLIST: Final[dict[str, Any]] = {
    "id": "tarn-40",
    "title": "Tarn 40 test",
    "sha256": "ab" * 32,
    "resolved": {},
}
_MEL: Final = {"item": "32-11", "category": "C", "title": "Anti-skid", "remark": None}


@dataclass(frozen=True, slots=True)
class Invented:
    """What one invented session shows.

    out: seconds until the timed light went out. bad: numbers of items that are unsatisfactory.
    """

    airframe: str
    started: datetime
    out: float = 4.0
    bad: Sequence[int] = ()
    pilot: str | None = None
    operator: str = "Hollin Air Ambulance"
    zone: str = "UTC"
    suffix: str = "0000"
    finished: bool = True

    @property
    def id(self) -> str:
        """The session id."""
        plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in self.airframe)
        return f"{self.started:%Y%m%dT%H%M%SZ}-{plain[:30]}-{self.suffix}"


def journal_of(one: Invented) -> tuple[bytes, str | None]:
    """The journal of an invented session, and the text of its crew.json if it has a crew."""
    seals, names = name_crew(one.pilot, None)
    header = {
        "schema": 1,
        "session": one.id,
        "voicecheck": __version__,
        "started": format_utc(one.started),
        "airframe": one.airframe,
        "operator": one.operator,
        "checklist": _CHECKLIST,
        "crew": {"pilot": None, "second": None},
        "crew_seal": seals,
        "zone": one.zone,
        "source": {"kind": "file", "name": "invented"},
        "listeners": ["none"],
        "language": "en",
        "rate": 16_000,
        "settings": {},
        "caution": CAUTION,
    }
    lines: list[tuple[str, float, Mapping[str, object]]] = [("header", 0.0, header)]
    lines += _course(one)
    if one.finished:
        lines.append(("summary", 130.0, {"summary": _summary(one, header)}))
    return chained(one.started, lines), names_to_json(names) if names else None


def chained(started: datetime, lines: Iterable[tuple[str, float, Mapping[str, object]]]) -> bytes:
    """Lines (kind, seconds, fields) as the journal writes them."""
    prev, made = FIRST, []
    for n, (kind, at, fields) in enumerate(lines):
        utc = format_utc(started + timedelta(seconds=at))
        line: dict[str, object] = {**fields, "n": n, "prev": prev, "kind": kind, "utc": utc}
        if kind == "summary":
            line["seal"] = seal(line)
        data = canonical(line)
        prev = digest(data)
        made.append(data + b"\n")
    return b"".join(made)


def _low_high(one: Invented) -> tuple[float, float]:
    return round(one.out - HALF, 3), round(one.out + HALF, 3)


def _verdict(one: Invented) -> str:
    low, high = _low_high(one)
    if high <= 5.0 and low >= 3.0:
        return "within"
    return "late" if low > 5.0 else "early" if high < 3.0 else "too close to call"


def _course(one: Invented) -> list[tuple[str, float, Mapping[str, object]]]:
    low, high = _low_high(one)
    made: list[tuple[str, float, Mapping[str, object]]] = []
    for number in range(1, ITEMS):
        at, bad = 4.0 * number, number in one.bad
        facts: dict[str, object] = {
            "item": item_name(number),
            "outcome": "unsatisfactory" if bad else "satisfactory",
            "expected": "both lights",
            "called": "one light" if bad else "both lights",
            "reason": f"lamp {number} dark" if bad else None,
            "start": at,
            "end": at + 0.9,
            "lamps": [],
        }
        note = {"type": "note", "kind": "finding" if bad else "result", "at": at, "facts": facts}
        event = {"type": "heard", "words": facts["called"], "start": at, "end": at + 0.9}
        made.append(("event", at + 0.9, {"event": event, "effects": [note], "said": ["Next."]}))
    facts = {"item": "anti-skid.out", "verdict": _verdict(one), "low": low, "high": high}
    note = {"type": "note", "kind": "window", "at": 125.0, "facts": facts}
    event = {"type": "heard", "words": "anti skid out", "start": 124.0, "end": 125.0}
    made.append(("event", 125.0, {"event": event, "effects": [note], "said": ["In time."]}))
    return made


def item_name(number: int) -> str:
    """The id of an invented item."""
    return f"position-{number}.lights"


def _utc(one: Invented, at: float) -> str:
    return format_utc(one.started + timedelta(seconds=at))


def _is_bad(one: Invented, number: int) -> bool:
    return number in one.bad or (number == ITEMS and _verdict(one) in ("late", "early"))


def _item(one: Invented, number: int) -> dict[str, Any]:
    bad, unsure = _is_bad(one, number), False
    if number == ITEMS:
        at, item, position, called = 124.0, "anti-skid.out", "Anti-skid", "anti skid out"
        what, expected = f"anti skid out {_verdict(one)}", "anti skid out in 3 to 5 seconds"
        unsure = _verdict(one) == "too close to call"
    else:
        at, item, position = 4.0 * number, item_name(number), f"Position {number}"
        called = "one light" if bad else "both lights"
        what, expected = f"lamp {number} dark", "both lights"
    return {
        "id": item,
        "position": item.partition(".")[0],
        "position_name": position,
        "outcome": "not tested" if unsure else "unsatisfactory" if bad else "satisfactory",
        "expected": expected,
        "called": called,
        "times": {"start": at, "end": at + 0.9, "utc": _utc(one, at)},
        "reason": what if bad else "too close to call" if unsure else None,
        "power": POWER,
        "history": [],
    }


def _finding(one: Invented, item: Mapping[str, Any], timed: bool) -> dict[str, Any]:
    low, high = _low_high(one)
    return {
        "item": item["id"],
        "position_name": item["position_name"],
        "what": item["reason"],
        "expected": item["expected"],
        "called": item["called"],
        "lamp": None,
        "at": item["times"]["start"],
        "utc": item["times"]["utc"],
        "power": POWER,
        "consequence": "Invented.",
        "caution": None,
        "chapter": "32",
        "mel": _MEL,
        "timing": {"lower": 3.0, "upper": 5.0, "low": low, "high": high} if timed else None,
        "superseded": False,
    }


def _summary(one: Invented, header: Mapping[str, Any]) -> dict[str, object]:
    low, high = _low_high(one)
    items = [_item(one, number) for number in range(1, ITEMS + 1)]
    findings = [
        _finding(one, item, number == ITEMS)
        for number, item in enumerate(items, 1)
        if _is_bad(one, number)
    ]
    names = ("schema", "caution", "voicecheck", "session", "airframe", "operator", "crew",
             "started", "source", "listeners")  # fmt: skip
    untested = [item for item in items if item["outcome"] == "not tested"]
    return {name: header[name] for name in names} | {
        "checklist": {key: header["checklist"][key] for key in ("id", "title", "sha256")},
        "type": "Tarn 40",
        "ended": _utc(one, 130.0),
        "duration_s": 130.0,
        "complete": not untested,
        "reason": "the recording ended" if untested else None,
        "items": items,
        "findings": findings,
        "void": [],
        "not_tested": [{"id": item["id"], "reason": item["reason"]} for item in untested],
        "timings": [
            {"item": "anti-skid.out", "lower": 3.0, "upper": 5.0, "low": low, "high": high,
             "verdict": _verdict(one), "at": 125.0}
        ],
        "power": [],
        "counts": {"heard": ITEMS, "unclear": 0, "ignored": 0},
    }  # fmt: skip
