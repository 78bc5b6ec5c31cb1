"""Wordings that nobody taught: what is made of them by ear.

A taught wording was measured against all others. These were not, and many are a single word from
their opposite: what would close an item as good, or move the session, waits for a yes.
"""

from __future__ import annotations

from typing import Final

from voicecheck.callouts import Callout, Stakes
from voicecheck.meaning.network import Network
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict
from voicecheck.words import say

_DEAR: Final = (Stakes.CLOSES_GOOD, Stakes.ADVANCES)


def read_back_first(verdict: Verdict, grammar: Grammar) -> Verdict:
    """The verdict, made a question where it would act on a wide wording that is dear."""
    if not isinstance(verdict, Accepted):
        return verdict
    by_key = {callout.key: callout for callout in grammar.callouts}
    for spoken in verdict.spoken:
        callout = by_key[spoken.callout]
        if spoken.words not in grammar.phrases and callout.stakes in _DEAR and not callout.asked:
            reason = say("speech-otherwise", text=repr(spoken.words))
            return Unclear(verdict.start, verdict.end, verdict.decided, verdict.spoken, reason)
    return verdict


def asked_about(
    verdict: Verdict, evidence: Evidence, grammar: Grammar, network: Network
) -> Verdict:
    """The verdict, made a question where nothing came of it, and the scorer wrote a wide wording.

    The scorer writes freely, and nothing of what it wrote is acted on: of one meaning, the crew is
    asked about that; of several, to say it again. Where the crew would be asked to say it again in
    any case, it is asked about the nearest meaning instead, if there is one alone; what is ignored
    is not: that would make questions of talk.
    """
    guessed = isinstance(verdict, Accepted) or (isinstance(verdict, Unclear) and verdict.guess)
    written = evidence.scores.free if evidence.scores is not None else ""
    if guessed or not written or not evidence.utterance.voiced:
        return verdict
    words = network.words(written)
    meant = _perhaps(words, verdict, grammar, network)
    times = (verdict.start, verdict.end, verdict.decided)
    if len(meant) != 1:
        if not (meant and isinstance(verdict, Ignored)):
            return verdict
        return Unclear(*times, (), say("speech-which", text=repr(written)))
    (key,) = meant
    spoken = Spoken(key, " ".join(words), verdict.start, verdict.end, 0.0)
    return Unclear(*times, (spoken,), say("speech-otherwise", text=repr(written)))


def _perhaps(
    words: tuple[str, ...], verdict: Verdict, grammar: Grammar, network: Network
) -> frozenset[str]:
    """What the words mean; of what would be said again, the nearest meaning."""
    keys = tuple(callout.key for callout in grammar.callouts)
    meant = network.meant(words, keys).keys
    if meant or not isinstance(verdict, Unclear):
        return meant
    return network.nearest(words, keys).keys


def heard_by(name: str, network: Network, callouts: tuple[Callout, ...]) -> Network | None:
    """The network, where a listener of this name is given all of it, else None."""
    wide = any(name.startswith(listener) for listener in network.listeners)
    return network if wide and callouts else None
