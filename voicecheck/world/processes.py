"""Recordings heard by several processes side by side, in their order."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path
from typing import Final, TypeVar

from voicecheck.language import Language
from voicecheck.measure.trial import Task
from voicecheck.session.options import HearingOptions

PIECE: Final = 40
"""Recordings that one process hears before it reports."""

Heard = TypeVar("Heard")
Work = Callable[[Sequence[Task], Language, HearingOptions, Path], list[Heard]]
"""What one process makes of a piece; a function of a module, so that it can be sent there."""


def side_by_side(
    work: Work[Heard],
    tasks: Sequence[Task],
    language: Language,
    options: HearingOptions,
    cache: Path,
    jobs: int | None,
) -> Iterator[list[Heard]]:
    """The results piece by piece. jobs: processes; None: one for each processor."""
    pieces = [tasks[at : at + PIECE] for at in range(0, len(tasks), PIECE)]
    # Native code of the listeners holds threads: a process must not be forked from them.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, pieces, repeat(language), repeat(options), repeat(cache))
