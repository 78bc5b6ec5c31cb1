"""What the listener that writes phones says of one utterance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from voicecheck.speech.listener import Word

MOST_LEAD: Final = 10.0
"""Nats of a lead that count; more of it says no more."""
LEAST_LEAD: Final = 1.0
"""Nats of a lead below which it is none: the two are as likely."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What the listener makes of one utterance: the likeliest callouts, and how well they fit.

    text: readable words; phones: how many they have; gap: ln P of them less that of the likeliest
    phones frame by frame; worst, mean: that gap in the worst phone and in the mean of all, after
    the tolerance for accents; lead: of gap over the likeliest callouts of another meaning; decoys:
    over the likeliest phrase that must not be acted on; alike: 0 (nothing) to 1, how like the
    phones are to those written unguided; rival: the likeliest text of another meaning, "" without;
    words: with times, from the first sample. All in nats.
    """

    text: str
    phones: int
    gap: float
    worst: float
    mean: float
    lead: float
    decoys: float
    alike: float
    rival: str
    words: tuple[Word, ...]

    @property
    def least_lead(self) -> float:
        """Over whatever is nearest, another callout or what must not be acted on."""
        return min(self.lead, self.decoys)

    @property
    def value(self) -> float:
        """How sure the listener is, in nats: the form that was chosen in docs/listener.md."""
        return self.worst + 0.5 * min(self.least_lead, MOST_LEAD)
