"""What a simulated crew does of its own accord: position by position, item by item."""

from __future__ import annotations

from typing import TYPE_CHECKING

from voicecheck.checklist.resolved import OFF, Grade, Item
from voicecheck.rehearsal import got_through
from voicecheck.rehearsal.account import Entry, Said
from voicecheck.rehearsal.intents import Chat, Command, Go, Intent, Look, Pause, Power

if TYPE_CHECKING:
    from voicecheck.rehearsal.crew import Crew

_IDLE_COMMANDS = ("say-again", "read-back", "crew-change", "disregard", "correction")


def plan(crew: Crew) -> Intent:
    """The next thing to do when nothing presses."""
    memory = crew.memory
    if memory.held:
        return Command("resume")
    whim = _whim(crew)
    if whim is not None:
        return whim
    here = memory.to_call_here()
    if here and memory.position is not None:
        if crew.does(crew.manners.leave_early):
            elsewhere = [p.id for p in crew.checklist.positions if p.id != memory.position]
            return Go(crew.chance.choice(elsewhere))
        return _call(crew, here)
    if memory.watching and memory.next_position() is None and memory.position == OFF:
        return Pause(1.0)  # nothing left but a lamp that is to go out
    following = memory.next_position()
    if following is not None:
        return _move(crew, following)
    if memory.position != OFF:
        return Go(OFF)
    return Command("complete")


def _whim(crew: Crew) -> Intent | None:
    """Something that nobody asked for."""
    manners, memory, chance = crew.manners, crew.memory, crew.chance
    if crew.does(manners.chatter):
        return Chat()
    if crew.does(manners.interrupt):
        memory.agenda.append(Pause(chance.uniform(2.0, 40.0)))
        memory.agenda.append(Command("resume"))
        return Command("stand-by")
    if crew.does(manners.wrong_power):
        bus = chance.choice(crew.checklist.buses).id
        return Power(bus, chance.choice(("on", "off")))
    if crew.does(manners.command):
        return Command(chance.choice(_IDLE_COMMANDS))
    if crew.does(manners.stop_short):
        memory.short = True
        memory.agenda.append(Command("complete"))
        return Go(OFF)
    if crew.does(manners.abandon):
        return Command("abandon")
    again = [item for item in memory.here if memory.item(item).window is None]
    if again and crew.does(manners.second_look):
        return Look(chance.choice(again))
    return None


def _call(crew: Crew, here: list[Item]) -> Intent:
    memory, manners = crew.memory, crew.manners
    # What can be called under the present power comes first, so that nothing is switched twice.
    here.sort(key=lambda item: len(memory.lacking(item)))
    item = here[0]
    same = [i for i in here if len(memory.lacking(i)) == len(memory.lacking(item))]
    if crew.does(manners.wrong_order):
        item = crew.chance.choice(same)
    if len(memory.checklist.position(item.position).items) > 1 and crew.does(manners.forget):
        memory.left_out.add(item.id)
    if memory.without_power(item):
        later = (i.id for i in memory.checklist.items if item.id in i.after)
        memory.left_out.update((item.id, *later))
        return Pause(0.1)
    lacking = memory.lacking(item)
    if lacking:
        return Power(*lacking[0])
    stages = [s for s in item.after if s not in memory.here]
    if stages:
        item = memory.item(stages[0])
    if crew.does(manners.misspeak):
        wrong = [r.key for r in item.readings if r.grade is not Grade.GOOD]
        if wrong:
            memory.agenda.extend([Command("correction"), Look(item.id)])
            return Look(item.id, exactly=crew.chance.choice(wrong))
    return Look(item.id)


def _move(crew: Crew, position: str) -> Intent:
    if crew.does(crew.manners.unnamed_move):
        # The selector is turned and the result called, but the position is not named.
        items = crew.checklist.position(position).items
        crew.memory.agenda.append(Go(position))
        crew.memory.tries[items[0].id] = crew.memory.tries.get(items[0].id, 0) + 1
        return Pause(0.5)
    return Go(position)


def after_command(crew: Crew, entry: Entry) -> None:
    """A command was said: what the crew believes it to have done."""
    memory, account = crew.memory, crew.account
    if entry.about in ("correction", "disregard"):
        last = account.last_about_aircraft()
        memory.took_back = ()
        if last is not None and (entry.about == "correction" or not entry.claims):
            memory.took_back = () if last.withdrawn else account.same_call(last)
            for taken in memory.took_back:
                taken.withdrawn = True
            if last.said is Said.ITEM:
                memory.reopen(memory.item(last.about))
            elif last.said is Said.POWER:
                memory.power.pop(last.about, None)
                memory.power_asked.pop(last.key, None)
            else:
                memory.position = None
                memory.here = {}
                memory.watching = {}
    elif entry.about == "affirm":
        crew.called_power = frozenset(memory.power_asked)
        for key in entry.claims:
            if key in memory.power_asked:
                memory.power[memory.power_asked.pop(key)] = key.rsplit(":", 1)[1]
        got_through.agree(crew, entry)
    elif entry.about == "negative":
        memory.power_asked = {}
        crew.asked = ()
    elif entry.about == "stand-by":
        memory.held = True
    elif entry.about == "resume":
        memory.held = False
