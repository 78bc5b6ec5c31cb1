"""What a simulated crew knows of its own words: what was taken, lost on the way, or agreed to."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from voicecheck.rehearsal.account import Entry, Said
from voicecheck.rehearsal.intents import Command, Repeat
from voicecheck.world.acts import Utterance

if TYPE_CHECKING:
    from voicecheck.rehearsal.crew import Crew


def lost_on_the_way(crew: Crew) -> None:
    """What was called last has not been taken, and the crew knows it."""
    for entry in crew.just_said:
        entry.got_through = False


def yes_lost(crew: Crew, last: Utterance) -> None:
    """What was last said has not been taken: if it was a yes, nothing was agreed to."""
    if last.keys == ("command:affirm",):
        for entry in crew.just_agreed:
            entry.got_through = False


def not_taken(crew: Crew) -> None:
    """One call was understood and does not count."""
    if crew.said_yes_to:
        for entry in crew.said_yes_to:
            entry.got_through = False
        crew.said_yes_to = []
        return
    for waiting in (crew.just_said, crew.just_agreed):
        if waiting and waiting[0].said is Said.ITEM:
            waiting.pop(0).got_through = False
            return


def denied(crew: Crew, keys: Collection[str]) -> None:
    """It says no to what was asked again because its yes had not been taken: it is not so."""
    for entry in crew.yes_unanswered:
        if entry.key in keys:
            entry.got_through = False


def left_unanswered(crew: Crew) -> None:
    """The crew says something else instead of yes or no: what was in question has lapsed."""
    crew.said_yes_to = []
    for entry in (*crew.asked, *crew.yes_unanswered):
        entry.got_through = False
    crew.yes_unanswered = []
    if crew.asked:
        keys = {entry.key for entry in crew.asked}
        for intent in list(crew.memory.agenda):
            answer = intent.what if isinstance(intent, Repeat) else intent
            if isinstance(answer, Command | Utterance) and keys & set(answer.claims):
                crew.memory.agenda.remove(intent)
    agreed, crew.just_agreed = crew.just_agreed, []
    for entry in agreed:
        if entry.said is not Said.POSITION:
            crew.just_agreed.append(entry)
        elif crew.memory.told_position != entry.about:
            entry.got_through = False  # never read back: that yes has not been heard
    crew.asked = ()


def agree(crew: Crew, entry: Entry) -> None:
    """A yes to what was not said is a call of its own."""
    said = crew.memory.call.keys if crew.memory.call else ()
    crew.asked = ()
    crew.just_agreed = []
    crew.said_yes_to = []
    for key in entry.claims:
        last = crew.account.latest(key)
        away = last is not None and last.agreed_away
        if (key in said or key in crew.called_power) and not away:
            if last is not None:
                last.got_through = True  # a no that it had in mind, but did not say, is forgotten
                if last.said is Said.ITEM:
                    crew.yes_unanswered.append(last)
                    if last not in crew.just_said:
                        crew.said_yes_to.append(last)  # refused before, and now it may be again
            continue
        call = crew.entry_of(
            key, crew.memory.wordings.first(key), entry.who, entry.start, entry.end
        )
        call.by_yes = True
        crew.account.add(call)
        crew.just_agreed.append(call)
        # What it had said is given up, and waits for no answer any more.
        crew.just_said = [said for said in crew.just_said if said.key in entry.claims]
        if call.said is Said.POWER and call.state is not None:
            crew.memory.power[call.about] = call.state


def not_corrected(crew: Crew) -> None:
    """A correction that was taken for something else has taken nothing back."""
    before = crew.memory.last
    if before is None or before.keys not in (("command:correction",), ("command:disregard",)):
        return
    # What an earlier correction took back stays so.
    for taken in crew.memory.took_back:
        taken.withdrawn = False
