"""A simulated crew is asked whether something is so, and answers yes or no."""

from __future__ import annotations

from collections.abc import Mapping

from voicecheck.checklist.resolved import position_key
from voicecheck.rehearsal.intents import Command, Pause, Repeat
from voicecheck.rehearsal.memory import Memory
from voicecheck.world.acts import Utterance

Values = Mapping[str, str]


def confirm(memory: Memory, values: Values) -> None:
    """Whether these were called."""
    _yes_or_no(memory, values["claims"].split(", "))


def confirm_airframe(memory: Memory, values: Values) -> None:
    """Whether these were called, in this airframe."""
    claims = values["claims"].split(", ")
    if not memory.account.elsewhere:
        _yes_or_no(memory, claims)
        return
    keys = (memory.wordings.meant_by(words, memory.told_position) for words in claims)
    known = tuple(key for key in keys if key is not None)
    memory.account.agreed |= _say(memory, known, ours=False)


def confirm_change(memory: Memory, values: Values) -> None:
    """Whether this is called now, where something else was called before."""
    _yes_or_no(memory, [values["now"]])


def confirm_position(memory: Memory, values: Values) -> None:
    """A call does not count before voicecheck knows where the selector is."""
    if memory.last is None or memory.last.keys != ("command:complete",):
        look_again(memory)
    _yes_or_no(memory, values["position"].split(", "))


def look_again(memory: Memory) -> None:
    """The items that were called last are to be called once more."""
    for item, _ in memory.called_last():
        memory.reopen(item)


def _yes_or_no(memory: Memory, claims: list[str]) -> None:
    """Yes when everything that is read back was meant, otherwise no."""
    keys = [memory.wordings.meant_by(words, memory.told_position) for words in claims]
    called = set(memory.call.keys if memory.call else ())
    known = tuple(key for key in keys if key is not None)
    others = frozenset(key for key in known if not key.startswith("power:"))
    if unheard := _answer_unheard(memory, known):
        memory.asked = others
        memory.first(Repeat(unheard))
        return
    ours = len(known) == len(keys) and set(known) <= _meant(memory, called)
    if others:
        memory.account.asked_again += 1
        memory.asked = others & called
    if ours and set(known) - set(memory.power_asked) - called:
        look_again(memory)  # asked about the place, where something else was called since
    _say(memory, known, ours)


def _answer_unheard(memory: Memory, known: tuple[str, ...]) -> Utterance | None:
    """What answered the same question already, and did not get through."""
    before = memory.last
    if before is not None and before.claims == known and known and not before.moves:
        return before
    return None


def _meant(memory: Memory, called: set[str]) -> set[str]:
    """All that may be read back to the crew with good reason."""
    meant = set(memory.power_asked) | called
    if memory.position is not None and memory.told_position != memory.position:
        meant.add(position_key(memory.position))  # it was called, and has not been read back
    if memory.before_gap:
        meant.update(f"power:{bus}:{state}" for bus, state in memory.before_gap.items())
        if memory.position is not None:
            meant |= {f"stay:{memory.position}", position_key(memory.position)}
    return meant


def _say(memory: Memory, known: tuple[str, ...], ours: bool) -> bool:
    """The honest answer, but for the crew's manners; whether it is yes."""
    yes = ours
    if ours and memory.does("deny"):
        yes = False
    elif not ours and memory.does("careless"):
        yes = True
    yes ^= memory.does("crossed")
    # Asked once more, it answers once: the earlier answer would meet no question any more.
    answers = [Command(name, known) for name in ("affirm", "negative")]
    memory.drop(*answers)
    if memory.does("unanswered"):
        return False
    wait = [Pause(memory.chance.uniform(8.0, 28.0))] if memory.does("late") else []
    memory.first(*wait, answers[0] if yes else answers[1])
    return yes
