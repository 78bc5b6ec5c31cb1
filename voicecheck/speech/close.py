"""Callouts that sound so alike that one of them is asked about before it counts."""

from __future__ import annotations

from typing import Final

from voicecheck.callouts import Callout, Stakes
from voicecheck.speech.apart import Apart
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Unclear, Verdict
from voicecheck.words import say

COMMAND: Final = "command:"
"""Beginning of the keys of commands: a question about one could only be answered by another."""
_DEAR: Final = (Stakes.CLOSES_GOOD, Stakes.ADVANCES)
"""Stakes at which a mistake is not simply read back and put right, dearest first."""


def to_be_confirmed(grammar: Grammar, apart: Apart) -> frozenset[str]:
    """Wordings that may not be acted on at once.

    Of two wordings below the limit that mean different things, that of the dearer callout;
    both where they are equally dear. Left alone are a command, which cannot be asked about
    (the other one is), a callout that the session asks about anyway, and two callouts that
    both record something bad: the crew hears either read back, and nothing is good by it.
    """
    found: set[str] = set()
    phrases = list(grammar.phrases.items())
    for at, one in enumerate(phrases):
        for other in phrases[at + 1 :]:
            if one[1].key != other[1].key and apart.below(one[0], other[0]) is not None:
                found.update(_dearer(one, other))
    return frozenset(found)


def _dearer(*wordings: tuple[str, Callout]) -> list[str]:
    askable = [(p, c) for p, c in wordings if not c.key.startswith(COMMAND)]
    dearest = min((_DEAR.index(c.stakes) for _, c in askable if c.stakes in _DEAR), default=None)
    if dearest is None:
        return []
    return [p for p, c in askable if c.stakes is _DEAR[dearest] and not c.asked]


def confirmed_first(verdict: Verdict, close: frozenset[str]) -> Verdict:
    """The verdict, turned into a question where it would act on one of these wordings."""
    if not isinstance(verdict, Accepted):
        return verdict
    doubtful = [spoken.words for spoken in verdict.spoken if spoken.words in close]
    if not doubtful:
        return verdict
    reason = say("speech-alike", text=repr(doubtful[0]))
    return Unclear(verdict.start, verdict.end, verdict.decided, verdict.spoken, reason)
