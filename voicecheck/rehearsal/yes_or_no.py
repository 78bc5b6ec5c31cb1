"""A simulated crew is asked whether something is so, and answers yes or no."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from voicecheck.checklist.resolved import position_key
from voicecheck.rehearsal.account import Said
from voicecheck.rehearsal.got_through import denied, lost_on_the_way, not_corrected, not_taken
from voicecheck.rehearsal.intents import Command, Repeat

if TYPE_CHECKING:
    from voicecheck.rehearsal.crew import Crew

Values = Mapping[str, str]


def confirm(crew: Crew, values: Values, _at: float) -> None:
    """Whether these were called. What was said with them, and is not asked about, was lost."""
    claims = values["claims"].split(", ")
    keys = {crew.memory.wordings.meant_by(words, crew.memory.told_position) for words in claims}
    part = [entry for entry in crew.just_said if entry.key in keys]
    if part and part[0].said is Said.ITEM and crew.memory.last is crew.memory.call:
        for entry in crew.just_said:
            entry.got_through = entry.got_through and entry in part
    _yes_or_no(crew, claims)


def confirm_change(crew: Crew, values: Values, _at: float) -> None:
    """Whether this is called now, where something else was called before."""
    _yes_or_no(crew, [values["now"]])


def confirm_position(crew: Crew, values: Values, _at: float) -> None:
    """A call does not count before voicecheck knows where the selector is."""
    if crew.memory.last is None or crew.memory.last.keys != ("command:complete",):
        not_taken(crew)
        look_again(crew)
    _yes_or_no(crew, [values["position"]])


def look_again(crew: Crew) -> None:
    """The items that were called last are to be called once more."""
    memory = crew.memory
    for key in memory.call.keys if memory.call else ():
        if key in memory.wordings.readings:
            memory.reopen(memory.wordings.readings[key][0])


def _yes_or_no(crew: Crew, claims: list[str]) -> None:
    """Yes when everything that is read back was meant, otherwise no."""
    memory = crew.memory
    keys = [memory.wordings.meant_by(words, memory.told_position) for words in claims]
    called = set(memory.call.keys if memory.call else ())
    meant = set(memory.power_asked) | called
    if memory.position is not None and memory.told_position != memory.position:
        meant.add(position_key(memory.position))  # it was called, and has not been read back
    known = tuple(key for key in keys if key is not None)
    before = memory.last
    if before is not None and before.claims == known and known and not before.moves:
        crew.account.entries[-1].got_through = False
        waiting = (*crew.just_said, *crew.just_agreed)
        crew.asked = tuple(e for e in waiting if e.key in known and e.said is not Said.POWER)
        memory.first(Repeat(before))  # answered already, and the answer did not get through
        return
    not_corrected(crew)
    ours = len(known) == len(keys) and set(known) <= meant
    if not all(key.startswith("power:") for key in known):
        crew.account.asked_again += 1
        crew.asked = tuple(entry for entry in crew.just_said if entry.key in known)
    if ours and set(known) - set(memory.power_asked) - called:
        lost_on_the_way(crew)  # asked about the place, where something else was called since
        look_again(crew)
    yes = ours
    if ours and crew.does(crew.manners.deny):
        yes = False
    elif not ours and crew.does(crew.manners.careless):
        yes = True
    if not yes:
        denied(crew, known)
    if not ours:
        lost_on_the_way(crew)
        for said in crew.just_said if yes else ():
            # The crew itself agrees to have said something else, each time it was not understood.
            for entry in crew.account.same_call(said):
                if entry is said or not entry.got_through:
                    entry.agreed_away = True
    elif not yes:
        for entry in crew.just_said:
            entry.got_through = entry.got_through and entry.key not in known
    # Asked once more, it answers once: the earlier answer would meet no question any more.
    answers = [Command(name, known) for name in ("affirm", "negative")]
    memory.drop(*answers)
    memory.first(answers[0] if yes else answers[1])
