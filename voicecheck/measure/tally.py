"""Trials counted: right, wrong, asked again, missed, false accepts, each with its interval."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from voicecheck.measure.intervals import clopper_pearson, library
from voicecheck.measure.sentences import KINDS
from voicecheck.measure.table import Cell, Table
from voicecheck.measure.trial import Outcome, Trial

T = TypeVar("T")
WRONGLY = (Outcome.WRONG, Outcome.ACTED)
"""Outcomes in which something was acted on that was not said."""


def share(hits: int, trials: int) -> str:
    """Per cent with its 95 % interval: "97.4 (94.0-99.1)"; empty when nothing was tried."""
    if not trials:
        return ""
    low, high = clopper_pearson(hits, trials)
    return f"{100 * hits / trials:.1f} ({100 * low:.1f}-{100 * high:.1f})"


def callouts_table(
    trials: Sequence[Trial], title: str, by: Callable[[Trial], str], column: str
) -> Table:
    """Callouts that were said, by what `by` says of a trial, in order of appearance."""
    rows: list[tuple[Cell, ...]] = []
    for name, group in grouped((t for t in trials if t.said), by):
        outcomes = [trial.outcome for trial in group]
        counts = [outcomes.count(o) for o in _SAID]
        rows.append((name, len(group), *(share(count, len(group)) for count in counts)))
    return Table(
        title,
        (column, "said", *(f"{outcome}, % (95 %)" for outcome in _SAID)),
        tuple(rows),
        ("Right: acted on, and nothing asked. Intervals after Clopper and Pearson.",),
    )


_SAID = (Outcome.RIGHT, Outcome.WRONG, Outcome.ASKED, Outcome.MISSED)


def false_table(trials: Sequence[Trial]) -> Table:
    """What was acted on though it was not said, by kind of speech and by noise."""
    rows: list[tuple[Cell, ...]] = []
    for kind in KINDS:
        if kind == "noise":
            continue
        of_kind = (t for t in trials if t.line.of_kind == kind)
        for label, group in grouped(of_kind, by_noise):
            wrongly = sum(t.outcome in WRONGLY for t in group)
            asked = sum(t.outcome in (Outcome.BOTHERED, Outcome.ASKED) for t in group)
            rows.append((kind, label, len(group), wrongly, share(wrongly, len(group)), asked))
    return Table(
        "Acted on though it was not said",
        ("kind", "noise", "said", "acted on", "% (95 %)", "asked"),
        tuple(rows),
        ("An opposite counts when anything but that opposite itself was acted on.",),
    )


def noise_table(trials: Sequence[Trial]) -> Table:
    """Noise alone: actions and questions an hour, with the exact Poisson upper limit."""
    rows: list[tuple[Cell, ...]] = []
    alone = [t for t in trials if t.line.of_kind == "noise"]
    for label, group in [*grouped(alone, by_noise), ("all", alone)]:
        hours = sum(t.heard.seconds for t in group) / 3600
        if not hours:
            continue
        acted = sum(len(t.heard.acted) for t in group)
        asked = sum(t.heard.asked for t in group)
        upper = float(library("scipy.stats").chi2.ppf(0.95, 2 * acted + 2)) / 2
        rows.append(
            (
                label,
                round(hours, 2),
                acted,
                round(acted / hours, 2),
                round(upper / hours, 2),
                round(asked / hours, 1),
            )
        )
    columns = ("noise", "hours", "acted on", "an hour", "at most (95 %)", "asked an hour")
    return Table("Noise alone", columns, tuple(rows))


def words_table(trials: Sequence[Trial]) -> Table:
    """Word error rate of what was acted on, by noise (jiwer)."""
    jiwer = library("jiwer")
    rows: list[tuple[Cell, ...]] = []
    for label, group in grouped((t for t in trials if t.said and t.reference), by_noise):
        measured = jiwer.process_words(
            [trial.reference for trial in group], [trial.heard.written for trial in group]
        )
        words = measured.hits + measured.substitutions + measured.deletions
        rows.append(
            (
                label,
                words,
                round(100 * measured.wer, 1),
                measured.substitutions,
                measured.deletions,
                measured.insertions,
            )
        )
    columns = ("noise", "words", "word error rate, %", "exchanged", "left out", "put in")
    note = "Words asked about are left out: asking again costs here what a wrong word costs."
    return Table("Words acted on", columns, tuple(rows), (note,))


def by_noise(trial: Trial) -> str:
    """The label of the noise."""
    return trial.line.noise


def by_voice(trial: Trial) -> str:
    """Who speaks."""
    return trial.line.voice


def grouped(items: Iterable[T], by: Callable[[T], str]) -> list[tuple[str, list[T]]]:
    """What `by` says of some of them, and those, in order of appearance."""
    groups: dict[str, list[T]] = {}
    for item in items:
        groups.setdefault(by(item), []).append(item)
    return list(groups.items())
