"""The dictionary is asked once for each word: every question costs memory that is never freed."""

from __future__ import annotations

from collections import Counter
from typing import Any

from fleet import loaded

from voicecheck.engine import Engine
from voicecheck.engine.events import Began
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.sphinx import SphinxListener


class Counting:
    """A decoder that counts what it is asked."""

    def __init__(self, decoder: Any) -> None:
        self._decoder = decoder
        self.asked: Counter[str] = Counter()

    def lookup_word(self, word: str) -> Any:
        self.asked[word] += 1
        return self._decoder.lookup_word(word)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._decoder, name)


def test_a_word_is_looked_up_once() -> None:
    lexicon = lexicon_of(loaded("ZZ-HJC").language)
    listener = SphinxListener(lexicon)
    counting = listener._decoder = Counting(listener._decoder)
    engine = Engine(loaded("ZZ-HJC").checklist)
    engine.handle(Began(0.0))
    callouts = tuple(offer.callout for offer in engine.offers().values())
    for offered in (callouts, callouts[:5], callouts):
        listener.listen(Grammar(offered, lexicon.joiners))
    assert len(counting.asked) > 50
    assert set(counting.asked.values()) == {1}
    assert listener.missing(["battery", "xqzt"]) == ("xqzt",)
    assert listener.missing(["xqzt"]) == ("xqzt",)
    assert counting.asked["xqzt"] == 1
