"""How often a spoken or touched time is judged wrongly: lamps whose true time is known.

A lamp goes out at a drawn time after the hand; the hand moves about the end of the leaving call,
the crew reacts, and each call is recognised with an error. The verdict is the engine's own
(`engine.windows`, called as `engine.timed` calls it); a test plays lamps of each row through whole
sessions of the engine, which must say the same.

The crew is a model, not a measurement: reactions are log-normal with a sigma of 0.35 (the long
tail to the slow side is common to reaction times; the figures are from memory, no source).
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Final

from voicecheck.checklist.model import Timing as Settings
from voicecheck.checklist.resolved import Timing, Window
from voicecheck.engine.windows import Interval, WindowVerdict, judge, may_have_left, measure
from voicecheck.measure.table import Cell, Table

LAMPS: Final = 100_000
SEED: Final = 19
SIGMA: Final = 0.35
"""Of the natural logarithm of a reaction, within one crew (from memory, no source)."""
CALL: Final = 0.9
"""Seconds that a spoken leaving call takes."""
CLEARLY: Final = 0.25
"""Seconds out of limits from which a lamp recorded good is counted."""
COLUMNS: Final = (
    "settings",
    "by",
    "hand s",
    "reaction s",
    "limits s",
    "good",
    "good, out by >0.25 s %",
    "too close, well inside %",
    "bad, though inside %",
)


@dataclass(frozen=True, slots=True)
class Model:
    """A crew and a lamp. hand: seconds about the end of the leaving call, uniform between both.

    median: of the reaction in seconds, drawn uniformly between both for each lamp.
    voice: words have a boundary error of up to word_error, touches have none.
    """

    settings: str
    timing: Timing
    voice: bool
    hand: tuple[float, float]
    median: tuple[float, float]
    window: Window


@dataclass(frozen=True, slots=True)
class Lamp:
    """One lamp as it was and as it was called. Seconds; 0 is the true end of the leaving call.

    truth: from the hand to the lamp being out.
    """

    truth: float
    left: tuple[float, float]
    called: float


@dataclass(slots=True)
class Count:
    """What became of the lamps of a row."""

    good: int = 0
    good_but_out: int = 0
    well_inside: int = 0
    too_close: int = 0
    inside: int = 0
    bad_but_inside: int = 0


def default_timing() -> Timing:
    """The settings that a checklist has which states none."""
    return Timing(**Settings.model_validate({}).model_dump())


def marked_timing(median: float) -> Timing:
    """Settings for who calls at the detent, and whose reaction was measured as `median` seconds.

    The allowance of the reaction is its own half width: about twice SIGMA of the median.
    """
    spread = median * (math.exp(2 * SIGMA) - math.exp(-2 * SIGMA)) / 2
    middle = median * (math.exp(2 * SIGMA) + math.exp(-2 * SIGMA)) / 2
    return replace(
        default_timing(),
        reaction=middle,
        reaction_spread=spread,
        hand_before=0.15,
        hand_after=0.15,
        word_error=0.1,
    )


def models() -> Iterator[Model]:
    """The rows of the table."""
    narrow, usual, wide = Window(3, 5), Window(2, 6), Window(2, 8)
    stated, every = (-0.5, 0.7), (0.3, 0.8)
    default = default_timing()
    for voice in (True, False):
        for window in (narrow, usual, wide):
            yield Model("as shipped", default, voice, stated, every, window)
        for median in (0.3, 0.5, 0.8):
            yield Model("as shipped", default, voice, stated, (median, median), usual)
        for hand in ((-0.9, 0.0), (0.0, 0.7)):
            yield Model("as shipped", default, voice, hand, every, usual)
        for median in (0.3, 0.5, 0.8):
            own = marked_timing(median)
            for window in (narrow, usual):
                yield Model("at the detent", own, voice, (-0.1, 0.1), (median, median), window)


def lamps(model: Model, count: int, chance: random.Random) -> Iterator[Lamp]:
    """Lamps that go out from 2 s before the limits (not below 0.1 s) to 2 s after them."""
    error = 0.13 if model.voice else 0.0
    for _ in range(count):
        truth = chance.uniform(max(0.1, model.window.lower - 2), model.window.upper + 2)
        hand = chance.uniform(*model.hand)
        reaction = chance.uniform(*model.median) * math.exp(chance.gauss(0, SIGMA))
        end = chance.uniform(-error, error)
        called = hand + truth + reaction + chance.uniform(-error, error)
        yield Lamp(truth, (end - CALL if model.voice else end, end), called)


def verdict_of(lamp: Lamp, model: Model) -> WindowVerdict:
    """As the engine judges the lamp, by its own functions."""
    start, end = lamp.left
    interval = measure(end, lamp.called, model.timing)
    earliest = measure(may_have_left(start, end, model.timing), lamp.called, model.timing)
    return judge(Interval(interval.low, earliest.high), model.window)


def count_lamps(model: Model, lamps: Iterable[Lamp]) -> Count:
    """What became of them."""
    found, window = Count(), model.window
    middle, quarter = (window.lower + window.upper) / 2, (window.upper - window.lower) / 4
    for lamp in lamps:
        verdict = verdict_of(lamp, model)
        outside = max(window.lower - lamp.truth, lamp.truth - window.upper)
        well = abs(lamp.truth - middle) <= quarter
        found.inside += outside <= 0
        found.well_inside += well
        if verdict is WindowVerdict.WITHIN:
            found.good += 1
            found.good_but_out += outside > CLEARLY
        elif verdict is WindowVerdict.TOO_CLOSE:
            found.too_close += well
        else:
            found.bad_but_inside += outside <= 0
    return found


def measure_timing(count: int = LAMPS, seed: int = SEED) -> Table:
    """One row for each of the models, each with `count` lamps."""
    rows = []
    for number, model in enumerate(models()):
        found = count_lamps(model, lamps(model, count, random.Random(f"{seed} {number}")))
        rows.append(_row(model, found))
    return Table(
        "timed lamps: true times against verdicts",
        COLUMNS,
        tuple(rows),
        (
            f"{count} lamps each, seed {seed}; the crew is a model: reactions log-normal, sigma "
            f"{SIGMA}, a median drawn for each lamp",
            "hand: about the end of the leaving call; well inside: in the middle half of the "
            "limits; too close to call is repeated, never good",
            "at the detent: the call (or a second person's mark) comes as the hand moves, and the "
            "reaction of the speaker was measured; both written under 'timing' of the airframe",
        ),
    )


def _row(model: Model, found: Count) -> tuple[Cell, ...]:
    window = model.window
    return (
        model.settings,
        "voice" if model.voice else "touch",
        _range(model.hand),
        _range(model.median),
        f"{window.lower:g} to {window.upper:g}",
        found.good,
        round(100 * found.good_but_out / max(1, found.good), 3),
        round(100 * found.too_close / max(1, found.well_inside), 1),
        round(100 * found.bad_but_inside / max(1, found.inside), 2),
    )


def _range(ends: tuple[float, float]) -> str:
    low, high = ends
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"
