"""Lamps that must go out: windows opened when the selector leaves, closed by a call or silence."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Final

from voicecheck.checklist.resolved import Item, Position
from voicecheck.engine import findings, power, questions
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.state import (
    Claim,
    ItemCalled,
    OpenWindow,
    Outcome,
    Result,
    SessionState,
    Timing,
)
from voicecheck.engine.told import found_before
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import (
    ANSWER_TIME,
    Interval,
    WindowVerdict,
    judge,
    may_have_left,
    measure,
    question_at,
)

_FINDINGS: Final = {
    WindowVerdict.EARLY: "window-early",
    WindowVerdict.LATE: "window-late",
    WindowVerdict.DID_NOT_GO_OUT: "window-did-not-go-out",
    WindowVerdict.BEFORE_SELECTOR: "window-before-selector",
    WindowVerdict.NOT_CALLED: "window-not-called",
}
"""Texts of the record for what is found of a lamp."""

# Opening, and what spoils a timing.


def open_windows(turn: Turn, left: Position, said: Claim) -> None:
    """The selector leaves `left`: every timed lamp there that was called lit starts to run."""
    for item in left.items:
        if item.window is None:
            continue
        if not all(turn.good_here(needed) for needed in item.after):
            turn.note(
                "window", item=item.id, verdict="not started", reason=turn.text("untimed-not-lit")
            )
            continue
        early = turn.this_visit(item.id)
        if early is not None and early.timing is not None:
            continue  # it went out before the selector was known to move: judged already
        if turn.lacking(item.power):
            power.refuse(turn, item, said)
            continue
        if not turn.state.airframe:
            power.keep_refused(turn, item, said, turn.text("needs-airframe"), bad=False)
            continue
        deadline = question_at(said.end, item.window, turn.checklist.timing)
        window = OpenWindow(item.id, said.end, deadline, left_from=_left_from(turn, said))
        turn.set(windows=(*turn.state.windows, window))
        turn.note("window", item=item.id, verdict="running", anchor=said.end)


def _left_from(turn: Turn, said: Claim) -> float | None:
    """The end that a leaving call may count as having had, where that is before its own end."""
    earliest = may_have_left(said.start, said.end, turn.checklist.timing)
    if turn.state.missed_from is not None:
        return min(earliest, turn.state.missed_from)
    return earliest if earliest < said.end else None


def missed(turn: Turn, start: float, end: float) -> None:
    """Words from start to end were not understood: they may have been any call about a lamp."""
    if turn.state.missed_from is None:
        turn.set(missed_from=end)
    turn.set(
        windows=tuple(
            window if window.called_from is not None else replace(window, called_from=start)
            for window in turn.state.windows
        )
    )


def may_be_called(turn: Turn, start: float, items: Collection[str]) -> None:
    """Words since `start` may have been the closing call of these."""
    turn.set(
        windows=tuple(
            replace(window, called_from=start)
            if window.called_from is None and window.item in items
            else window
            for window in turn.state.windows
        )
    )


def cancel(turn: Turn, position_id: str, why: str) -> None:
    """The selector went back to a position whose windows still run: they cannot be judged."""
    running = [(window, turn.checklist.item(window.item)) for window in turn.state.windows]
    for _, item in running:
        if item.position == position_id:
            _untimed(turn, item, why)
    turn.set(windows=tuple(w for w, item in running if item.position != position_id))


def lose_timing(turn: Turn, why: str) -> None:
    """Sound was lost: nothing that runs can be judged any more."""
    for window in turn.state.windows:
        _untimed(turn, turn.checklist.item(window.item), why)
    turn.set(windows=())


def _untimed(turn: Turn, item: Item, why: str) -> None:
    verdict = WindowVerdict.CANCELLED
    _keep(turn, item, None, verdict)
    result = turn.unsaid(turn.text("called-cancelled"), Outcome.NOT_TESTED, why, turn.now)
    turn.put_inconclusive(item, result)


def closing_withdrawn(turn: Turn, item_id: str) -> None:
    """The call that closed a window was taken back: when the lamp went out is not known."""
    item = turn.checklist.item(item_id)
    if item.window is not None and item.position != turn.state.position:
        _untimed(turn, item, turn.text("untimed-call-taken-back"))


# A call before the selector has left.


def lit_here(turn: Turn, call: ItemCall) -> None:
    """Lit while the selector is here is as it should be."""
    turn.say("ack", words=call.said.words)


def out_unplaced(turn: Turn, call: ItemCall) -> None:
    """Out, and words were missed: the selector may have left with them, nobody knows when."""
    item, old = call.item, turn.record(call.item.id)
    timing = _keep(turn, item, None, WindowVerdict.TOO_CLOSE)
    # It stands even in place of a finding, so that leaving does not time this lamp.
    turn.put(item, _repeat(turn, call, turn.text("untimed-leaving-missed"), timing))
    turn.set(last=ItemCalled(item.id, call.said.words, old))


def out_here(turn: Turn, call: ItemCall) -> None:
    """Out although the selector is still here."""
    old = turn.record(call.item.id)
    timing = _keep(turn, call.item, None, WindowVerdict.BEFORE_SELECTOR)
    _unsatisfactory(turn, call, _what(turn, call.item, timing.verdict), timing)
    turn.set(last=ItemCalled(call.item.id, call.said.words, old))


# A call of a running lamp.


def window_of(turn: Turn, item: Item) -> OpenWindow | None:
    """The item's running window."""
    return next((window for window in turn.state.windows if window.item == item.id), None)


def asked(turn: Turn, call: ItemCall) -> bool:
    """Whether the crew was asked about the lamp: an answer to a question is no timing."""
    window = window_of(turn, call.item)
    return window is not None and window.asked


def measured(turn: Turn, call: ItemCall) -> Interval:
    """How long the lamp took, made wider by words that may have been one of the two calls."""
    window, timing, start = window_of(turn, call.item), turn.checklist.timing, call.said.start
    assert window is not None
    interval = measure(window.anchor, start, timing)
    low, high = interval.low, interval.high
    if window.left_from is not None and window.left_from < window.anchor:
        high = measure(window.left_from, start, timing).high
    # That it is still lit is known from this very call.
    if not call.bad and window.called_from is not None and window.called_from < start:
        low = measure(window.anchor, window.called_from, timing).low
    return Interval(low, high)


def refuse_for_power(turn: Turn, call: ItemCall) -> None:
    """The lamp was left without the power that it needs: what it did tells nothing."""
    _drop(turn, call.item)
    power.refuse(turn, call.item, call.said, bad=call.bad)


def still_lit(turn: Turn, call: ItemCall) -> None:
    """Lit, and it may yet go out in time."""
    high = measured(turn, call).high
    turn.say("still-lit")
    turn.note("window", item=call.item.id, verdict="still lit", at_most=high)


def did_not_go_out(turn: Turn, call: ItemCall) -> None:
    """Lit, and too late to go out in time."""
    verdict = WindowVerdict.DID_NOT_GO_OUT
    _close(turn, call, verdict)


def out_late(turn: Turn, call: ItemCall) -> None:
    """Out after the window."""
    _out_of_limits(turn, call, WindowVerdict.LATE)


def out_early(turn: Turn, call: ItemCall) -> None:
    """Out before the window."""
    _out_of_limits(turn, call, WindowVerdict.EARLY)


def changes_bad_to_good(turn: Turn, call: ItemCall) -> bool:
    """In time, after it was not: to be affirmed like other good news after bad."""
    assert call.item.window is not None
    if call.affirmed or found_before(turn, call.item.id) is None:
        return False
    return judge(measured(turn, call), call.item.window) is WindowVerdict.WITHIN


def confirm_change(turn: Turn, call: ItemCall) -> None:
    """Nothing changes before a yes; the lamp is judged then by when this was called."""
    found = found_before(turn, call.item.id)
    assert found is not None
    earlier = found.called if found.timing is None else _what(turn, call.item, found.timing.verdict)
    questions.pose(turn, (call.said,), call.said.words)
    turn.insist("confirm-retest", earlier=earlier, now=call.said.words)


RETESTED: Final = CallRule(
    number="6.8",
    of=frozenset({Scene.RUNNING}),
    when="out, the whole interval inside the window, after a finding, and not yet affirmed",
    holds=changes_bad_to_good,
    then=confirm_change,
    stands="the finding, until the yes; the window runs on",
    says=("confirm-retest",),
    proof=(
        "test_intermittent.py::test_a_lamp_in_time_after_a_finding_needs_a_yes",
        "test_intermittent.py::test_a_lamp_in_time_that_is_denied_stays_a_finding",
    ),
)


def out_in_time(turn: Turn, call: ItemCall) -> None:
    """Out inside the window, whatever the uncertainty."""
    item, old, interval = call.item, turn.record(call.item.id), measured(turn, call)
    _drop(turn, item)
    _keep(turn, item, interval, WindowVerdict.WITHIN)
    reason = turn.text("window-in-time", seconds=_seconds(turn, interval))
    turn.put(item, turn.result_of(call.said, Outcome.SATISFACTORY, reason=reason))
    turn.insist("window-within", words=call.said.words)
    turn.set(last=ItemCalled(item.id, call.said.words, old))


def too_close(turn: Turn, call: ItemCall) -> None:
    """Out, and whether in time cannot be said."""
    item, old, interval = call.item, turn.record(call.item.id), measured(turn, call)
    _drop(turn, item)
    timing = _keep(turn, item, interval, WindowVerdict.TOO_CLOSE)
    seconds, limits = _seconds(turn, interval), _limits(turn, item)
    why = turn.text("window-too-close", seconds=seconds, limits=limits)
    turn.put_inconclusive(item, _repeat(turn, call, why, timing))
    if turn.result(item.id) is not old.now:
        turn.set(last=ItemCalled(item.id, call.said.words, old))


def _out_of_limits(turn: Turn, call: ItemCall, verdict: WindowVerdict) -> None:
    _close(turn, call, verdict, times=True)


def _close(turn: Turn, call: ItemCall, verdict: WindowVerdict, *, times: bool = False) -> None:
    """times: the finding tells what was measured."""
    item, old, interval = call.item, turn.record(call.item.id), measured(turn, call)
    _drop(turn, item)
    timing = _keep(turn, item, interval, verdict)
    reason = what = _what(turn, item, verdict)
    if times:
        seconds, limits = _seconds(turn, interval), _limits(turn, item)
        reason = turn.text("window-measured", what=what, seconds=seconds, limits=limits)
    _unsatisfactory(turn, call, what, timing, reason)
    turn.set(last=ItemCalled(call.item.id, call.said.words, old))


# Silence.


def due(state: SessionState, window: OpenWindow) -> float:
    """When to act on a running window: not while a call of its lamp awaits a yes.

    That call is no silence: its yes is waited for as long as for any answer, and the lamp is not
    asked about meanwhile, for an answer to that could be no timing.
    """
    called = [claim.end + ANSWER_TIME for claim in state.claims if claim.item == window.item]
    return max([window.deadline, *called])


def deadlines(turn: Turn) -> None:
    """Windows whose time to act has come: ask once, then let silence be the answer."""
    for window in turn.state.windows:
        if due(turn.state, window) > turn.now:
            continue
        item = turn.checklist.item(window.item)
        if not window.asked:
            later = replace(window, asked=True, deadline=turn.now + ANSWER_TIME)
            turn.set(windows=tuple(later if w is window else w for w in turn.state.windows))
            out, lit = (reading.phrases[0] for reading in item.readings)
            turn.warn("window-ask", out=out, lit=lit)
            turn.note("window", item=item.id, verdict="asked")
        else:
            _silent(turn, item, window)


def _silent(turn: Turn, item: Item, window: OpenWindow) -> None:
    """Nothing was called in answer. That is the finding, if every word since was understood."""
    _drop(turn, item)
    if window.called_from is None:
        timing = _keep(turn, item, None, WindowVerdict.NOT_CALLED)
        what = _what(turn, item, timing.verdict)
        result = turn.unsaid(turn.text("called-nothing"), Outcome.UNSATISFACTORY, what, turn.now)
        turn.put(item, replace(result, timing=timing))
        findings.speak(turn, item, what)
    else:
        timing = _keep(turn, item, None, WindowVerdict.TOO_CLOSE)
        why = turn.text("repeat", why=turn.text("untimed-call-missed"))
        result = turn.unsaid(turn.text("called-nothing"), Outcome.NOT_TESTED, why, turn.now)
        _ask_again(turn, item)
        turn.put_inconclusive(item, replace(result, timing=timing))


# What is written down.


def _repeat(turn: Turn, call: ItemCall, why: str, timing: Timing) -> Result:
    """Asks for the position again; the result that says so."""
    _ask_again(turn, call.item)
    result = turn.result_of(call.said, Outcome.NOT_TESTED, reason=turn.text("repeat", why=why))
    return replace(result, timing=timing)


def _ask_again(turn: Turn, item: Item) -> None:
    turn.warn("window-close", position=turn.checklist.position(item.position).select[0])


def _what(turn: Turn, item: Item, verdict: WindowVerdict) -> str:
    return turn.text(_FINDINGS[verdict], lamp=item.reports)


def _limits(turn: Turn, item: Item) -> str:
    assert item.window is not None
    lower, upper = (
        _decimal(turn, f"{limit:g}") for limit in (item.window.lower, item.window.upper)
    )
    return turn.text("seconds-allowed", lower=lower, upper=upper)


def _seconds(turn: Turn, interval: Interval) -> str:
    low, high = (_decimal(turn, f"{seconds:.1f}") for seconds in (interval.low, interval.high))
    return turn.text("seconds-measured", low=low, high=high)


def _decimal(turn: Turn, digits: str) -> str:
    return digits.replace(".", turn.text("decimal"))


def _unsatisfactory(
    turn: Turn, call: ItemCall, what: str, timing: Timing, reason: str | None = None
) -> None:
    result = turn.result_of(call.said, Outcome.UNSATISFACTORY, reason=reason or what)
    turn.put(call.item, replace(result, timing=timing))
    findings.speak(turn, call.item, what)


def _drop(turn: Turn, item: Item) -> None:
    turn.set(windows=tuple(w for w in turn.state.windows if w.item != item.id))


def _keep(turn: Turn, item: Item, interval: Interval | None, verdict: WindowVerdict) -> Timing:
    assert item.window is not None
    timing = Timing(
        item=item.id,
        lower=item.window.lower,
        upper=item.window.upper,
        low=round(interval.low, 3) if interval else None,
        high=round(interval.high, 3) if interval else None,
        verdict=verdict,
        at=turn.now,
    )
    turn.keep_timing(timing)
    return timing
