"""Confidence intervals of shares, by scipy, and the libraries that only measuring needs."""

from __future__ import annotations

import importlib
from typing import Any

from voicecheck.errors import VoicecheckError


def library(name: str) -> Any:
    """A library, loaded late. Raises VoicecheckError, naming the extra, when it is not there."""
    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise VoicecheckError(
            f"this measurement needs {error.name or name}; install voicecheck[measure]"
        ) from error


def clopper_pearson(hits: int, trials: int, level: float = 0.95) -> tuple[float, float]:
    """The exact interval of a share (Clopper and Pearson, Biometrika 1934); (0, 1) for none.

    hits of trials, both counts; level: two-sided confidence. Raises ValueError for hits
    outside 0..trials.
    """
    if not 0 <= hits <= trials:
        raise ValueError(f"{hits} of {trials}")
    if not trials:
        return 0.0, 1.0
    test = library("scipy.stats").binomtest(hits, trials)
    interval = test.proportion_ci(confidence_level=level, method="exact")
    return float(interval.low), float(interval.high)
