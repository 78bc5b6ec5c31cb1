"""The session as a picture: lanes over stream time, ready to be drawn as SVG."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from voicecheck.logbook.discrepancy import what
from voicecheck.logbook.outcome import standing, superseded
from voicecheck.logbook.rows import Row, Who, rows, spoken
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.summary import Summary
from voicecheck.logbook.wording import named, stream
from voicecheck.words import say

WIDTH: Final = 760.0
LEFT: Final = 96.0
"""Units of the drawing; the lanes begin at LEFT and end at WIDTH."""
_SHORTEST: Final = 2.0
_LETTER: Final = 6.0
"""Room that a printed letter takes, so that names never run into the next bar."""
_STEPS: Final = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)


@dataclass(frozen=True, slots=True)
class Bar:
    """x and width in drawing units; label is its tooltip, text what is printed in it."""

    x: float
    width: float
    label: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Lane:
    """One row of bars. kind picks its look."""

    name: str
    kind: str
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Timeline:
    """lanes from top to bottom; ticks as (x, stream time)."""

    lanes: tuple[Lane, ...]
    ticks: tuple[tuple[float, str], ...]


def timeline(session: Session) -> Timeline | None:
    """The picture of a session; None when nothing in it has a time."""
    told, prompts = rows(session.journal), spoken(session.journal)
    times = [t for row in (*told, *prompts) for t in (row.start, row.end) if t is not None]
    end = max(times, default=0.0)
    if end <= 0:
        return None
    scale = (WIDTH - LEFT) / end
    lanes = [
        Lane(
            say("lane-crew"),
            "crew",
            _bars(told, {Who.PILOT, Who.SECOND, Who.KEY, Who.TOUCH}, scale),
        ),
        Lane(say("lane-voice"), "voice", _bars(prompts, {Who.VOICE}, scale)),
        Lane(say("lane-unclear"), "unclear", _bars(told, {Who.UNCLEAR}, scale)),
        Lane(say("lane-ignored"), "ignored", _bars(told, {Who.IGNORED}, scale)),
    ]
    if session.summary is not None:
        lanes.insert(0, Lane(say("lane-positions"), "position", _positions(session.summary, scale)))
        lanes.append(Lane(say("lane-timed"), "timed", _timed(session.summary, scale)))
        lanes.append(Lane(say("lane-findings"), "finding", _findings(session.summary, scale)))
    step = next((s for s in _STEPS if end / s <= 10), math.ceil(end / 10))
    ticks = tuple(
        (round(LEFT + k * step * scale, 1), stream(k * step)) for k in range(int(end // step) + 1)
    )
    return Timeline(tuple(lane for lane in lanes if lane.bars), ticks)


def _bar(start: float, end: float | None, scale: float, label: str, text: str = "") -> Bar:
    width = max(_SHORTEST, ((end if end is not None else start) - start) * scale)
    return Bar(round(LEFT + start * scale, 1), round(width, 1), label, text)


def _bars(entries: Iterable[Row], who: set[Who], scale: float) -> tuple[Bar, ...]:
    return tuple(
        _bar(row.start, row.end, scale, _label(row.start, row.text, named("who", row.who.lower())))
        for row in entries
        if row.who in who and row.start is not None
    )


def _positions(summary: Summary, scale: float) -> tuple[Bar, ...]:
    """Each unbroken stay in a position, from its first deciding callout to its last."""
    timed = sorted(
        (
            (item.times.start, item.times.end, item.position_name)
            for item in summary.items
            if item.times is not None
        ),
    )
    stays = [
        (name, spans[0][0], max(end for _, end, _ in spans))
        for name, group in groupby(timed, key=lambda entry: entry[2])
        if (spans := list(group))
    ]
    bars = [
        _bar(first, last, scale, say("lane-bar", stream=stream(first), text=name), name)
        for name, first, last in stays
    ]
    rooms = [*(bar.x for bar in bars), WIDTH][1:]
    return tuple(
        bar if room - bar.x > _LETTER * len(bar.text) else replace(bar, text="")
        for bar, room in zip(bars, rooms, strict=True)
    )


def _timed(summary: Summary, scale: float) -> tuple[Bar, ...]:
    """From the earliest possible start of each measured interval to the callout that closed it."""
    return tuple(
        _bar(
            max(0.0, t.at - t.high), t.at, scale, _label(t.at, named("verdict", t.verdict), t.item)
        )
        for t in summary.timings
        if t.at is not None and t.high is not None
    )


def _findings(summary: Summary, scale: float) -> tuple[Bar, ...]:
    return tuple(
        _bar(f.at, None, scale, _label(f.at, text, f.position_name))
        for f, text in (
            *((f, what(f)) for f in standing(summary)),
            *((f, say("lane-retested", what=what(f))) for f in superseded(summary)),
        )
    )


def _label(at: float, text: str, who: str) -> str:
    return say("lane-row", stream=stream(at), who=who, text=text)
