"""How long verdicts take and how well words are placed in time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from voicecheck.measure.table import Cell, Table
from voicecheck.measure.tally import by_noise
from voicecheck.measure.trial import Outcome, Trial


def latency_table(trials: Sequence[Trial]) -> Table:
    """From the end of speech to the verdict: waiting for silence, then computing; by noise.

    In ms, median and 95th percentile, where the end of speech is known; processor: what the
    computing takes on all cores together, however busy they are with other programs.
    """
    rows: list[tuple[Cell, ...]] = []
    labels = dict.fromkeys(map(by_noise, trials))
    for label in labels:
        waits: list[float] = []
        computes: list[float] = []
        sums: list[float] = []
        works: list[float] = []
        for trial in trials:
            heard, end = trial.heard, trial.line.end_s
            if trial.line.noise != label or end is None or heard.decided is None:
                continue
            if heard.computed is None:
                continue
            waits.append(heard.decided - end)
            computes.append(heard.computed)
            sums.append(waits[-1] + computes[-1])
            works.append(computes[-1] if heard.processor is None else heard.processor)
        if sums:
            rows.append((label, len(sums), *_ms(waits), *_ms(computes), *_ms(sums), *_ms(works)))
    columns = ["noise", "verdicts"]
    for what in ("waiting", "computing", "both", "processor"):
        columns += [f"{what}, ms median", "p95"]
    return Table(
        "After the end of speech",
        tuple(_unique(columns)),
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
    for label in dict.fromkeys(map(by_noise, right)):
        group = [t for t in right if t.line.noise == label]
        starts = [
            t.heard.start - t.line.start_s
            for t in group
            if t.heard.start is not None and t.line.start_s is not None
        ]
        ends = [
            t.heard.end - t.line.end_s
            for t in group
            if t.heard.end is not None and t.line.end_s is not None
        ]
        if starts and ends:
            rows.append((label, len(group), *_spread(starts), *_spread(ends)))
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


def _spread(seconds: Sequence[float]) -> tuple[float, float, float]:
    low, middle, high = np.quantile(seconds, [0.05, 0.5, 0.95])
    return round(1000 * middle), round(1000 * low), round(1000 * high)


def _unique(columns: Sequence[str]) -> Iterator[str]:
    """Column names of which each p95 belongs to the one before."""
    before = ""
    for column in columns:
        yield f"{before.split(',')[0]} p95" if column == "p95" else column
        before = column
