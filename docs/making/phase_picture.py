"""The engine's phases as a picture and a table, drawn from the engine itself.

``python docs/making/phase_picture.py docs/phases.md`` writes the page; a test fails
when it is not current.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from page_file import write_named, write_page
from voicecheck.checklist.loader import load_checklist
from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import phases
from voicecheck.engine.actions import (
    CloseWindow,
    Command,
    DisregardPosition,
    GiveReason,
    NameDark,
    Observe,
    Select,
    SelectNotFitted,
    SetPower,
)
from voicecheck.engine.offers import Offer, offers
from voicecheck.engine.phases import TABLE, Phase
from voicecheck.engine.state import Ask, OpenWindow, Question, SessionState
from voicecheck.shipped import checklists_dir, grammars_dir

EXAMPLE: Final = ("skerry-j2", "ZZ-HJC")
"""A checklist and airframe with a timed lamp, a lamp group and a position that is not fitted."""
_POSITION: Final = "gear"
"""Where the selector is taken to be while testing: it has a lamp group and no timed lamp."""
_KINDS: Final = {
    Observe: "readings of the position's items",
    NameDark: "one dark lamp of a group",
    CloseWindow: "what became of a timed lamp",
    Select: "positions",
    DisregardPosition: "a position that is disregarded whole",
    SelectNotFitted: "positions that are not fitted",
    SetPower: "buses on and off",
    GiveReason: "reasons for abandoning",
}


@dataclass(frozen=True, slots=True)
class OnOffer:
    """Kinds of callouts that one phase offers: always, and what a condition adds to them."""

    phase: Phase
    always: tuple[str, ...]
    timed: tuple[str, ...]
    asked: tuple[str, ...]
    abandoning: tuple[str, ...]


def mermaid() -> str:
    """The phase table as a Mermaid state diagram."""
    lines = ["stateDiagram-v2", "    direction LR"]
    lines += [f'    state "{phase.value}" as {phase.name.lower()}' for phase in Phase]
    lines.append(f"    [*] --> {Phase.STARTING.name.lower()}")
    for trigger, sources, dest in TABLE:
        words = trigger.replace("_", " ")
        lines += [f"    {s.name.lower()} --> {dest.name.lower()}: {words}" for s in sources]
    lines.append(f"    {Phase.FINISHED.name.lower()} --> [*]")
    return "\n".join(lines)


def on_offer(checklist: Checklist) -> tuple[OnOffer, ...]:
    """What each phase offers on this checklist, as the engine itself computes it."""
    timed = next(item.id for item in checklist.items if item.window is not None)
    rows = []
    for phase in Phase:
        state = SessionState(phase=phase, position=_position_in(phase, checklist))
        always = _kinds(offers(checklist, state))
        added = [
            tuple(kind for kind in _kinds(offers(checklist, replaced)) if kind not in always)
            for replaced in (
                replace(state, windows=(OpenWindow(timed, 0.0, 9.0),)),
                replace(state, question=Question(Ask.CLAIMS)),
                replace(state, question=Question(Ask.ABANDON)),
            )
        ]
        rows.append(OnOffer(phase, always, *added))
    return tuple(rows)


def page() -> str:
    """The whole page in Markdown."""
    checklist = load_checklist(
        *EXAMPLE, shipped=checklists_dir(), grammars=grammars_dir()
    ).checklist
    return "\n".join(_page(checklist)) + "\n"


def _page(checklist: Checklist) -> Iterator[str]:
    yield "# Phases of a session"
    yield ""
    yield "Written by `make docs` from `voicecheck/engine/phases.py` and `offers.py`; change those."
    yield ""
    assert phases.__doc__ is not None
    for name, meaning in _meanings(phases.__doc__):
        yield f"- **{name}**: {meaning}"
    yield ""
    yield "```mermaid"
    yield mermaid()
    yield "```"
    yield ""
    yield "## What can be called"
    yield ""
    yield (
        f"As offered on {checklist.type} {checklist.registration}, with the selector at "
        f"{checklist.position(_POSITION).say} while testing. Quoted: commands, in the first of "
        "their wordings."
    )
    yield ""
    yield (
        "| phase | always | and while a timed lamp runs | and while a yes or no is wanted "
        "| and while a reason for abandoning is wanted |"
    )
    yield "|---|---|---|---|---|"
    for row in on_offer(checklist):
        cells = (row.always, row.timed, row.asked, row.abandoning)
        yield f"| {row.phase.value} | " + " | ".join("; ".join(c) or "–" for c in cells) + " |"


def _meanings(text: str) -> Iterator[tuple[str, str]]:
    """Phase and meaning, from the lines of the module's own description."""
    names = {phase.value for phase in Phase}
    for line in text.splitlines():
        name, _, meaning = line.partition(" ")
        if name in names:
            yield name, meaning.strip()


def _position_in(phase: Phase, checklist: Checklist) -> str | None:
    if phase is Phase.AT_REST:
        return checklist.positions[-1].id
    return _POSITION if phase in (Phase.TESTING, Phase.HELD) else None


def _kinds(offered: Mapping[str, Offer]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_kind(offer) for offer in offered.values()))


def _kind(offer: Offer) -> str:
    if isinstance(offer.action, Command):
        return f'"{offer.callout.phrases[0]}"'
    return _KINDS[type(offer.action)]


def write(path: Path) -> None:
    """Write the page. Raises VoicecheckError when that cannot be done."""
    write_page(path, page(), folder=True)


if __name__ == "__main__":
    write_named(write)
