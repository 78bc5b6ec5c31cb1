"""The transcript as WebVTT (W3C), to be shown beside the recording it was made from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from voicecheck.logbook.rows import Row, Who, rows
from voicecheck.logbook.sessions import Session
from voicecheck.logbook.wording import clean, named
from voicecheck.words import say, speaking

_SHORTEST_S: Final = 0.5
"""A cue without an end, or a very short one, is shown at least this long."""
_WORD_S: Final = 60 / 165
"""A prompt's words, at the default rate of the voice."""
_SHOWN: Final = frozenset({Who.PILOT, Who.SECOND, Who.KEY, Who.TOUCH, Who.VOICE, Who.UNCLEAR})


def captions(session: Session) -> str:
    """Cues in the order of their start, each with its speaker."""
    with speaking(session.words):
        told = [row for row in rows(session.journal) if row.who in _SHOWN and row.start is not None]
        return "\n".join(["WEBVTT", "", f"NOTE {_plain(say('caution'))}", "", *_cues(told)])


def _cues(told: list[Row]) -> Iterator[str]:
    timed = sorted(
        ((row.start, row.end, row) for row in told if row.start is not None),
        key=lambda entry: entry[0],
    )
    spoken, cues = 0.0, list[tuple[float, float, Row]]()
    for start, end, row in timed:
        begin = max(0.0, start)
        last = max(begin + _SHORTEST_S, end if end is not None else 0.0)
        if row.who is Who.VOICE:  # prompts of one event follow each other
            begin = max(begin, spoken)
            last = spoken = begin + max(_SHORTEST_S, len(row.text.split()) * _WORD_S)
        cues.append((begin, last, row))
    # A prompt that waited for another may begin after what was called meanwhile.
    cues.sort(key=lambda cue: cue[0])
    for number, (begin, last, row) in enumerate(cues, 1):
        who = _plain(named("who", row.who.lower()))
        yield f"{number}\n{stamp(begin)} --> {stamp(last)}\n<v {who}>{_plain(row.text)}\n"


def stamp(seconds: float) -> str:
    """``hh:mm:ss.ttt``, as WebVTT wants it."""
    milli = round(seconds * 1000)
    minutes, rest = divmod(milli, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"


def _plain(text: str) -> str:
    """Text that cannot be taken for markup, nor for a cue's timing."""
    return clean(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;") or say(
        "caption-empty"
    )
