"""What a language tells the listeners: sounds, joiners, opposites, other people's talk."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Lexicon:
    """The speech data of one language, as written in its ``speech.yaml``.

    pronunciations: word -> ways to say it, each ARPAbet symbols without stress marks,
        separated by spaces ("N AY N ER"); added to the recogniser's own dictionary.
    joiners: words that may stand between two callouts of one breath ("and").
    swaps: sets of words that are each other's opposite or near neighbour; a phrase with
        one word exchanged for another of its set is a decoy, never acted on.
    negations: words that turn a phrase into its opposite; the first stands before the
        last word ("horn not sounding"), the others before the phrase ("no horn sounding").
    chatter: things said in a cockpit that are not meant for us; decoys too.
    """

    pronunciations: Mapping[str, tuple[str, ...]]
    joiners: tuple[str, ...]
    swaps: tuple[tuple[str, ...], ...]
    negations: tuple[str, ...]
    chatter: tuple[str, ...]
