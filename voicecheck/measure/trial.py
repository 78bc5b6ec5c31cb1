"""One recording of a corpus through the ear of a live session, and what came of it."""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter, process_time
from typing import Any, Final

from voicecheck.audio.source import RATE
from voicecheck.audio.wav import WavSource
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.measure.manifest import Line, audio_path
from voicecheck.measure.offered import State, states_of
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.speech.ear import Ear
from voicecheck.speech.endpoint import Endpointer
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.verdict import Accepted, Spoken, Unclear, Verdict
from voicecheck.world.fleet import airframe


class Outcome(enum.StrEnum):
    """What became of a recording. The first four where a callout was said, the rest where not."""

    RIGHT = "right"
    """Acted on what was said, and asked nothing."""
    WRONG = "wrong"
    """Acted on something that was not said."""
    ASKED = "asked again"
    """Asked, and acted on nothing that was not said."""
    MISSED = "missed"
    """Left alone, wholly or in part, without asking."""
    ACTED = "acted on"
    """Acted although no callout was said."""
    BOTHERED = "asked about"
    """Asked although no callout was said."""
    LEFT = "left alone"


@dataclass(frozen=True, slots=True)
class Heard:
    """What an ear made of one recording, in its order.

    acted: callouts acted on; asked: how often it asked; written: their words;
    start, end: of the first and last word acted on (seconds); decided: stream time of the last
    verdict; computed: seconds that it came later than that, live; processor: processor time of all
    threads, which other programs do not lengthen; spent: it by stage; total: all computing.
    """

    acted: tuple[str, ...]
    asked: int
    written: str = ""
    start: float | None = None
    end: float | None = None
    decided: float | None = None
    computed: float | None = None
    processor: float | None = None
    spent: dict[str, float] = field(default_factory=dict)
    total: float = 0.0
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Trial:
    """A line of the manifest, the callouts said in it, their words, and what was heard."""

    line: Line
    said: tuple[str, ...]
    heard: Heard
    reference: str = ""

    @property
    def outcome(self) -> Outcome:
        """Right, wrong and so on."""
        acted, asked = self.heard.acted, self.heard.asked
        if not self.said:
            if acted:
                return Outcome.ACTED
            return Outcome.BOTHERED if asked else Outcome.LEFT
        if acted == self.said and not asked:
            return Outcome.RIGHT
        if not _inside(acted, self.said):
            return Outcome.WRONG
        return Outcome.ASKED if asked else Outcome.MISSED


def _inside(acted: Sequence[str], said: Sequence[str]) -> bool:
    """Whether all that was acted on was said, in that order."""
    rest = iter(said)
    return all(key in rest for key in acted)


@dataclass(frozen=True, slots=True)
class Task:
    """A line that is ready to be heard."""

    number: int
    line: Line
    audio: Path
    loaded: Loaded
    state: State
    said: tuple[str, ...]
    reference: str
    """The words said, where they are callouts, else what the manifest tells."""


def tasks_of(manifest: Path, lines: Sequence[tuple[int, Line]]) -> tuple[Task, ...]:
    """Check every line before anything is heard. Raises InputError with file, line, remedy."""
    resolved: dict[tuple[str, str], tuple[Loaded, dict[str, State]]] = {}
    tasks = []
    for number, line in lines:
        place = Place(str(manifest), number)
        key = (line.checklist, line.airframe)
        if key not in resolved:
            resolved[key] = _resolved(place, line, manifest)
        loaded, states = resolved[key]
        state = states.get(line.state)
        if state is None:
            raise InputError(
                place,
                f"state: {line.checklist} {line.airframe} has no state '{line.state}'",
                f"use one that 'voicecheck measure callouts {line.checklist} "
                f"--airframe {line.airframe}' prints",
            )
        grammar = Grammar(state.callouts, lexicon_of(loaded.language).joiners)
        said, reference = _said(place, line, grammar)
        audio = audio_path(manifest, number, line)
        tasks.append(Task(number, line, audio, loaded, state, said, reference))
    return tuple(tasks)


def _resolved(place: Place, line: Line, manifest: Path) -> tuple[Loaded, dict[str, State]]:
    beside = manifest.parent / line.checklist
    name = str(beside) if beside.is_file() else line.checklist
    try:
        loaded = airframe(name, line.airframe)
    except InputError:
        raise  # it names a place of its own
    except VoicecheckError as error:
        problem, _, remedy = str(error).partition("; ")
        raise InputError(
            place, problem, remedy or "correct 'checklist' and 'airframe' on this line"
        ) from error
    return loaded, {state.name: state for state in states_of(loaded.checklist)}


def _said(place: Place, line: Line, grammar: Grammar) -> tuple[tuple[str, ...], str]:
    if line.said is None:
        return (), line.text or ""
    for callout in grammar.callouts:
        if callout.key == line.said:
            return (callout.key,), line.text or callout.phrases[0]
    parts = grammar.read(line.said.split())
    if parts is None:
        raise InputError(
            place,
            f"said: '{line.said}' is no callout of state '{line.state}'",
            "use a callout or its words as 'voicecheck measure callouts' prints them, or null",
        )
    return tuple(part.callout.key for part in parts), line.said


PIECE: Final = 40
Hear = Callable[[Task], Heard]
"""Any way to hear a recording: the whole pipeline, or a peer of it."""


def in_order(tasks: Sequence[Task]) -> list[Task]:
    """Those of one state together, because a grammar is compiled once."""
    return sorted(tasks, key=lambda t: (t.line.checklist, t.line.airframe, t.line.state))


def in_pieces(tasks: Sequence[Task]) -> list[Sequence[Task]]:
    """As many as one process hears before it reports."""
    return [tasks[at : at + PIECE] for at in range(0, len(tasks), PIECE)]


def run(tasks: Sequence[Task], hear: Hear) -> Iterator[Trial]:
    """Hear every task."""
    for task in in_order(tasks):
        yield Trial(task.line, task.said, hear(task), task.reference)


class LiveHearing:
    """Hears as a live session does: sound in small blocks, verdicts as they come."""

    def __init__(self, ear: Ear, endpointer: Callable[[], Endpointer]) -> None:
        self._ear = ear
        self._endpointer = endpointer

    def __call__(self, task: Task) -> Heard:
        """One recording from its beginning, with an ear that has heard nothing before."""
        self._ear = ear = self._ear.anew(self._endpointer())
        ear.listen(task.state.callouts)
        verdicts: list[Verdict] = []
        latest: dict[str, Any] = {}
        total = behind = processor = 0.0
        for block in WavSource(task.audio).blocks():
            began, worked = perf_counter(), process_time()
            new = ear.feed(block.mixed)
            took = perf_counter() - began
            total += took
            # As live: what is judged in a pause is done while the sound goes on.
            behind = max(0.0, behind - block.mixed.size / RATE) + took
            processor = max(processor, process_time() - worked)
            if new:
                latest = {"computed": behind, "processor": processor, "spent": dict(ear.spent)}
                processor = 0.0
            verdicts += new
        began = perf_counter()
        verdicts += ear.finish()
        return told(verdicts, seconds=ear.now, total=total + perf_counter() - began, **latest)


def told(verdicts: Sequence[Verdict], **times: Any) -> Heard:
    """Verdicts as a Heard. times: its other fields, as far as they are known."""
    spoken: list[Spoken] = [s for v in verdicts if isinstance(v, Accepted) for s in v.spoken]
    return Heard(
        acted=tuple(s.callout for s in spoken),
        asked=sum(isinstance(v, Unclear) for v in verdicts),
        written=" ".join(s.words for s in spoken),
        start=spoken[0].start if spoken else None,
        end=spoken[-1].end if spoken else None,
        decided=verdicts[-1].decided if verdicts else None,
        **times,
    )


def trial_json(trial: Trial) -> dict[str, Any]:
    """One trial, JSON-ready: what it was, what was heard, what became of it."""
    return {
        **trial.line.model_dump(),
        "outcome": trial.outcome.value,
        "acted": list(trial.heard.acted),
        "asked": trial.heard.asked,
    }
