"""Listen to the calibration part of a corpus and fit one calibration for each set of listeners."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Final

from voicecheck import __version__
from voicecheck.audio.wav import WavSource
from voicecheck.errors import VoicecheckError
from voicecheck.language import Language
from voicecheck.measure.fitting import LONELY, Example, fit
from voicecheck.measure.trial import Task, in_order, in_pieces
from voicecheck.session.hearing import open_hearing
from voicecheck.session.options import HearingOptions
from voicecheck.speech.acceptance import candidate_of, objections_to
from voicecheck.speech.calibration import ADAPTER, Calibration, CalibrationFile
from voicecheck.speech.ear import Ear
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.features import DIRECTIONS, features_of
from voicecheck.speech.grammar import Grammar, dearest
from voicecheck.speech.opening import new_endpointer
from voicecheck.world.processes import side_by_side

Heard = tuple[Task, Evidence]

SCORERS: Final = {"auto": ("auto", "whisper"), "moonshine": ("auto",)}
"""What to open for each name: the packaged ones are Moonshine, then Whisper."""


def calibrate(
    tasks: Sequence[Task], options: HearingOptions, cache: Path, tell: Callable[[str], None]
) -> dict[str, Calibration]:
    """By set of listeners. With our own: beside the grammar listener, with and without a scorer.

    Without our own (options.own): both others, the scorer alone, the grammar listener alone.

    With options.second "auto" for every packaged scorer, with "moonshine" for that one, with "off"
    for none. A plain grammar listener is one that proves nothing (Vosk): beside a scorer its
    calibration is fitted as if this one did not; alone it has none. Raises VoicecheckError.
    """
    language = tasks[0].loaded.language
    if any(task.loaded.language.name != language.name for task in tasks):
        raise VoicecheckError("a calibration is for one language; leave the others out")
    found: dict[str, Calibration] = {}
    alone: list[Heard] = []
    for second in SCORERS.get(options.second, (options.second,)):
        tell(f"second listener: {second}")
        heard = gather(tasks, language, replace(options, second=second), cache, tell)
        if options.own:
            alone = [(task, replace(evidence, scores=None)) for task, evidence in heard]
            found |= dict([_fitted(heard)])
            continue
        alone = [(task, _alone(evidence)) for task, evidence in heard]
        if second != "off":
            scorer = [(task, replace(evidence, hearing=None)) for task, evidence in heard]
            found |= dict(map(_fitted, (heard, _plain(heard), scorer)))
    return found | dict([_fitted(alone)])


def _fitted(heard: list[Heard]) -> tuple[str, Calibration]:
    first = heard[0][1]
    lonely = first.fit is not None and first.scores is None
    return first.listeners, fit(examples_of(heard), DIRECTIONS, LONELY if lonely else 1.0)


def _alone(evidence: Evidence) -> Evidence:
    """As the grammar listener hears without a scorer, which is what makes it look again."""
    hearing = evidence.hearing
    assert hearing is not None
    return replace(evidence, hearing=hearing.first or hearing, scores=None)


def _plain(heard: Sequence[Heard]) -> list[Heard]:
    """As a listener would hear it that proves nothing and looks a second time instead."""
    plain = []
    for task, evidence in heard:
        assert evidence.hearing is not None
        hearing = replace(evidence.hearing, proves=False, again=evidence.hearing.rival)
        plain.append((task, replace(evidence, hearing=hearing)))
    return plain


def gather(
    tasks: Sequence[Task],
    language: Language,
    options: HearingOptions,
    cache: Path,
    tell: Callable[[str], None],
) -> list[Heard]:
    """The evidence of every utterance in every recording, heard by all processors together."""
    heard: list[Heard] = []
    work = partial(_gathered, language, options, cache)
    for piece in side_by_side(work, in_pieces(in_order(tasks)), None):
        heard += piece
        tell(f"{len(heard)} utterances of {len(tasks)} recordings")
    return heard


def _gathered(
    language: Language, options: HearingOptions, cache: Path, tasks: Sequence[Task]
) -> list[Heard]:
    ear = open_hearing(language, options, cache).ear
    heard: list[Heard] = []
    for task in tasks:
        ear = ear.anew(new_endpointer())
        ear.listen(task.state.callouts)
        heard += [(task, evidence) for evidence in _evidence(ear, task)]
    return heard


def _evidence(ear: Ear, task: Task) -> list[Evidence]:
    found = []
    for block in WavSource(task.audio).blocks():
        if ear.feed(block.mixed) and ear.last is not None:
            found.append(ear.last)
    if ear.finish() and ear.last is not None:
        found.append(ear.last)
    return found


def examples_of(heard: Sequence[Heard]) -> list[Example]:
    """What can be learnt: utterances that have a candidate."""
    examples = []
    for task, evidence in heard:
        grammar = Grammar(task.state.callouts, task.loaded.language.speech.joiners)
        candidate = candidate_of(evidence, grammar)
        if candidate is None:
            continue
        examples.append(
            Example(
                features_of(evidence, grammar, candidate),
                candidate.keys == task.said,
                any(object_(evidence, grammar, candidate) for object_ in objections_to(evidence)),
                dearest(candidate.parts),
                task.line.of_kind,
                task.line.voice,
                task.line.noise,
            )
        )
    return examples


def written(
    found: dict[str, Calibration],
    tasks: Sequence[Task],
    listeners: str,
    beside: Mapping[str, Calibration] | None = None,
) -> str:
    """The text of a calibration file. beside: sets of an earlier one that stay as they are."""
    kept = {name: made for name, made in (beside or {}).items() if name not in found}
    voices = sorted({task.line.voice for task in tasks})
    made = {
        "by": f"voicecheck measure calibrate, version {__version__}",
        "listeners": listeners,
        "recordings": str(len(tasks)),
        "noise": ", ".join(sorted({task.line.noise for task in tasks})),
        "voices": ", ".join(voices),
    }
    if kept:
        made["kept from an earlier calibration"] = ", ".join(kept)
    file = CalibrationFile(1, made, found | kept)
    return ADAPTER.dump_json(file, indent=1).decode() + "\n"
