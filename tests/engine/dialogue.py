"""Written dialogues: what the crew does, and under each line what voicecheck makes of it.

A dialogue is a text file in engine/dialogues, to be read by a person who knows the trade.

    # A title
    airframe ZZ-HAA, two crew, two microphones
    > words            the pilot calls (>> the second crew member), 0.8 s long, after 0.2 s
    +4.5 > words       the same, begun 4.5 s after the last thing ended
    unclear words; ..  somebody spoke; these are the guesses (unclear alone: none)
    key words          entered by key
    wait 15            15 s pass and nothing is undecided
    prompt 2           a prompt of ours is audible for 2 s
    lost PART          a part fails (restored PART: it is back); end REASON: no more will come
    look               what an eye would see and an ear could hear now
    result             the summary, once the session is over

Indented lines are what follows: says (routine), asks (must be spoken), warns (a warning), notes
(a line for the record). ``python tests/engine/dialogue.py FILE`` prints a dialogue with what
follows today, to be read and judged before it goes into the file.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from fleet import Crew, loaded

from voicecheck.engine import effects
from voicecheck.engine import events as e

VERBS: Final = {
    effects.Priority.ROUTINE: "says",
    effects.Priority.KEPT: "asks",
    effects.Priority.WARNING: "warns",
}
INDENT: Final = "    "


def played(script: str) -> str:
    """The dialogue with everything that follows from its lines today."""
    lines: list[str] = []
    crew: Crew | None = None
    for line in script.splitlines():
        if line.startswith(INDENT):
            continue
        lines.append(line)
        if not line or line.startswith("#"):
            continue
        if line.startswith("airframe "):
            crew = _board(line.removeprefix("airframe "))
            lines += _spoken(crew, crew.effects)
            continue
        assert crew is not None, "the first line names the airframe"
        if line == "look":
            lines += _seen(crew)
        elif line == "result":
            lines += _result(crew.result)
        else:
            lines += _spoken(crew, crew.feed(_event(crew, line)))
    return "\n".join(lines) + "\n"


def _board(words: str) -> Crew:
    registration, *rest = words.split(", ")
    channels = 2 if "two microphones" in rest else 1
    return Crew(registration, e.Began(0.0, "two crew" in rest, channels))


def _event(crew: Crew, line: str) -> e.Event:
    pause = 1.2 if line.endswith("affirm") else 0.2  # a question is answered once it sounded
    if line.startswith("+"):
        first, line = line.split(" ", 1)
        pause = float(first)
    word, _, rest = line.partition(" ")
    match word:
        case ">" | ">>":
            start = crew.now + pause
            crew.now = start + 0.8
            key = crew.phrases().get(rest, rest)
            return e.Heard(key, rest, start, crew.now, 0.99, 1 if word == ">>" else 0)
        case "unclear":
            start = crew.now + pause
            crew.now = start + 0.8
            known = crew.phrases()
            guess = tuple(known.get(words, words) for words in rest.split("; ") if words)
            return e.Unclear(start, crew.now, guess)
        case "key":
            crew.now += 1.0
            return e.KeyPressed(crew.phrases().get(rest, rest), crew.now)
        case "wait":
            crew.now += float(rest)
            return e.Passed(crew.now)
        case "prompt":
            crew.now += float(rest)
            return e.Prompted(crew.now - float(rest), crew.now)
        case "lost":
            crew.now += 1.0
            return e.Lost(rest, crew.now)
        case "restored":
            crew.now += 1.0
            return e.Restored(rest, crew.now)
        case "end":
            return e.Ended(crew.now, rest)
        case _:
            raise ValueError(f"not a line of a dialogue: {line}")


def _spoken(crew: Crew, made: list[effects.Effect]) -> Iterator[str]:
    language = loaded(crew.engine.checklist.registration).language
    for effect in made:
        if isinstance(effect, effects.Say):
            words = "(caution)"
            if effect.prompt != "preamble":
                words = language.render(effect.prompt, effect.values)
            yield f"{INDENT}{VERBS[effect.priority]} {words}"
        elif isinstance(effect, effects.Note):
            facts = _facts({"at": effect.at, **effect.facts})
            yield f"{INDENT}notes {effect.kind}: {facts}"


def _facts(facts: dict[str, Any]) -> str:
    return ", ".join(f"{name} {_plain(value)}" for name, value in facts.items())


def _plain(value: Any) -> str:
    if isinstance(value, float):
        return f"{round(value, 6):.10g}"
    if isinstance(value, str):
        return f"'{value}'"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_plain, value)) + "]"
    if isinstance(value, dict):
        return "{" + _facts(value) + "}"
    return json.dumps(value)


def _seen(crew: Crew) -> Iterator[str]:
    view = next(x.view for x in reversed(crew.effects) if isinstance(x, effects.Show))
    for name, value in view.items():
        entries = value if value and isinstance(value, list) else [value]
        for entry in entries:
            yield f"{INDENT}{name}: {_plain(entry)}"
    wakes = [x.at for x in crew.effects if isinstance(x, effects.Wake)]
    yield f"{INDENT}wake: {_plain(wakes[-1] if wakes else None)}"
    heard = [x.callouts for x in crew.effects if isinstance(x, effects.Listen)]
    for callout in heard[-1]:
        joins = ", joins" if callout.joins else ""
        words = "; ".join(callout.phrases)
        yield f"{INDENT}can be said: {words} ({callout.key}, {callout.stakes.value}{joins})"


def _result(summary: dict[str, Any]) -> Iterator[str]:
    for name, value in summary.items():
        for entry in value if value and isinstance(value, list) else [value]:
            yield f"{INDENT}{name}: {_plain(entry)}"


if __name__ == "__main__":
    print(played(Path(sys.argv[1]).read_text("utf-8")), end="")
