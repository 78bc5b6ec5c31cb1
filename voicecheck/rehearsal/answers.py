"""What a simulated crew does about a prompt that it hears."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from voicecheck.checklist.resolved import OFF, Grade, Item, position_key
from voicecheck.rehearsal import yes_or_no
from voicecheck.rehearsal.intents import (
    Command,
    Go,
    Intent,
    Look,
    NameDark,
    Pause,
    Power,
    Reason,
    Repeat,
)
from voicecheck.rehearsal.memory import Memory
from voicecheck.rehearsal.yes_or_no import Values, look_again
from voicecheck.world.acts import Utterance

MOST_REPEATS: Final = 6
"""Times that an utterance is said again before the crew gives it up."""


def answer(memory: Memory, prompt: str, values: Values) -> None:
    """Change what the crew has in mind, and what it will say next."""
    if prompt == "ack":
        memory.told_position = _place(memory, values["words"]) or memory.told_position
    if prompt in _READ_BACK and not _as_said(memory, values["words"]):
        if memory.does("careless"):
            memory.lets_pass(values)
        else:
            again: list[Intent] = [Repeat(memory.call)] if memory.call else []
            if memory.position is not None and _of_other_place(memory, values["words"]):
                again.insert(0, Go(memory.position))
            memory.first(Command("correction"), *again)
        return
    react = _ANSWERS.get(prompt)
    if react is None or (prompt in _MAY_BE_IGNORED and memory.does("ignore")):
        return
    react(memory, values)


def _place(memory: Memory, words: str) -> str | None:
    """The position that is read back: where voicecheck believes the selector to be."""
    return next((p.id for p in memory.checklist.positions if p.say == words), None)


def _as_said(memory: Memory, words: str) -> bool:
    """Whether what is read back is what was called or agreed to."""
    if memory.last is not None and memory.last.keys == ("command:say-again",):
        return True
    keys = (*(memory.call.keys if memory.call else ()), *memory.agreed)
    said = {memory.wordings.first(key) for key in keys}
    said |= {memory.wordings.placed(key) for key in keys}
    said |= {p.say for p in memory.checklist.positions if position_key(p.id) in keys}
    # A finding about time has words of its own.
    timed = any(i.window and words.startswith(i.reports) for i in memory.checklist.items)
    return timed or words in said


def _of_other_place(memory: Memory, words: str) -> bool:
    """Whether what was called is read back with the name of another position."""
    called = memory.call.keys if memory.call else ()
    return any(words.endswith(memory.wordings.first(key)) for key in called)


def not_understood(memory: Memory, last: Utterance) -> None:
    """Nothing came back, or "say again": the crew says it again."""
    memory.repeats += 1
    if memory.held:
        memory.first(Command("resume"), Repeat(last))
    elif memory.repeats <= MOST_REPEATS:
        memory.first(Repeat(last))
    else:
        memory.repeats = 0
        _give_up(memory, last)


def _give_up(memory: Memory, last: Utterance) -> None:
    """Say where the selector is, perhaps that was not known; bad news is not given up soon."""
    bad: list[Intent] = []
    for key in last.keys:
        if key in memory.wordings.readings:
            item, reading = memory.wordings.readings[key]
            memory.reopen(item)
            is_bad = reading.grade is not Grade.GOOD and reading in item.readings
            if is_bad and memory.insists(item, key):
                bad.append(Look(item.id, exactly=key))
    if memory.position is not None and last is memory.call and last.moves is None:
        memory.first(Go(memory.position), *bad)


def _which_dark(memory: Memory, _values: Values) -> None:
    if memory.looked is not None:
        memory.first(NameDark(memory.looked[0]))


def _not_counted(memory: Memory, _values: Values) -> None:
    """What was called last did not count: look at it again once the power is right."""
    for item, _ in memory.called_last():
        memory.reopen(item)
        for bus in memory.needs(item):
            memory.power.pop(bus, None)


def _not_dark(memory: Memory, _values: Values) -> None:
    """A lamp is still timed: its call comes first, and then what was called too early."""
    look_again(memory)
    memory.first(Pause(2.0))


def _voided(memory: Memory, values: Values) -> None:
    for position in memory.checklist.positions:
        if position.say == values["position"]:
            for item in position.items:
                if item.expected in values["items"]:
                    memory.reopen(item)


def _call_first(memory: Memory, values: Values) -> None:
    for item in memory.checklist.items:
        if item.position == memory.position and item.expected == values["needed"]:
            memory.reopen(item)
    look_again(memory)


def _reminded(memory: Memory, values: Values) -> None:
    """Items are wanted by name: whatever was forgotten is now remembered.

    Not what cannot be tested because a bus does not do as it should: that is let be.
    """
    for item in memory.checklist.items:
        wanted = item.expected in values["items"] and item.id in memory.left_out
        if wanted and not memory.without_power(item):
            memory.left_out.discard(item.id)


def _missing(memory: Memory, values: Values) -> None:
    _call(memory, _all_of(memory, values["positions"].split(", ")))


def _untested(memory: Memory, values: Values) -> None:
    """Positions and items are named: those that can be tested are called, once more at need."""
    names = values["untested"].split(", ")
    wanted = _all_of(memory, names)
    for position in memory.checklist.positions:
        wanted[position.id] += [
            item
            for item in position.items
            if memory.checklist.named(position, item.expected) in names
            if item not in wanted[position.id] and not memory.blocked(item)
        ]
    _call(memory, wanted)


def _all_of(memory: Memory, names: list[str]) -> dict[str, list[Item]]:
    """The items of each position, where the whole of it is wanted."""
    positions = memory.checklist.positions
    return {p.id: list(p.items) if p.say in names else [] for p in positions}


def _call(memory: Memory, wanted: dict[str, list[Item]]) -> None:
    for items in wanted.values():
        for item in items:
            counted = memory.called.get(item.id)
            if (counted is None or item.id in memory.left_out) and not memory.without_power(item):
                memory.reopen(item)
    for position, items in wanted.items():
        # Where the crew believes to have called all, something did not count: all once more.
        for item in items if not memory.open(position) else ():
            if not memory.tired_of(item) and not memory.without_power(item):
                memory.reopen(item)


def _airframe_denied(memory: Memory, values: Values) -> None:
    """In another airframe than this one there is nothing to do but to stop."""
    if memory.account.elsewhere:
        memory.first(Command("abandon"))
    else:
        _call_again(memory, values)


def _airframe_first(memory: Memory, _values: Values) -> None:
    """What was called needs no power, but the registration, which is asked with a bus."""
    for item, _ in memory.called_last():
        memory.reopen(item)
    memory.power.clear()
    bus = memory.chance.choice(memory.checklist.buses).id
    memory.first(Power(bus, memory.chance.choice(("on", "off"))))


def _confirm_findings(memory: Memory, _values: Values) -> None:
    """The findings have been named, and nothing is left: the crew knows of them."""
    memory.first(Command("negative" if memory.does("deny") else "affirm"))


def _confirm_incomplete(memory: Memory, _values: Values) -> None:
    left = [p.id for p in memory.checklist.positions if memory.open(p.id)]
    if memory.short or not left:
        memory.first(Command("affirm"))
    else:
        memory.first(Command("negative"))


def _window_ask(memory: Memory, values: Values) -> None:
    for item in memory.checklist.items:
        if item.window is not None and item.readings[0].phrases[0] == values["out"]:
            memory.first(Look(item.id))


def _window_close(memory: Memory, values: Values) -> None:
    for position in memory.checklist.positions:
        if position.select[0] == values["position"]:
            for item in position.items:
                if item.window is not None:
                    memory.reopen(item)
                    memory.drop(Look(item.id))  # nothing runs that could be called


def _window_within(memory: Memory, _values: Values) -> None:
    for item in memory.checklist.items:
        if item.window is not None and item.position != memory.position:
            memory.drop(Look(item.id))


def _read_back(memory: Memory, _values: Values) -> None:
    if memory.looked is not None:
        item, who = memory.looked
        memory.first(Look(item, who=1 - who))


def _disagree(memory: Memory, _values: Values) -> None:
    if memory.looked is not None:
        memory.reopen(memory.item(memory.looked[0]))


def _ask_reason(memory: Memory, _values: Values) -> None:
    if not memory.account.elsewhere and memory.chance.random() < 0.5:
        memory.first(Command("negative"))
    else:
        memory.first(Reason(memory.chance.choice(list(memory.checklist.reasons))))


def _after_gap(memory: Memory, _values: Values) -> None:
    """Whatever was known is asked about, or has to be called again."""
    memory.held = False
    memory.before_gap = {**memory.before_gap, **memory.power}
    memory.power.clear()


def _part_lost(memory: Memory, values: Values) -> None:
    heard = values["part"] not in ("microphone", "session")
    if not heard and memory.call is not None and memory.last is memory.call:
        memory.first(Repeat(memory.call))  # the crew has been told that nobody heard it


def _asked_again(memory: Memory, _values: Values) -> None:
    memory.account.asked_again += 1


def _call_again(memory: Memory, _values: Values) -> None:
    memory.last = memory.call
    memory.first(*[Repeat(memory.call)] if memory.call else ())


def _so(**known: bool) -> Callable[[Memory, Values], None]:
    """An answer that only takes note of something."""

    def note(memory: Memory, _values: Values) -> None:
        for name, value in known.items():
            setattr(memory, name, value)

    return note


_ANSWERS: Final[dict[str, Callable[[Memory, Values], None]]] = {
    "say-again": _asked_again,
    "call-again": _call_again,
    "confirm": yes_or_no.confirm,
    "confirm-airframe": yes_or_no.confirm_airframe,
    "airframe-first": _airframe_first,
    "airframe-denied": _airframe_denied,
    "confirm-change": yes_or_no.confirm_change,
    "confirm-retest": yes_or_no.confirm_change,
    "confirm-position": yes_or_no.confirm_position,
    "which-dark": _which_dark,
    "not-counted": _not_counted,
    "not-dark": _not_dark,
    "voided": _voided,
    "first": _call_first,
    "left-early": _reminded,
    "outstanding": _reminded,
    "missing": _missing,
    "end-untested": _untested,
    "confirm-incomplete": _confirm_incomplete,
    "confirm-findings": _confirm_findings,
    "window-ask": _window_ask,
    "window-close": _window_close,
    "window-within": _window_within,
    "read-back-wanted": _read_back,
    "read-back-again": _read_back,
    "disagreement": _disagree,
    "selector-first": lambda memory, _: memory.first(Go(OFF)),
    "window-open": lambda memory, _: memory.first(Pause(5.0)),
    "ask-reason": _ask_reason,
    "part-lost": _part_lost,
    "holding": _so(held=True),
    "resuming": _so(held=False),
    "after-gap": _after_gap,
    "finished-complete": _so(over=True),
    "finished-incomplete": _so(over=True),
}
_READ_BACK: Final = frozenset({"ack", "finding", "other-finding", "which-dark", "read-back-wanted"})
"""Prompts that say what was heard."""
_MAY_BE_IGNORED: Final = frozenset(
    {"which-dark", "outstanding", "left-early", "window-ask", "read-back-wanted"}
)
