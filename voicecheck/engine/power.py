"""Power as the crew called it: claims, confirmations, and what a change makes void."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from voicecheck.checklist.resolved import Item, Position
from voicecheck.engine import questions, second_call
from voicecheck.engine.actions import SetPower, Stay
from voicecheck.engine.reopening import DOES_NOT_COUNT, reopen
from voicecheck.engine.row import Row
from voicecheck.engine.state import Claim, ItemCalled, Outcome, PowerCalled, Record
from voicecheck.engine.turn import Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Voiding(Row):
    """why: text of the record about the void result."""

    why: str


UNKNOWN_POWER: Final = Voiding(
    number="4.2.1",
    when="an item is called, and a bus that it needs has not been called and affirmed",
    why="needs-power-unknown",
    stands="the call is kept as void; bad news makes an earlier good void",
    says=("not-counted",),
    proof=(
        "test_rules.py::TestPower::test_a_bus_counts_only_after_a_yes",
        "test_rules.py::TestPower::test_a_denied_bus_is_unknown_again",
        "test_rules.py::TestPower::test_a_guess_at_a_bus_that_is_denied_leaves_it_unknown",
    ),
)
WRONG_POWER: Final = Voiding(
    number="4.2.2",
    when="an item is called, and a bus that it needs is in the other state",
    why="needs-power-wrong",
    stands="the call is kept as void; bad news makes an earlier good void",
    says=("not-counted",),
    proof=(
        "test_rules.py::TestPower::test_the_same_position_needs_other_power_on_another_airframe",
        "test_rules.py::TestPower::test_mode_lamps_alone_need_avionics_on",
        "test_rules.py::TestPower::test_untested_for_want_of_power_says_so",
    ),
)
CHANGED: Final = Voiding(
    number="5.1",
    when="a bus is affirmed in a state that an item does not bear, and the item was called in the "
    "visit in which the bus was (unless the position needs it both ways), or anywhere since then",
    why="void-power-changed",
    stands="the result is void",
    says=("voided",),
    proof=(
        "test_rules.py::TestPower::test_a_change_voids_results_of_this_visit_only",
        "test_rules.py::TestPower::test_a_void_result_can_be_called_again",
        "test_missed_words.py::test_a_correction_after_such_a_doubt_brings_a_void_call_back_too",
    ),
)
CHANGED_WHILE_TIMED: Final = Voiding(
    number="5.2",
    when="a bus is affirmed in a state that a running lamp does not bear",
    why="void-power-changed-timed",
    stands="its timing is void; a finding stays",
    says=("voided",),
    proof=(
        "test_several_windows.py::test_a_power_change_stops_only_what_needs_the_bus",
        "test_several_windows.py::test_a_finding_outlives_a_repeat_that_tells_nothing",
        "test_two_timed.py::test_a_bus_voids_only_what_needs_it",
    ),
)
HALF_HEARD_BUS: Final = Voiding(
    number="3.2",
    when="a call of a bus was half understood, whatever else is being asked",
    why="void-power-half-heard",
    stands="the bus is unknown until it is called or affirmed; what was called since is void",
    says=("voided", "confirm"),
    proof=("test_doubts.py::test_a_bus_half_heard_is_unknown_until_it_is_answered",),
)
CALLED_WRONG: Final = Voiding(
    number="5.3",
    when="the crew says that power was wrong",
    why="void-power-wrong",
    stands="no bus is known, and whatever was called and needs one is void",
    says=("voided-all", "call-power"),
    proof=("test_gaps.py::test_power_found_wrong_late_voids_all_that_needs_any",),
)
VOIDINGS: Final = (
    HALF_HEARD_BUS,
    CALLED_WRONG,
    UNKNOWN_POWER,
    WRONG_POWER,
    CHANGED,
    CHANGED_WHILE_TIMED,
)


def claim(turn: Turn, action: SetPower, said: Claim) -> None:
    """A bus was called. On and off differ by one sound, so it counts only once affirmed."""
    kept = tuple(c for c in turn.state.power_claims if not _about(c, action.bus))
    places = tuple(c for c in turn.state.claims if isinstance(c.action, Stay))
    _set(turn, action.bus, None)
    questions.pose(turn, (*kept, said, *places), said.words)
    questions.repeat(turn)


def _about(claimed: Claim, bus: str) -> bool:
    return isinstance(claimed.action, SetPower) and claimed.action.bus == bus


def affirm(turn: Turn, action: SetPower, said: Claim) -> None:
    """The crew said yes: the bus is in this state since the words were spoken."""
    _set(turn, action.bus, action.state)
    turn.set(last=PowerCalled(action.bus, said.words))
    turn.note("power", bus=action.bus, state=action.state, since=said.end)
    turn.set(power_log=(*turn.state.power_log, (action.bus, action.state, said.end)))
    timed = turn.checklist.timed_bus
    if timed is not None and timed.id == action.bus:
        _battery_clock(turn, action.state, said.end)
    void_results(turn, action, said)
    void_windows(turn, action, said.start)


def doubt(turn: Turn, action: SetPower, since: float) -> None:
    """A call of the bus was half understood: nobody knows what it is now."""
    if action.bus in turn.power:
        turn.note("power", bus=action.bus, state="unknown", since=since)
    _set(turn, action.bus, None)
    for position in turn.checklist.positions:
        reasons = [
            (item, turn.text(HALF_HEARD_BUS.why, power=turn.spoken_power(item.power)))
            for item in position.items
            if action.bus in item.power
        ]
        _void_at(turn, position, reasons, None, since)


def void_all(turn: Turn) -> list[str]:
    """No bus was as it was called; the positions where something is to be called again."""
    for bus in turn.power:
        forget(turn, bus)
    voided = []
    for position in turn.checklist.positions:
        needing = [
            (i, turn.text(CALLED_WRONG.why, power=turn.spoken_power(i.power)))
            for i in position.items
            if i.power
        ]
        if [item for item, why in needing if _void_since(turn, item, None, 0.0, why)]:
            voided.append(position.say)
    return voided


def forget(turn: Turn, bus: str, since: float | None = None) -> None:
    """The bus is unknown until called again: a call was taken back or denied, or time has passed.

    since: from when; now, where nothing is said.
    """
    _set(turn, bus, None)
    turn.note("power", bus=bus, state="unknown", since=turn.now if since is None else since)


def refuse(turn: Turn, item: Item, said: Claim, *, bad: bool = False) -> None:
    """A call under wrong or unknown power does not count; it is kept as void."""
    missing = turn.lacking(item.power)
    wanted = turn.spoken_power(missing)
    row = UNKNOWN_POWER if missing.keys() - turn.power.keys() else WRONG_POWER
    keep_refused(turn, item, said, turn.text(row.why, power=wanted), bad=bad)
    turn.warn("not-counted", needs=wanted)
    questions.repeat(turn)


def keep_refused(turn: Turn, item: Item, said: Claim, reason: str, *, bad: bool) -> None:
    """Keep a call that does not count as void; bad news leaves nothing good standing."""
    record = turn.record(item.id)
    if record.now is None or not record.now.counted:
        turn.put(item, turn.result_of(said, Outcome.VOID, reason=reason))
        turn.set(last=ItemCalled(item.id, said.words, record))
    elif bad and record.now.outcome is Outcome.SATISFACTORY:
        void_good(turn, item, said, reason)
    else:
        void = turn.result_of(said, Outcome.VOID, reason=reason)
        turn.restore(item.id, replace(record, past=(*record.past, void)))
        turn.note("refused", item=item.id, called=said.words, reason=reason)


def void_good(turn: Turn, item: Item, said: Claim, reason: str) -> None:
    """Bad news that does not count: nothing good may stand on what was called before it."""
    record = turn.record(item.id)
    if reopen(turn, item, DOES_NOT_COUNT, call=said.words):
        turn.put(item, turn.result_of(said, Outcome.VOID, reason=reason))
        turn.set(last=ItemCalled(item.id, said.words, record))


def void_results(turn: Turn, action: SetPower, said: Claim) -> None:
    """What does not fit the new state of a bus becomes void.

    That is every result of the visit in which the bus was called, unless the position switches it
    on purpose, and every result anywhere that was called after the bus had already changed.
    """
    for position in turn.checklist.positions:
        visit = None if action.bus in _switched_on_purpose(position) else said.visit
        clashing = [item for item in position.items if _clashes(item, action)]
        for item in clashing:
            second_call.drop(turn, item)
        reasons = [
            (item, turn.text(CHANGED.why, power=_needed(turn, item, action))) for item in clashing
        ]
        _void_at(turn, position, reasons, visit, said.start)


def _void_at(
    turn: Turn,
    position: Position,
    reasons: Iterable[tuple[Item, str]],
    visit: int | None,
    since: float,
) -> None:
    """Void items of a position, each for its reason, and say once which are to be called again."""
    voided = [item.expected for item, why in reasons if _void_since(turn, item, visit, since, why)]
    if voided:
        turn.warn("voided", items=turn.list(voided), position=position.say)


def _void_since(turn: Turn, item: Item, visit: int | None, since: float, reason: str) -> bool:
    """Void all that was called of it in the visit or since then; whether any of that stood."""
    record = turn.record(item.id)
    now = record.now
    past = tuple(
        replace(old, withdrawn=old.withdrawn or reason)
        if old.counted and (old.visit == visit or old.start >= since)
        else old
        for old in record.past
    )
    if past != record.past:
        turn.restore(item.id, Record(now, past))
    if now is None or not now.counted or (now.visit != visit and now.start < since):
        return False
    turn.put(item, replace(now, outcome=Outcome.VOID, reason=reason), instead=reason)
    return True


def _clashes(item: Item, action: SetPower) -> bool:
    return item.power.get(action.bus) not in (None, action.state)


def _needed(turn: Turn, item: Item, action: SetPower) -> str:
    return turn.spoken_power({action.bus: item.power[action.bus]})


def _switched_on_purpose(position: Position) -> set[str]:
    """Buses that some items of the position need on and others off: to be switched in it."""
    wanted = {bus_state for item in position.items for bus_state in item.power.items()}
    return {bus for bus, state in wanted if state == "on" and (bus, "off") in wanted}


def void_windows(turn: Turn, action: SetPower, since: float) -> None:
    """What runs and does not fit the new state of a bus cannot be timed."""
    kept = []
    for window in turn.state.windows:
        item = turn.checklist.item(window.item)
        if not _clashes(item, action):
            kept.append(window)
            continue
        reason = turn.text(CHANGED_WHILE_TIMED.why, power=_needed(turn, item, action))
        result = turn.unsaid(turn.text("called-cancelled"), Outcome.VOID, reason, since)
        turn.put_inconclusive(item, replace(result, power={}))
        position = turn.checklist.position(item.position)
        turn.warn("voided", items=item.expected, position=position.say)
    turn.set(windows=tuple(kept))


def _set(turn: Turn, bus: str, state: str | None) -> None:
    turn.set(power={**turn.state.power, bus: state})


def _battery_clock(turn: Turn, state: str, at: float) -> None:
    if state == "on" and turn.state.battery_from is None:
        turn.set(battery_from=at, battery_warned=False)
    elif state == "off":
        turn.set(battery_from=None, battery_warned=False)
