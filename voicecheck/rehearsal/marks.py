"""How well a student called a simulated aircraft: what was missed, and how quickly it was seen."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from voicecheck.checklist.resolved import Grade, Item
from voicecheck.errors import VoicecheckError
from voicecheck.world.panel import Panel, right_reading


@dataclass(frozen=True, slots=True)
class Mark:
    """One call of one item. right: whether it was as called.

    seconds: from when it could first be seen or heard to the first word; None where unknown.
    """

    item: str
    called: str
    was: str
    right: bool
    faulty: bool
    seconds: float | None


@dataclass(frozen=True, slots=True)
class Marks:
    """One session of a student.

    missed: items that were faulty and called good; false_alarms: the other way round; left_out:
    items without a call that counts. right: items called as they were. seconds: the middle one
    of all times from showing to calling.
    """

    student: str
    airframe: str
    started: str
    faults: tuple[str, ...]
    items: int
    right: int
    missed: tuple[str, ...]
    false_alarms: tuple[str, ...]
    left_out: tuple[str, ...]
    seconds: float | None

    @property
    def score(self) -> float:
        """0 to 1."""
        return self.right / self.items if self.items else 0.0


def marked(item: Item, called: str, bad: bool, panel: Panel, seconds: float | None) -> Mark:
    """A call of an item, beside what its panel showed. seconds: from showing to calling."""
    was = right_reading(item, panel)
    faulty = was.grade is not Grade.GOOD
    took = None if seconds is None else round(max(0.0, seconds), 2)
    return Mark(item.id, called, was.phrases[0], bad == faulty, faulty, took)


def marks_of(
    student: str, started: str, airframe: str, faults: Iterable[str], marks: Iterable[Mark],
    summary: Mapping[str, Any],
) -> Marks:  # fmt: skip
    """Put together the last call of each item. summary: the session's final result."""
    last = {mark.item: mark for mark in marks}
    fitted = [i["id"] for i in summary["items"] if i["outcome"] != "not fitted"]
    counted = [
        i["id"] for i in summary["items"] if i["outcome"] in ("satisfactory", "unsatisfactory")
    ]
    return Marks(
        student=student,
        airframe=airframe,
        started=started,
        faults=tuple(faults),
        items=len(fitted),
        right=sum(last[item].right for item in counted if item in last),
        missed=_wrong(last.values(), faulty=True),
        false_alarms=_wrong(last.values(), faulty=False),
        left_out=tuple(item for item in fitted if item not in counted),
        seconds=_middle_seconds(last.values()),
    )


def _wrong(marks: Iterable[Mark], *, faulty: bool) -> tuple[str, ...]:
    """Items called otherwise than they were, of the faulty ones or of the others."""
    return tuple(mark.item for mark in marks if not mark.right and mark.faulty == faulty)


def _middle_seconds(marks: Iterable[Mark]) -> float | None:
    times = sorted(mark.seconds for mark in marks if mark.seconds is not None)
    return round(times[len(times) // 2], 2) if times else None


def keep_marks(marks: Marks, path: Path) -> list[Marks]:
    """Append to the student's progress; returns the same student's earlier sessions.

    Raises VoicecheckError when the file cannot be written or is not a progress file.
    """
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        lines = path.read_text("utf-8").splitlines() if path.exists() else []
        earlier = [_read(line, path, number) for number, line in enumerate(lines, 1)]
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(asdict(marks), ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
    except UnicodeDecodeError:
        raise VoicecheckError(
            f"{path}: not a progress file (no UTF-8 text); choose another with --progress"
        ) from None
    except OSError as error:
        raise VoicecheckError(
            f"{path}: progress cannot be kept ({error.strerror}); choose another with --progress"
        ) from None
    return [past for past in earlier if past.student == marks.student]


def _read(line: str, path: Path, number: int) -> Marks:
    try:
        data = json.loads(line)
        lists = {key: tuple(value) for key, value in data.items() if isinstance(value, list)}
        return Marks(**{**data, **lists})
    except (ValueError, TypeError, AttributeError):
        raise VoicecheckError(
            f"{path}:{number}: not a line of progress; name another file with --progress"
        ) from None
