"""All that is known of one utterance when a verdict is wanted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.listener import Hearing, Scores
from voicecheck.speech.phone_fit import Fit

PHONES: Final = "phones"
"""The listener that writes phones, in the name of a set of listeners."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What each listener said of an utterance; None for a listener that there is not."""

    utterance: Utterance
    hearing: Hearing | None
    scores: Scores | None
    decoys: frozenset[str] = frozenset()
    """Texts one meaning away from what the listeners heard."""
    sounds: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Phones of words, where a pronouncing dictionary of the language is at hand."""
    fit: Fit | None = None
    """What the listener that writes phones makes of it; None where it cannot tell."""

    @property
    def listeners(self) -> str:
        """Which kinds of listener gave evidence: the name of their calibration."""
        kinds = []
        if self.fit is not None:
            kinds.append(PHONES)
        if self.hearing is not None:
            proves = self.hearing.proves or self.fit is not None
            kinds.append("grammar" if proves else "plain grammar")
        if self.scores is not None:
            kinds.append(self.scores.kind)
        return "+".join(kinds)
