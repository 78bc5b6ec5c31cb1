"""Does the proof notice when a row of the engine's rules is missing, and after how many sessions?

``python -m voicecheck.rehearsal.without_rows --sessions 10000 --processes 64 --out FILE.json``
plays each row's engine in a process of its own until something is found, and prints a table.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from voicecheck.measure.lacking import ROWS
from voicecheck.rehearsal.cast import SHIPPED, airframes
from voicecheck.rehearsal.judge import Cause
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import play_fast
from voicecheck.rehearsal.proving import unkind


@dataclass(frozen=True, slots=True)
class Noticed:
    """The first session in which the lack of a row shows. sessions: played; what: None if none."""

    row: str
    sessions: int
    what: str | None = None
    why: str = ""


def noticed(row: str, sessions: int, seed: int) -> Noticed:
    """Play an engine without a row. This process is of no other use afterwards."""
    terms, cast = unkind("unkind", seed, None, row), airframes(SHIPPED, None)
    for number in range(sessions):
        outcome = play_fast(cast[number % len(cast)], number, terms)
        if (found := _found(outcome)) is not None:
            return Noticed(row, number + 1, *found)
    return Noticed(row, sessions)


def _found(outcome: Outcome) -> tuple[str, str] | None:
    judged = outcome.judgement
    if outcome.crash is not None:
        return "crash", outcome.crash
    blamed = tuple(wrong for wrong in judged.good if wrong.cause is Cause.ENGINE)
    kinds = {"dangerous": blamed, "not what has cause": judged.unlike}
    return next(((kind, f"{w[0].item}: {w[0].why}") for kind, w in kinds.items() if w), None)


def table(rows: Sequence[str], sessions: int, seed: int, processes: int) -> Iterator[Noticed]:
    """Each row, as it is done."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(processes, mp_context=context, max_tasks_per_child=1) as pool:
        play = partial(noticed, sessions=sessions, seed=seed)
        for done in as_completed([pool.submit(play, row) for row in rows]):
            yield done.result()


def main() -> None:
    """See `--help`."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rows", nargs="*", help="numbers of rows; none: all")
    parser.add_argument("--sessions", type=int, default=10_000, help="at most, for each row")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, help="FILE.json")
    given = parser.parse_args()
    rows = given.rows or [row.number for row in ROWS]
    found = []
    for one in table(rows, given.sessions, given.seed, given.processes):
        found.append({"row": one.row, "sessions": one.sessions, "what": one.what, "why": one.why})
        print(f"{one.row:8s} {one.sessions:6d} {one.what or 'NOT NOTICED'}: {one.why}", flush=True)
        if given.out:
            given.out.write_text(json.dumps(found, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
