"""From features to the probability that a callout was said, and the bars it must reach.

The numbers stand in calibration.json beside this file, one set for each set of listeners.
``voicecheck measure calibrate`` writes that file from a corpus; nobody edits it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from math import exp
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from voicecheck.callouts import Stakes
from voicecheck.errors import VoicecheckError

FILE: Final = "calibration.json"


@dataclass(frozen=True, slots=True)
class Weight:
    """A feature is reduced to (value - mean) / scale, then counts `weight` times in log odds."""

    mean: float
    scale: float
    weight: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """Of one set of listeners. act, ask: probabilities from which to act and to ask."""

    intercept: float
    weights: Mapping[str, Weight]
    act: Mapping[Stakes, float]
    ask: float

    def probability(self, features: Mapping[str, float]) -> float:
        """That the candidate was said, 0..1. Raises KeyError for a feature that is missing."""
        odds = self.intercept + sum(
            w.weight * (features[name] - w.mean) / w.scale for name, w in self.weights.items()
        )
        return 1 / (1 + exp(-max(-30.0, min(30.0, odds))))


@dataclass(frozen=True, slots=True)
class CalibrationFile:
    """The whole file. made: how, for the reader; listeners: by Evidence.listeners."""

    schema: int
    made: Mapping[str, str]
    listeners: Mapping[str, Calibration]


ADAPTER: Final = TypeAdapter(CalibrationFile)


def read_calibrations(path: Path) -> Mapping[str, Calibration]:
    """Those of a file that was written before. Raises VoicecheckError."""
    try:
        return ADAPTER.validate_json(path.read_bytes()).listeners
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be read ({error.strerror}); name a calibration file"
        ) from error
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise VoicecheckError(
            f"{path}: not a calibration file ({first['msg']}); make one with "
            "'voicecheck measure calibrate'"
        ) from error


@lru_cache(maxsize=1)
def packaged() -> Mapping[str, Calibration]:
    """The calibrations of this version, by set of listeners."""
    text = files("voicecheck.speech").joinpath(FILE).read_bytes()
    return ADAPTER.validate_json(text).listeners
