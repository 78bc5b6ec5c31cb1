"""What a session rests on, kept and shown when something went wrong in it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import Engine, effects, events
from voicecheck.journal.format import Kind
from voicecheck.oracle.heard import NOT_ON_OFFER, Delivered
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.session.codec import event_from_json

AROUND: Final = 3
"""Lines of a journal shown before and after each that names an item."""


def replayed(checklist: Checklist, given: Iterable[events.Event]) -> list[str]:
    """A journal of a session without sound: each event, and what the engine made of it."""
    engine, lines = Engine(checklist), []
    for event in given:
        lines.append(str(event))
        try:
            made = engine.handle(event)
        except Exception as error:
            lines.append(f"    breaks off: {error!r}")
            break
        lines += [f"    {e}" for e in made if isinstance(e, effects.Say | effects.Note)]
    return lines


def of_journal(lines: Iterable[Mapping[str, Any]]) -> list[Delivered]:
    """What an engine was given and what it said, from the lines of a journal."""
    session = []
    for line in lines:
        if line["kind"] != Kind.EVENT:
            continue
        said = frozenset(e["prompt"] for e in line["effects"] if e["type"] == "say")
        heeded = not any(e.get("kind") == NOT_ON_OFFER for e in line["effects"])
        session.append(Delivered(event_from_json(line["event"]), said, heeded))
    return session


def about(journal: Sequence[str], item: str) -> list[str]:
    """The part of a journal that has to do with an item; what is left out shows as "..."."""
    named = [at for at, line in enumerate(journal) if item in line]
    wanted = {n for at in named for n in range(at - AROUND, at + AROUND + 1)}
    lines: list[str] = []
    for at, line in enumerate(journal):
        if at in wanted:
            lines.append(line)
        elif lines and lines[-1] != "...":
            lines.append("...")
    return lines


def journal_of(outcome: Outcome) -> list[str]:
    """The journal of a session in which something went wrong, a line each; else empty."""
    played = outcome.evidence.get("played")
    if played is None:
        return list(outcome.evidence.get("journal", ()))
    return [json.dumps(line, ensure_ascii=False, default=str) for line in played.lines]


def keep(outcome: Outcome, folder: Path) -> Path:
    """Write what a session rests on: the crew's account, its journal, and its sound if any."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{outcome.registration}-{outcome.number}{_level(outcome.noise_db)}.json"
    evidence: dict[str, Any] = dict(outcome.evidence)
    played = evidence.pop("played", None)
    if played is not None:
        import soundfile

        from voicecheck.audio.source import RATE

        evidence["journal"] = played.lines
        soundfile.write(path.with_suffix(".wav"), played.sound, RATE, subtype="PCM_16")
    judged = outcome.judgement
    facts = {
        "airframe": outcome.registration,
        "number": outcome.number,
        "faults": list(outcome.faults),
        "wrongly good": [f"{w.item} ({w.cause}): {w.why}" for w in judged.good],
        "false findings": [f"{w.item}: {w.why}" for w in judged.false_findings],
        "not as called": [f"{w.item}: {w.why}" for w in judged.otherwise],
        "crash": outcome.crash,
        **evidence,
    }
    path.write_text(json.dumps(facts, ensure_ascii=False, indent=1, default=str) + "\n", "utf-8")
    return path


def _level(db: float | None) -> str:
    return "" if db is None else f"-{db:g}dB"
