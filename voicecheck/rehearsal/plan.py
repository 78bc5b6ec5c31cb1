"""What a simulated crew does of its own accord: position by position, item by item."""

from __future__ import annotations

from voicecheck.checklist.resolved import OFF, Grade, Item
from voicecheck.rehearsal.account import Entry
from voicecheck.rehearsal.intents import Chat, Command, Go, Intent, Look, Pause, Power, Turn
from voicecheck.rehearsal.memory import Memory

_IDLE_COMMANDS = ("say-again", "read-back", "crew-change", "disregard", "correction")


def plan(memory: Memory) -> Intent:
    """The next thing to do when nothing presses."""
    if memory.held:
        return Command("resume")
    whim = _whim(memory)
    if whim is not None:
        return whim
    here = memory.to_call_here()
    if here and memory.position is not None:
        return _leave_early(memory) or _call(memory, here)
    if memory.watching and memory.next_position() is None and memory.position == OFF:
        return Pause(1.0)  # nothing left but a lamp that is to go out
    following = memory.next_position()
    if following is not None:
        return _move(memory, following)
    if memory.position != OFF:
        return Go(OFF)
    return Command("complete")


def _whim(memory: Memory) -> Intent | None:
    """Something that nobody asked for."""
    chance = memory.chance
    if memory.does("chatter"):
        return Chat()
    if memory.does("radio"):
        return Chat(chance.choice(("affirm", "negative")))
    if memory.does("interrupt"):
        memory.agenda.append(Pause(chance.uniform(2.0, 40.0)))
        memory.agenda.append(Command("resume"))
        return Command("stand-by")
    if memory.does("wrong_power"):
        bus = chance.choice(memory.checklist.buses).id
        return Power(bus, chance.choice(("on", "off")))
    if memory.does("command"):
        return Command(chance.choice(_IDLE_COMMANDS))
    if memory.does("stop_short"):
        memory.short = True
        memory.agenda.append(Command("complete"))
        return Go(OFF)
    if memory.does("abandon"):
        return Command("abandon")
    return _look_about(memory)


def _look_about(memory: Memory) -> Intent | None:
    """Something here that the checklist does not expect, or once more what was called."""
    chance = memory.chance
    if memory.position is not None and memory.does("unforeseen"):
        other = memory.checklist.position(memory.position).other
        if other is not None:
            return Look(other.id, exactly=chance.choice(other.readings).key)
    called = [memory.item(item) for item in memory.here]
    again = [item.id for item in called if item.window is None and not item.unforeseen]
    if again and memory.does("second_look"):
        return Look(chance.choice(again))
    return None


def _leave_early(memory: Memory) -> Intent | None:
    if not memory.does("leave_early"):
        return None
    elsewhere = [p.id for p in memory.checklist.positions if p.id != memory.position]
    return Go(memory.chance.choice(elsewhere))


def _next_item(memory: Memory, here: list[Item]) -> Item:
    """What can be called under the present power first, so that nothing is switched twice."""
    here.sort(key=lambda item: len(memory.lacking(item)))
    same = [i for i in here if len(memory.lacking(i)) == len(memory.lacking(here[0]))]
    return memory.chance.choice(same) if memory.does("wrong_order") else here[0]


def _call(memory: Memory, here: list[Item]) -> Intent:
    item = _next_item(memory, here)
    several = len(memory.checklist.position(item.position).items) > 1
    if several and memory.does("forget"):
        memory.left_out.add(item.id)
    if memory.without_power(item):
        later = (i.id for i in memory.checklist.items if item.id in i.after)
        memory.left_out.update((item.id, *later))
        return Pause(0.1)
    lacking = memory.lacking(item)
    if lacking:
        return Power(*lacking[0])
    called = memory.called if item.put_back else memory.here
    stages = [s for s in item.after if s not in called]
    return _look(memory, memory.item(stages[0]) if stages else item)


def _look(memory: Memory, item: Item) -> Intent:
    """Call it; or misspeak, say so, and call it again."""
    if memory.does("misspeak"):
        wrong = [r.key for r in item.readings if r.grade is not Grade.GOOD]
        if wrong:
            memory.agenda.extend([Command("correction"), Look(item.id)])
            return Look(item.id, exactly=memory.chance.choice(wrong))
    return Look(item.id)


def _move(memory: Memory, position: str) -> Intent:
    wanted = [i for i in memory.checklist.position(position).items if i.window is None]
    if wanted and memory.does("unnamed_move"):
        # The selector is turned and a result called before the position is named.
        memory.agenda.extend([Look(wanted[0].id), Go(position)])
        return Turn(position)
    return Go(position)


def after_command(memory: Memory, entry: Entry) -> None:
    """A command was said: what the crew believes it to have done."""
    if entry.about in ("correction", "disregard"):
        if memory.latest is not None and (entry.about == "correction" or not entry.claims):
            _take_back(memory, memory.latest)
    elif entry.about == "affirm":
        _agree(memory, entry)
    elif entry.about == "negative":
        memory.power_asked = {}
        memory.asked = frozenset()
        if memory.before_gap and memory.position is not None:
            memory.first(Go(memory.position))
        memory.before_gap = {}
    elif entry.about == "power-wrong":
        memory.power.clear()
        for item in memory.checklist.items:
            memory.reopen(item)
    elif entry.about in ("stand-by", "resume"):
        memory.held = entry.about == "stand-by"


def _take_back(memory: Memory, key: str) -> None:
    if key in memory.wordings.readings:
        memory.reopen(memory.wordings.readings[key][0])
    elif key.startswith("power:"):
        memory.power.pop(key.split(":")[1], None)
        memory.power_asked.pop(key, None)
    else:
        memory.position, memory.here, memory.watching = None, {}, {}


def _agree(memory: Memory, yes: Entry) -> None:
    """A yes to what was not said is believed to be a call of its own."""
    own = {*memory.power_asked, *(memory.call.keys if memory.call else ())}
    memory.agreed, memory.asked = yes.claims, frozenset()
    memory.before_gap = {}
    for key in yes.claims:
        if key.startswith("power:") and (key in memory.power_asked or key not in own):
            _, bus, state = key.split(":")
            memory.power[bus] = state
        memory.power_asked.pop(key, None)
        if key not in own:
            memory.said(key, yes.who)
