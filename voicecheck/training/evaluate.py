"""What a listener makes of the trials, as a table: one row for each group of voices.

    python -m voicecheck.training.evaluate CALIBRATION EVIDENCE [FOLDER EVIDENCE]...

CALIBRATION and FOLDER are folders of trials with ways.json, EVIDENCE what `hear` wrote of each.
The threshold is set on the calibrating voices alone; the other folders are only reported. A wrong
action is one that was not said; where what was said lies at most two phones from what was acted
on, it is a sound-alike and told apart. What sounds the same ("a firm") no ear can tell:
not counted.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from rapidfuzz.distance import Levenshtein

from voicecheck.training.hear import LEVELS, Evidence
from voicecheck.training.trials import Trial

ALIKE: Final = 2
"""Phones up to which another sentence is a sound-alike, as in measure.sentences."""
ALLOWED: Final = 0.005
"""Share of sentences with a wrong action that the threshold leaves on the calibrating voices."""
_MOST_LEAD: Final = 10.0
_LEAST_LEAD: Final = 1.0
_GROUPS: Final = {
    "piper": "neural, engine never trained",
    "kokoro": "neural, voices never trained",
    "espeak-ng": "robots",
    "flite": "other engines",
    "festival": "other engines",
}


@dataclass(frozen=True, slots=True)
class Hearing:
    """One trial at one level.

    apart: phones between what was said and what was heard; 0 where it is right or sounds the same.
    """

    trial: Trial
    setting: str
    found: Evidence
    apart: int

    @property
    def right(self) -> bool:
        """Whether what was said was ranked first."""
        return self.trial.said is not None and self.found.best == self.trial.said

    @property
    def group(self) -> str:
        """A row of the table."""
        if self.trial.engine == "person":
            return f"person: {self.trial.voice}"
        return _GROUPS.get(self.trial.engine, self.trial.engine)

    @property
    def value(self) -> float:
        """How sure the listener is, in nats; see the module `hear` for the parts."""
        lead = min(self.found.lead, self.found.decoys)
        if lead <= _LEAST_LEAD:
            return float("-inf")
        return self.found.worst + 0.5 * min(lead, _MOST_LEAD)


def hearings(folder: Path, evidence: Path) -> list[Hearing]:
    """All of one folder."""
    told = json.loads((folder / "trials.json").read_text(encoding="utf-8"))
    ways = json.loads((folder / "ways.json").read_text(encoding="utf-8"))
    trials = [Trial(**entry) for entry in told["trials"]]
    found = []
    for line in evidence.read_text(encoding="utf-8").splitlines():
        heard = Evidence(**json.loads(line))
        trial = trials[heard.trial]
        apart = 0
        if heard.best != trial.said:
            apart = min(
                Levenshtein.distance(one, other)
                for one in ways[trial.text]
                for other in ways[heard.text]
            )
        found.append(Hearing(trial, told["places"][trial.place]["setting"], heard, apart))
    return found


def threshold(calibrating: Sequence[Hearing], from_apart: int) -> float:
    """The value that leaves ALLOWED wrong actions of at least so many phones."""
    wrong = sorted((h.value for h in calibrating if h.apart >= from_apart), reverse=True)
    return wrong[int(ALLOWED * len(calibrating))]


def _share(those: Iterable[bool]) -> str:
    listed = list(those)
    return f"{100 * sum(listed) / len(listed):.0f}" if listed else "-"


def _by_level(those: Sequence[Hearing], told: Callable[[list[Hearing]], str]) -> str:
    return " / ".join(told([h for h in those if h.found.level == level]) for level in LEVELS)


def rows(those: Sequence[Hearing], limit: float) -> list[str]:
    """Markdown rows: callouts and other sentences, right at once, ranked first, wrong actions."""
    made = []
    settings = {"state": "shipped states", "short": "18 short alike", "invented": "invented words"}
    for group in dict.fromkeys(h.group for h in those):
        for setting, name in settings.items():
            mine = [h for h in those if h.group == group and h.setting == setting]
            if not mine:
                continue
            if mine[0].trial.engine == "person" and setting == "state":
                name = "among each other"
            voices = len({h.trial.voice for h in mine})
            made.append(f"| {group} ({voices}), {name} {_counted(mine)} {_scored(mine, limit)} |")
    return made


def _counted(mine: Sequence[Hearing]) -> str:
    said = [h.trial.said is not None for h in mine if h.found.level == "clean"]
    return f"| {said.count(True)} + {said.count(False)}"


def _scored(mine: Sequence[Hearing], limit: float) -> str:
    said = [h for h in mine if h.trial.said is not None]
    acted = [h for h in mine if h.value > limit]
    return (
        f"| {_by_level(said, lambda s: _share(h.right and h.value > limit for h in s))} "
        f"| {_by_level(said, lambda s: _share(h.right for h in s))} "
        f"| {_by_level(acted, lambda a: str(sum(h.apart > ALIKE for h in a)))} "
        f"| {_by_level(acted, lambda a: str(sum(0 < h.apart <= ALIKE for h in a)))}"
    )


def opposites(those: Sequence[Hearing], limit: float) -> str:
    """Opposites acted on, of how many, by level."""
    mine = [h for h in those if h.trial.kind == "opposite"]
    acted = _by_level(
        [h for h in mine if h.value > limit], lambda a: str(sum(h.apart > 0 for h in a))
    )
    return f"opposites acted on as what they are not: {acted} of {len(mine) // len(LEVELS)} each"


def main(calibration: str, evidence: str, *rest: str) -> None:
    """Print the thresholds and the table."""
    calibrating = hearings(Path(calibration), Path(evidence))
    reported = [
        h
        for folder, told in zip(rest[::2], rest[1::2], strict=True)
        for h in hearings(Path(folder), Path(told))
    ]
    for name, apart in (("sound-alikes told apart", ALIKE + 1), ("sound-alikes counted", 1)):
        limit = threshold(calibrating, apart)
        print(f"\n### Threshold {limit:.2f} ({name})\n")
        print("| voices | callouts + others | right at once, % | ranked first, % | wrong | alike |")
        print("|---|---|---|---|---|---|")
        print("\n".join(rows(reported, limit)))
        print(f"\n{opposites(reported, limit)}")
        wrong = [h for h in reported if h.apart > 0 and h.value > limit]
        kinds = sum(h.apart > ALIKE for h in wrong)
        print(f"wrong actions: {kinds} + {len(wrong) - kinds} alike of {len(reported)} sentences")


if __name__ == "__main__":
    main(*sys.argv[1:])
