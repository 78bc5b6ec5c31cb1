"""What a simulated crew does about a prompt that it hears."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from voicecheck.checklist.resolved import OFF, Grade, position_key
from voicecheck.rehearsal import yes_or_no
from voicecheck.rehearsal.account import Entry, Said
from voicecheck.rehearsal.got_through import (
    lost_on_the_way,
    not_corrected,
    not_taken,
    yes_lost,
)
from voicecheck.rehearsal.intents import (
    Command,
    Go,
    Intent,
    Look,
    NameDark,
    Pause,
    Reason,
    Repeat,
)
from voicecheck.rehearsal.yes_or_no import Values, look_again
from voicecheck.world.acts import Utterance

if TYPE_CHECKING:
    from voicecheck.rehearsal.crew import Crew

MOST_REPEATS: Final = 6
"""Times that an utterance is said again before the crew gives it up."""


def answer(crew: Crew, prompt: str, values: Values, at: float) -> None:
    """Change what the crew has in mind, and what it will say next."""
    if prompt == "ack":
        _where(crew, values["words"])
    if prompt in _READ_BACK and not _as_said(crew, values["words"]):
        if not crew.does(crew.manners.careless):
            lost_on_the_way(crew)
            again = [Repeat(crew.memory.call)] if crew.memory.call else []
            crew.memory.first(Command("correction"), *again)
        return
    if prompt in _TAKEN:
        _taken(crew, values.get("words", ""))
    elif prompt == "power-set":
        crew.just_said.clear()
    react = _ANSWERS.get(prompt)
    if react is None:
        return
    if prompt in _MAY_BE_IGNORED and crew.does(crew.manners.ignore):
        return
    react(crew, values, at)


def _taken(crew: Crew, words: str) -> None:
    """One call was understood; a call that was agreed to by these words is settled, too."""
    crew.said_yes_to = []
    waiting = crew.yes_unanswered
    crew.yes_unanswered = [entry for entry in waiting if not _says(crew, words, entry)]
    if crew.just_said:
        crew.just_said.pop(0)
    first = crew.memory.wordings.first
    agreed = crew.just_agreed
    crew.just_agreed = [e for e in agreed if e.said is not Said.ITEM or first(e.key) != words]


def _says(crew: Crew, words: str, entry: Entry) -> bool:
    """Whether these words are a call's, or the finding that its time is."""
    item = crew.memory.item(entry.about)
    late = item.window is not None and words.startswith(item.reports)
    return late or crew.memory.wordings.first(entry.key) == words


def _where(crew: Crew, words: str) -> None:
    """A position that is read back is where voicecheck believes the selector to be."""
    for position in crew.checklist.positions:
        if position.say == words:
            crew.memory.told_position = position.id


def _as_said(crew: Crew, words: str) -> bool:
    """Whether what is read back is what was called or agreed to."""
    memory = crew.memory
    if memory.last is not None and memory.last.keys == ("command:say-again",):
        return True
    keys = (*(memory.call.keys if memory.call else ()), *(e.key for e in crew.just_agreed))
    said = {memory.wordings.first(key) for key in keys}
    said |= {p.say for p in crew.checklist.positions if position_key(p.id) in keys}
    # A finding about time has words of its own.
    timed = any(i.window and words.startswith(i.reports) for i in crew.checklist.items)
    return timed or words in said


def not_understood(crew: Crew, last: Utterance) -> None:
    """Nothing came back, or "say again": the crew says it again."""
    memory = crew.memory
    not_corrected(crew)
    if last is memory.call:
        lost_on_the_way(crew)
    else:
        yes_lost(crew, last)
    memory.repeats += 1
    if memory.held:
        crew.memory.first(Command("resume"), Repeat(last))
    elif memory.repeats <= MOST_REPEATS:
        crew.memory.first(Repeat(last))
    else:
        memory.repeats = 0
        _give_up(crew, last)


def _give_up(crew: Crew, last: Utterance) -> None:
    """Say where the selector is, perhaps that was not known; bad news is not given up soon."""
    memory = crew.memory
    bad: list[Intent] = []
    for key in last.keys:
        if key in memory.wordings.readings:
            item, reading = memory.wordings.readings[key]
            memory.reopen(item)
            is_bad = reading.grade is not Grade.GOOD and reading in item.readings
            if is_bad and memory.insists(item, key):
                bad.append(Look(item.id, exactly=key))
    if memory.position is not None and last is memory.call and last.moves is None:
        crew.memory.first(Go(memory.position), *bad)


def _say_again(crew: Crew, _values: Values, _at: float) -> None:
    crew.account.asked_again += 1


def _call_again(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.last = crew.memory.call
    if crew.memory.last is not None:
        crew.memory.first(Repeat(crew.memory.last))


def _which_dark(crew: Crew, _values: Values, _at: float) -> None:
    short = [e for e in crew.account.entries if e.said is Said.ITEM]
    if short:
        crew.memory.first(NameDark(short[-1].about))


def _not_counted(crew: Crew, _values: Values, _at: float) -> None:
    """What was called last did not count: look at it again once the power is right."""
    memory = crew.memory
    not_taken(crew)
    for key in memory.call.keys if memory.call else ():
        if key in memory.wordings.readings:
            item = memory.wordings.readings[key][0]
            memory.reopen(item)
            for bus, _ in memory.needs(item).items():
                memory.power.pop(bus, None)


def _voided(crew: Crew, values: Values, _at: float) -> None:
    for position in crew.checklist.positions:
        if position.say == values["position"]:
            for item in position.items:
                if item.expected in values["items"]:
                    crew.memory.reopen(item)


def _call_first(crew: Crew, values: Values, _at: float) -> None:
    memory = crew.memory
    not_taken(crew)
    for item in crew.checklist.items:
        if item.position == memory.position and item.expected == values["needed"]:
            memory.reopen(item)
    look_again(crew)


def _reminded(crew: Crew, values: Values, _at: float) -> None:
    """Items are wanted by name: whatever was forgotten is now remembered.

    Not what cannot be tested because a bus does not do as it should: that is let be.
    """
    memory = crew.memory
    for item in crew.checklist.items:
        wanted = item.expected in values["items"] and item.id in memory.left_out
        if wanted and not memory.without_power(item):
            memory.left_out.discard(item.id)


def _missing(crew: Crew, values: Values, _at: float) -> None:
    memory = crew.memory
    wanted = values["positions"].split(", ")
    for position in crew.checklist.positions:
        if position.say not in wanted:
            continue
        for item in position.items:
            counted = memory.called.get(item.id)
            if (counted is None or item.id in memory.left_out) and not memory.without_power(item):
                memory.reopen(item)
    # Something that the crew believes to have called did not count: it is called once more.
    for position in crew.checklist.positions:
        if position.say in wanted and not memory.open(position.id):
            for item in position.items:
                if not memory.tired_of(item) and not memory.without_power(item):
                    memory.reopen(item)


def _confirm_incomplete(crew: Crew, _values: Values, _at: float) -> None:
    memory = crew.memory
    left = [p.id for p in crew.checklist.positions if memory.open(p.id)]
    if memory.short or not left:
        crew.memory.first(Command("affirm"))
    else:
        crew.memory.first(Command("negative"))


def _window_ask(crew: Crew, values: Values, _at: float) -> None:
    for item in crew.checklist.items:
        if item.window is not None and item.readings[0].phrases[0] == values["out"]:
            crew.memory.first(Look(item.id))


def _window_close(crew: Crew, values: Values, _at: float) -> None:
    memory = crew.memory
    for position in crew.checklist.positions:
        if position.select[0] == values["position"]:
            for item in position.items:
                if item.window is not None:
                    memory.reopen(item)
                    memory.drop(Look(item.id))  # nothing runs that could be called


def _window_within(crew: Crew, _values: Values, _at: float) -> None:
    for item in crew.checklist.items:
        if item.window is not None and item.position != crew.memory.position:
            crew.memory.drop(Look(item.id))


def _read_back(crew: Crew, _values: Values, _at: float) -> None:
    calls = [e for e in crew.account.entries if e.said is Said.ITEM]
    if calls:
        crew.memory.first(Look(calls[-1].about, who=1 - calls[-1].who))


def _disagree(crew: Crew, _values: Values, _at: float) -> None:
    calls = [e for e in crew.account.entries if e.said is Said.ITEM]
    if calls:
        crew.memory.reopen(crew.memory.item(calls[-1].about))


def _selector_first(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.first(Go(OFF))


def _window_open(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.first(Pause(5.0))


def _ask_reason(crew: Crew, _values: Values, _at: float) -> None:
    if crew.chance.random() < 0.5:
        crew.memory.first(Command("negative"))
    else:
        crew.memory.first(Reason(crew.chance.choice(list(crew.checklist.reasons))))


def _nothing_corrected(crew: Crew, _values: Values, _at: float) -> None:
    not_corrected(crew)


def _held(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.held = True


def _part_lost(crew: Crew, values: Values, _at: float) -> None:
    if values["part"] not in ("microphone", "session"):
        return
    if crew.memory.last is crew.memory.call:
        lost_on_the_way(crew)
        if crew.memory.call is not None:
            # The crew has been told that nobody heard it.
            crew.memory.first(Repeat(crew.memory.call))
    else:
        not_corrected(crew)
        if crew.memory.last is not None:
            yes_lost(crew, crew.memory.last)


def _resumed(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.held = False


def _finished(crew: Crew, _values: Values, _at: float) -> None:
    crew.memory.over = True


_ANSWERS: Final[dict[str, Callable[[Crew, Values, float], None]]] = {
    "say-again": _say_again,
    "call-again": _call_again,
    "confirm": yes_or_no.confirm,
    "confirm-change": yes_or_no.confirm_change,
    "confirm-position": yes_or_no.confirm_position,
    "which-dark": _which_dark,
    "not-counted": _not_counted,
    "voided": _voided,
    "first": _call_first,
    "left-early": _reminded,
    "outstanding": _reminded,
    "missing": _missing,
    "confirm-incomplete": _confirm_incomplete,
    "window-ask": _window_ask,
    "window-close": _window_close,
    "window-within": _window_within,
    "read-back-wanted": _read_back,
    "read-back-again": _read_back,
    "disagreement": _disagree,
    "selector-first": _selector_first,
    "window-open": _window_open,
    "ask-reason": _ask_reason,
    "part-lost": _part_lost,
    "nothing-to-correct": _nothing_corrected,
    "holding": _held,
    "resuming": _resumed,
    "finished-complete": _finished,
    "finished-incomplete": _finished,
}
_TAKEN: Final = frozenset(
    {
        *("ack", "finding", "which-dark", "window-within", "window-close", "still-lit"),
        *("read-back-wanted", "read-back-again", "disagreement", "position-not-fitted"),
    }
)
"""Prompts from which the crew knows that its call was taken as it was said."""
_READ_BACK: Final = frozenset({"ack", "finding", "which-dark", "read-back-wanted"})
"""Prompts that say what was heard."""
_MAY_BE_IGNORED: Final = frozenset(
    {"which-dark", "outstanding", "left-early", "window-ask", "read-back-wanted"}
)
