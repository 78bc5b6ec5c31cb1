"""Control limits for individual values and their moving ranges.

The spread is estimated from the mean moving range of two, MR-bar / d2, so that a slow drift does
not widen the limits it should break. Method and constants: NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.2 (individuals control charts); d2 = 1.128 and D4 = 3.267 for
ranges of two as in the usual tables of control chart constants.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean
from typing import Final

D2: Final = 1.128
D4: Final = 3.267
FEWEST: Final = 8
"""Values from which limits are worth drawing (common practice, no source)."""
BASELINE: Final = 20
"""Values from which they are set; later ones are held against them (common practice)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """In the unit of the values. mr_mean, mr_upper: centre and upper limit of the ranges."""

    centre: float
    lower: float
    upper: float
    mr_mean: float
    mr_upper: float


def ranges(values: Sequence[float]) -> list[float]:
    """Moving ranges: how far each value is from the one before; one less than the values."""
    return [abs(b - a) for a, b in pairwise(values)]


def limits(values: Sequence[float]) -> Limits:
    """Three-sigma limits from at least two values. Raises ValueError for fewer."""
    if len(values) < 2:
        raise ValueError("control limits need at least two values")
    centre, mr_mean = fmean(values), fmean(ranges(values))
    reach = 3 * mr_mean / D2
    return Limits(centre, centre - reach, centre + reach, mr_mean, D4 * mr_mean)
