"""What is known where the listener that writes phones leads and the others are its witnesses.

Every feature is bounded, so that no single one can outvote the rest however far out it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from voicecheck.speech.candidate import Candidate, keys_of, within
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Scores
from voicecheck.speech.phone_fit import MOST_LEAD, Fit


def of_fit(fit: Fit) -> dict[str, float]:
    """How sure the listener is, as one number.

    Its parts weighed apart (worst phone, mean phone, both leads, length) were better for voices of
    engines that it was trained with, and worse for those of others: docs/listener.md.
    """
    return {"fit": within(fit.value, -12, 6)}


def of_witness(hearing: Hearing, grammar: Grammar, candidate: Candidate) -> dict[str, float]:
    """Whether the grammar listener hears the same, and still does among decoys."""
    rival = hearing.rival
    found = {"grammar agrees": float(keys_of(hearing.text, grammar) == candidate.keys)}
    if rival is not None:
        found["grammar agrees among decoys"] = float(keys_of(rival, grammar) == candidate.keys)
    return found


def of_scores(scores: Scores, grammar: Grammar, candidate: Candidate) -> dict[str, float]:
    """How well the scorer thinks of the same callouts, and what it wrote itself."""
    text, keys = candidate.text, candidate.keys
    others, decoys = [MOST_LEAD], [MOST_LEAD]
    for rival in scores.per_token:
        said = keys_of(rival.split(), grammar)
        if said is None and rival != scores.free:
            decoys.append(scores.lead(text, rival))
        elif said is not None and said != keys:
            others.append(scores.lead(text, rival))
    written = keys_of(scores.free.split(), grammar) if scores.free else None
    return {
        "ratio": within(scores.ratio(text), -5, 0.5),
        "worst token": within(scores.worst.get(text, scores.per_token[text]), -10, 0),
        "score over others": within(min(others), -4, MOST_LEAD),
        "score over decoys": within(min(decoys), -4, MOST_LEAD),
        "written the same": float(written == keys),
    }


DIRECTIONS: Final[Mapping[str, int]] = dict.fromkeys(
    (
        *("fit", "grammar agrees", "grammar agrees among decoys"),
        *("ratio", "worst token", "score over others", "score over decoys", "written the same"),
    ),
    1,
)
"""As features.DIRECTIONS: more of any of these can only speak for the candidate."""
