"""``voicecheck measure peers``: everybody on the same utterances, in one run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from voicecheck.errors import VoicecheckError
from voicecheck.measure.calibrate import Heard, gather
from voicecheck.measure.intervals import library
from voicecheck.measure.peers import (
    Answer,
    BareGrammar,
    FreeText,
    Given,
    Peer,
    matched,
    median_ms,
    ours,
)
from voicecheck.measure.table import Cell, Table
from voicecheck.measure.tally import share
from voicecheck.measure.trial import Task
from voicecheck.session.options import HearingOptions
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.weights import make_whole, packaged_folders


def answers(tasks: Sequence[Task], cache: Path, tell: Callable[[str], None]) -> list[Given]:
    """Ours with every set of listeners, and the peers. Raises VoicecheckError."""
    language = tasks[0].loaded.language
    parts = packaged_folders()
    if parts is None:
        raise VoicecheckError(
            "the peers need the packaged Whisper weights; install voicecheck[whisper]"
        )
    every = gather(tasks, language, HearingOptions(own=True), cache, tell)
    both = gather(tasks, language, HearingOptions(own=False), cache, tell)
    whisper = gather(tasks, language, HearingOptions(second="whisper", own=False), cache, tell)
    plain = [(task, replace(evidence, scores=None)) for task, evidence in every]
    alone = [(task, replace(evidence, scores=None)) for task, evidence in both]
    scorer = [(task, replace(evidence, hearing=None)) for task, evidence in both]
    given = [
        _ours("ours", both),
        _ours("ours, --own-listener", every),
        _ours("ours, --own-listener, plain install", plain),
        _ours("the same with Whisper as the second", whisper),
        _ours("ours, grammar listener alone", alone),
        _ours("ours, scorer alone", scorer),
    ]
    peers: tuple[Peer, ...] = (
        BareGrammar(dict(language.speech.pronunciations)),
        FreeText(make_whole(parts, cache), language.name),
    )
    written = tuple(
        (task, matched(evidence.scores.free, _grammar(task)))
        for task, evidence in both
        if evidence.scores is not None
    )
    given.append(Given("Moonshine's free text + fuzzy match", FreeText.acts_from, written))
    for peer in peers:
        tell(peer.name)
        heard = tuple(
            (task, peer.hear(evidence.utterance, _grammar(task))) for task, evidence in both
        )
        given.append(Given(peer.name, peer.acts_from, heard))
    return given


def _ours(name: str, heard: Sequence[Heard]) -> Given:
    answered: list[tuple[Task, Answer]] = [
        (task, ours(evidence, _grammar(task))) for task, evidence in heard
    ]
    return Given(name, 0.0, tuple(answered))


def _grammar(task: Task) -> Grammar:
    return Grammar(task.state.callouts, task.loaded.language.speech.joiners)


def peers_table(given: Sequence[Given]) -> Table:
    """Right and false at the usual score of each, and right where false is 1 in 100."""
    rows: list[tuple[Cell, ...]] = []
    for one in given:
        for noise in dict.fromkeys(task.line.noise for task, _ in one.answers):
            part = replace(
                one, answers=tuple(pair for pair in one.answers if pair[0].line.noise == noise)
            )
            at_one = [right for false, right in part.curve() if false <= 0.01]
            rows.append(
                (
                    one.name,
                    noise,
                    share(*part.right(one.acts_from)),
                    share(*part.false(one.acts_from)),
                    round(100 * max(at_one, default=0.0), 1),
                    median_ms(part.answers),
                )
            )
    columns = (
        *("listener", "noise", "right, % (95 %)", "acted on wrongly, % (95 %)"),
        *("right at 1 % false, %", "computing, ms median"),
    )
    note = "Right: of callouts said. Wrongly: of all utterances, most of which are no callouts."
    return Table("Side by side on the same utterances", columns, tuple(rows), (note,))


def draw(given: Sequence[Given], path: Path) -> None:
    """Callouts right over utterances acted on wrongly, a line for each listener."""
    library("matplotlib").use("Agg")
    pyplot: Any = library("matplotlib.pyplot")
    figure, axes = pyplot.subplots(figsize=(7, 5))
    for one in given:
        points = [(100 * false, 100 * right) for false, right in one.curve()]
        if points:
            axes.plot(*zip(*points, strict=True), marker=".", markersize=3, label=one.name)
        right, said = one.right(one.acts_from)
        false, every = one.false(one.acts_from)
        if said and every:
            axes.plot(100 * false / every, 100 * right / said, marker="o", color="black")
    axes.set_xlabel("utterances acted on wrongly, %")
    axes.set_ylabel("callouts acted on rightly, %")
    axes.set_xlim(left=-0.5)
    axes.set_ylim(0, 101)
    axes.grid(alpha=0.3)
    axes.legend(loc="lower right")
    figure.tight_layout()
    try:
        figure.savefig(path)
    except (OSError, ValueError) as error:
        raise VoicecheckError(
            f"{path}: cannot be written ({error}); name a .png or .svg file in a folder "
            "that you may write to"
        ) from error
    finally:
        pyplot.close(figure)
