"""What people say in a cockpit, written down without sight of the grammar: none is misunderstood.

sayings/*.json: each a set by one manner of speaking, written by a language model from
situations.txt alone (what is seen, no wording); its "origin" says whose manner. meanings.json
says what each situation's number stands for. Half of the sets are kept for the test of a wider
grammar (ROLES).
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any, Final

import pytest
from fleet import loaded

from voicecheck.checklist.resolved import Checklist
from voicecheck.engine.offers import offers
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Ask, OpenWindow, Question, SessionState

HERE: Final = Path(__file__).parent / "sayings"
ROLES: Final = {
    "tuning": ("american", "british", "chatty"),
    "test": ("northern", "second-language", "terse"),
}
SETS: Final = tuple(sorted(name for names in ROLES.values() for name in names))
MEANINGS: Final[dict[str, dict[str, Any]]] = json.loads((HERE / "meanings.json").read_text("utf-8"))


def read(name: str) -> dict[str, Any]:
    text = (HERE / f"{name}.json").read_text("utf-8")
    return dict(json.loads(text))


def state_of(checklist: Checklist, position: str | None, meaning: str) -> SessionState:
    """Where the situation is: everything that it asks for can be said."""
    here = position or checklist.positions[0].id
    timed = tuple(OpenWindow(i.id, 0.0, 9.0) for i in checklist.items if i.window is not None)
    question = Question(Ask.CLAIMS) if meaning in ("command:affirm", "command:negative") else None
    phase = Phase.HELD if meaning == "command:resume" else Phase.TESTING
    windows = timed if meaning.partition(":")[0] in {w.item for w in timed} else ()
    return SessionState(phase, here, windows=windows, question=question)


def understood(number: str) -> tuple[str, dict[str, str]]:
    """What a situation means, and every wording that can be said in it with what that means."""
    situation = MEANINGS[number]
    checklist = loaded(situation["airframe"]).checklist
    state = state_of(checklist, situation["position"], situation["meaning"])
    found = offers(checklist, state)
    assert situation["meaning"] in found, number
    return situation["meaning"], {p: key for key, o in found.items() for p in o.callout.phrases}


@pytest.mark.parametrize("name", SETS)
def test_a_set_says_everything_in_two_ways(name: str) -> None:
    said = read(name)
    assert said["origin"]
    assert set(said["routine"]) == set(said["other"]) == set(MEANINGS)
    assert len(set(said["chatter"])) >= 160


@pytest.mark.parametrize("name", SETS)
def test_nothing_said_is_taken_for_something_else(name: str) -> None:
    said, counts = read(name), Counter[str]()
    for number in MEANINGS:
        meaning, wordings = understood(number)
        for part in ("routine", "other"):
            key = wordings.get(said[part][number])
            counts[part] += key == meaning
            assert key in (None, meaning), f"{number}: {said[part][number]}"
    print(f"{name}: understood of {len(MEANINGS)}: {dict(counts)}")


@pytest.mark.parametrize("name", SETS)
def test_chatter_is_no_callout(name: str) -> None:
    every = {p for number in MEANINGS for p in understood(number)[1]}
    commands = {p for ps in loaded("ZZ-HAB").checklist.commands.values() for p in ps}
    assert not {line for line in read(name)["chatter"] if line in every - commands}
