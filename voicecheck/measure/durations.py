"""How long verdicts take and how well words are placed in time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from pathlib import Path

import numpy as np

from voicecheck.measure.stream import spread
from voicecheck.measure.table import Cell, Table
from voicecheck.measure.tally import by_noise, grouped
from voicecheck.measure.trial import Outcome, Trial


def latency_table(trials: Sequence[Trial]) -> Table:
    """From the end of speech to the verdict: waiting for silence, then computing; by noise.

    In ms, median and 95th percentile, where the end of speech is known; processor: what the
    computing takes on all cores together, however busy they are with other programs.
    """
    rows: list[tuple[Cell, ...]] = []
    for noise, group in grouped(trials, by_noise):
        taken = [
            (h.decided - t.line.end_s, h.computed, h.processor or h.computed)
            for t, h in ((t, t.heard) for t in group)
            if t.line.end_s is not None and h.decided is not None and h.computed is not None
        ]
        if taken:
            waits, computes, works = zip(*taken, strict=True)
            sums = [wait + compute for wait, compute, _ in taken]
            figures = (_ms(each) for each in (waits, computes, sums, works))
            rows.append((noise, len(taken), *chain.from_iterable(figures)))
    columns: tuple[str, ...] = ("noise", "verdicts")
    for what in ("waiting", "computing", "both", "processor"):
        columns += (f"{what}, ms median", f"{what} p95")
    return Table(
        "After the end of speech",
        columns,
        tuple(rows),
        ("Waiting depends on the sound alone, computing on this machine and what else it does.",),
    )


def stages_table(trials: Sequence[Trial]) -> Table:
    """Computing after the end of speech by stage, ms."""
    stages = dict.fromkeys(stage for t in trials for stage in t.heard.spent)
    rows: list[tuple[Cell, ...]] = []
    for stage in stages:
        spent = [t.heard.spent[stage] for t in trials if stage in t.heard.spent]
        rows.append((stage, len(spent), *_ms(spent)))
    return Table("Computing by stage", ("stage", "verdicts", "ms median", "p95"), tuple(rows))


def load_table(trials: Sequence[Trial], resident: float | None) -> Table:
    """Computing for each second of sound, and memory in MB (None where it is not known)."""
    seconds = sum(t.heard.seconds for t in trials)
    total = sum(t.heard.total for t in trials)
    factor = round(total / seconds, 3) if seconds else None
    columns = ("sound, s", "real-time factor", "resident memory, MB")
    return Table("Load", columns, ((round(seconds, 1), factor, resident),))


def placement_table(trials: Sequence[Trial]) -> Table:
    """Error of the first word's start and the last word's end against what is known, ms."""
    rows: list[tuple[Cell, ...]] = []
    right = [t for t in trials if t.outcome is Outcome.RIGHT]
    for noise, group in grouped(right, by_noise):
        starts = list(_off((t.heard.start, t.line.start_s) for t in group))
        ends = list(_off((t.heard.end, t.line.end_s) for t in group))
        if starts and ends:
            rows.append((noise, len(group), *spread(starts, 50, 5, 95), *spread(ends, 50, 5, 95)))
    columns = (
        *("noise", "right", "start, ms median", "start p5", "start p95"),
        *("end, ms median", "end p5", "end p95"),
    )
    return Table("Placement of words", columns, tuple(rows))


def resident_megabytes() -> float | None:
    """Memory of this process that is in RAM now, as Linux tells it."""
    try:
        status = Path("/proc/self/status").read_text(encoding="utf-8")
    except OSError:
        return None
    found = (line.split() for line in status.splitlines() if line.startswith("VmRSS:"))
    return next((round(int(words[1]) / 1024, 1) for words in found), None)


def _ms(seconds: Sequence[float]) -> tuple[float, float]:
    return (
        round(1000 * float(np.median(seconds)), 1),
        round(1000 * float(np.quantile(seconds, 0.95)), 1),
    )


def _off(pairs: Iterable[tuple[float | None, float | None]]) -> Iterator[float]:
    """Heard less known, where both are there."""
    for heard, known in pairs:
        if heard is not None and known is not None:
            yield heard - known
