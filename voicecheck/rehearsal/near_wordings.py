"""Which wordings of a checklist are taken for which, and how often, by what was measured.

The distances are those of `speech.apart` over the measured phone confusions, the rates those that
`voicecheck measure wordings` gave for the grammar decoder alone at 10 dB (128 pairs, five voices).
They need the dictionary of the recogniser; those of the shipped checklists lie beside this file, so
that a proof needs no recogniser: ``python -m voicecheck.rehearsal.near_wordings`` makes it anew.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Final

from voicecheck.checklist.loader import Loaded
from voicecheck.rehearsal.fast import Near
from voicecheck.world.wordings import Wordings

RATES: Final = ((4.0, 0.08), (6.0, 0.019), (8.0, 0.006))
"""Up to a distance in nats, how often the one was taken for the other."""
_KNOWN: Final[dict[str, Near]] = {}
FILE: Final = Path(__file__).with_name("near_wordings.json")


def near_wordings(loaded: Loaded) -> Near:
    """Of one checklist; what the file does not know is computed, once."""
    if loaded.sha256 not in _KNOWN:
        _KNOWN[loaded.sha256] = _near_wordings(loaded)
    return _KNOWN[loaded.sha256]


def _near_wordings(loaded: Loaded) -> Near:
    phrases = {phrase for all_of in _wordings(loaded).values() for phrase in all_of}
    known = _packaged()
    if phrases <= known.keys():
        return {words: known[words] for words in phrases}
    return _computed([loaded])


def _wordings(loaded: Loaded) -> Mapping[str, tuple[str, ...]]:
    return Wordings(loaded.checklist).phrases


@cache
def _packaged() -> dict[str, list[tuple[str, float]]]:
    read = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    return {words: [(other, rate) for other, rate in near] for words, near in read.items()}


def _computed(every: Iterable[Loaded]) -> dict[str, list[tuple[str, float]]]:
    from voicecheck.proofreading.lexicon import lexicon_of
    from voicecheck.speech.opening import apart_of

    found: dict[str, dict[str, float]] = {}
    for loaded in every:
        said = _wordings(loaded)
        spoken = {phrase: key for key, phrases in said.items() for phrase in phrases}
        apart = apart_of(lexicon_of(loaded.language))
        for phrase in spoken:
            found.setdefault(phrase, {})
        for one, other in combinations(sorted(spoken), 2):
            distance = apart.below(one, other, RATES[-1][0])
            if spoken[one] != spoken[other] and distance is not None:
                rate = next(rate for most, rate in RATES if distance < most)
                found[one][other] = found[other][one] = rate
    return {words: sorted(near.items()) for words, near in sorted(found.items())}


def main() -> None:
    """Write the file of the shipped checklists."""
    from voicecheck.rehearsal.cast import SHIPPED, airframes

    rows = _computed(airframes(SHIPPED, None)).items()
    lines = ",\n".join(f"{json.dumps(words)}: {json.dumps(near)}" for words, near in rows)
    FILE.write_text(f"{{\n{lines}\n}}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
