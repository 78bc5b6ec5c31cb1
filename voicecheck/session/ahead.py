"""Prompts of what may come next, rendered before it comes.

The engine is pure, so it can be asked what it would say to every callout that can be made now.
Those words are rendered in the background; when one of them is wanted its sound is there already.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from typing import Final

from voicecheck.engine import Engine, effects, events, step
from voicecheck.engine.windows import lag

_MOST: Final = 400
"""Prompts rendered ahead of one moment."""

Words = Callable[[effects.Say], Sequence[str]]
"""One prompt as the pieces that will be spoken."""


def foreseen(engine: Engine) -> Iterator[effects.Say]:
    """What would be said to each callout on offer, to silence and to unclear speech."""
    now = engine.state.now
    soon: list[events.Event] = [
        events.Heard(key, "", at, at, 1.0)
        for at in (now, *_moments(engine))
        for key in engine.offers()
    ]
    soon.append(events.Unclear(now, now))
    if engine.wake is not None:
        soon.append(events.Passed(engine.wake))
    soon.append(events.Lost(events.Part.MICROPHONE, now))
    for event in soon:
        _, would = step(engine.checklist, engine.state, event)
        yield from (effect for effect in would if isinstance(effect, effects.Say))


def _moments(engine: Engine) -> Iterator[float]:
    """Times at which a running lamp would be called in time, and on the limit."""
    timing = engine.checklist.timing
    limits = {item.id: item.window for item in engine.checklist.items}
    for window in engine.state.windows:
        limit = limits[window.item]
        if limit is not None:
            out = window.anchor + lag(timing)
            yield out + (limit.lower + limit.upper) / 2
            yield out + limit.upper


class Ahead:
    """Looks ahead in a thread of its own, always from the latest moment only."""

    def __init__(self, words: Words, prepare: Callable[[Sequence[str]], None]) -> None:
        self._words = words
        self._prepare = prepare
        self._latest: Engine | None = None
        self._closed = False
        self._news = threading.Condition()
        self._thread = threading.Thread(target=self._work, name="ahead", daemon=True)
        self._thread.start()

    def look(self, engine: Engine) -> None:
        """The engine has moved on; returns at once."""
        with self._news:
            self._latest = Engine(engine.checklist, engine.state)
            self._news.notify()

    def close(self) -> None:
        """Look no further; safe twice."""
        with self._news:
            self._closed = True
            self._news.notify()
        self._thread.join()

    def _work(self) -> None:
        while True:
            with self._news:
                self._news.wait_for(lambda: self._closed or self._latest is not None)
                if self._closed:
                    return
                engine, self._latest = self._latest, None
            assert engine is not None
            pieces = dict.fromkeys(piece for say in foreseen(engine) for piece in self._words(say))
            self._prepare(list(pieces)[:_MOST])
