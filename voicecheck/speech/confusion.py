"""Which phones the recogniser takes for which, as measured, and what that costs.

The counts are made by ``voicecheck measure phones`` and lie beside this file. The cost of a
phone pair is how much less often the one was heard as the other than as itself, in nats:
``ln P(itself) - ln P(other)``, the mean of both directions, so that costs of places that are
independent of each other add up.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import resources
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

NOTHING: Final = "-"
"""No phone at all: heard, it is an omission; said, an insertion."""
PHONES: Final = (
    *("AA", "AE", "AH", "AO", "AW", "AY", "EH", "ER", "EY", "IH", "IY", "OW", "OY", "UH", "UW"),
    *("B", "CH", "D", "DH", "F", "G", "HH", "JH", "K", "L", "M", "N", "NG", "P", "R", "S", "SH"),
    *("T", "TH", "V", "W", "Y", "Z", "ZH"),
    NOTHING,
)
"""ARPAbet, the 39 phones of the CMU Pronouncing Dictionary, and NOTHING."""
SCHEMA: Final = 1
_SMOOTHING: Final = 0.5
"""Added to each count (Jeffreys): a pair never seen is rare, not impossible."""
_LEAST: Final = 0.05
"""Cost below which no pair falls: different phones are never quite the same."""


@dataclass(frozen=True)
class ConfusionTable:
    """counts: (phone said, phone heard) -> trials; made: of what, in words."""

    made: str
    counts: Mapping[tuple[str, str], int]

    @cached_property
    def costs(self) -> dict[tuple[str, str], float]:
        """Cost in nats of each ordered pair of PHONES; symmetric, 0 for equals."""
        costs = {(phone, phone): 0.0 for phone in PHONES}
        for at, one in enumerate(PHONES):
            for other in PHONES[at + 1 :]:
                ways = [self._odds(a, b) for a, b in ((one, other), (other, one)) if a != NOTHING]
                costs[one, other] = costs[other, one] = max(_LEAST, sum(ways) / len(ways))
        return costs

    def _odds(self, said: str, heard: str) -> float:
        itself = self.counts.get((said, said), 0) + _SMOOTHING
        return math.log(itself / (self.counts.get((said, heard), 0) + _SMOOTHING))

    def as_json(self) -> str:
        """The file's text: one line for each phone said."""
        rows = {
            said: {o: self.counts[said, o] for o in PHONES if self.counts.get((said, o))}
            for said in PHONES
            if said != NOTHING
        }
        lines = ",\n".join(f"  {json.dumps(s)}: {json.dumps(row)}" for s, row in rows.items())
        head = f'"schema": {SCHEMA},\n"made": {json.dumps(self.made)},'
        return f'{{\n{head}\n"heard": {{\n{lines}\n}}\n}}\n'


def read_confusions(text: str, name: str) -> ConfusionTable:
    """The table from a file's text. Raises VoicecheckError naming the file."""
    try:
        data = json.loads(text)
        if data["schema"] != SCHEMA:
            raise ValueError(f"schema {data['schema']}, this program knows {SCHEMA}")
        counts = {
            (said, heard): int(count)
            for said, row in data["heard"].items()
            for heard, count in row.items()
        }
        unknown = {phone for pair in counts for phone in pair} - set(PHONES)
        if unknown:
            raise ValueError(f"unknown phones {', '.join(sorted(unknown))}")
        return ConfusionTable(str(data["made"]), counts)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise VoicecheckError(
            f"{name}: not a table of phone confusions ({error}); "
            "make it anew with `voicecheck measure phones --write`"
        ) from error


@lru_cache(maxsize=1)
def packaged_confusions() -> ConfusionTable:
    """The table that ships with voicecheck."""
    file = resources.files("voicecheck.speech") / "phone_confusions.json"
    return read_confusions(file.read_text(encoding="utf-8"), "phone_confusions.json")


def packaged_file() -> Path:
    """Where `measure phones --write` puts the table."""
    return Path(__file__).with_name("phone_confusions.json")
