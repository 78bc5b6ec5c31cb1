"""A simulated crew is asked whether something is so, and answers yes or no."""

from __future__ import annotations

from collections.abc import Mapping

from voicecheck.checklist.resolved import position_key
from voicecheck.rehearsal.intents import Command, Repeat
from voicecheck.rehearsal.memory import Memory

Values = Mapping[str, str]


def confirm(memory: Memory, values: Values) -> None:
    """Whether these were called."""
    _yes_or_no(memory, values["claims"].split(", "))


def confirm_change(memory: Memory, values: Values) -> None:
    """Whether this is called now, where something else was called before."""
    _yes_or_no(memory, [values["now"]])


def confirm_position(memory: Memory, values: Values) -> None:
    """A call does not count before voicecheck knows where the selector is."""
    if memory.last is None or memory.last.keys != ("command:complete",):
        look_again(memory)
    _yes_or_no(memory, [values["position"]])


def look_again(memory: Memory) -> None:
    """The items that were called last are to be called once more."""
    for item, _ in memory.called_last():
        memory.reopen(item)


def _yes_or_no(memory: Memory, claims: list[str]) -> None:
    """Yes when everything that is read back was meant, otherwise no."""
    keys = [memory.wordings.meant_by(words, memory.told_position) for words in claims]
    called = set(memory.call.keys if memory.call else ())
    meant = set(memory.power_asked) | called
    if memory.position is not None and memory.told_position != memory.position:
        meant.add(position_key(memory.position))  # it was called, and has not been read back
    known = tuple(key for key in keys if key is not None)
    others = frozenset(key for key in known if not key.startswith("power:"))
    before = memory.last
    if before is not None and before.claims == known and known and not before.moves:
        memory.asked = others
        memory.first(Repeat(before))  # answered already, and the answer did not get through
        return
    ours = len(known) == len(keys) and set(known) <= meant
    if others:
        memory.account.asked_again += 1
        memory.asked = others & called
    if ours and set(known) - set(memory.power_asked) - called:
        look_again(memory)  # asked about the place, where something else was called since
    yes = ours
    if ours and memory.does(memory.manners.deny):
        yes = False
    elif not ours and memory.does(memory.manners.careless):
        yes = True
    # Asked once more, it answers once: the earlier answer would meet no question any more.
    answers = [Command(name, known) for name in ("affirm", "negative")]
    memory.drop(*answers)
    memory.first(answers[0] if yes else answers[1])
