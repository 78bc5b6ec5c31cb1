"""Running windows: opened when the selector leaves, closed by a call, or by silence."""

from __future__ import annotations

from dataclasses import replace

from voicecheck.checklist.resolved import Grade, Item, Position, Reading
from voicecheck.engine import observe, power
from voicecheck.engine.state import (
    Claim,
    LastAct,
    OpenWindow,
    Outcome,
    Result,
    SessionState,
    Timing,
)
from voicecheck.engine.turn import Turn
from voicecheck.engine.windows import (
    ANSWER_TIME,
    Interval,
    WindowVerdict,
    judge,
    measure,
    question_at,
)


def open_windows(turn: Turn, left: Position, said: Claim) -> None:
    """The selector leaves `left`: every timed lamp there that was called lit starts to run."""
    for item in left.items:
        if item.window is None:
            continue
        if not _lit_in_this_visit(turn, item):
            turn.note("window", item=item.id, verdict="not started", reason="not called lit")
            continue
        early = turn.this_visit(item.id)
        if early is not None and early.timing is not None:
            continue  # it went out before the selector was known to move: judged already
        if missing := power.lacking(turn, power.needs(left, item)):
            observe.refuse_for_power(turn, item, said, missing)
            continue
        deadline = question_at(said.end, item.window, turn.checklist.timing)
        window = OpenWindow(item.id, said.end, deadline, left_from=turn.state.missed_from)
        turn.set(windows=(*turn.state.windows, window))
        turn.note("window", item=item.id, verdict="running", anchor=said.end)


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


def _lit_in_this_visit(turn: Turn, item: Item) -> bool:
    called = [turn.this_visit(needed) for needed in item.after]
    return all(r is not None and r.outcome is Outcome.SATISFACTORY for r in called)


def cancel(turn: Turn, position_id: str, why: str) -> None:
    """The selector went back to a position whose windows still run: they cannot be judged."""
    kept = []
    for window in turn.state.windows:
        if turn.item(window.item).position != position_id:
            kept.append(window)
            continue
        _untimed(turn, turn.item(window.item), why)
    turn.set(windows=tuple(kept))


def lose_timing(turn: Turn, why: str) -> None:
    """Sound was lost: nothing that runs can be judged any more."""
    for window in turn.state.windows:
        _untimed(turn, turn.item(window.item), why)
    turn.set(windows=())


def _untimed(turn: Turn, item: Item, why: str) -> None:
    verdict = WindowVerdict.CANCELLED
    _keep_timing(turn, item, None, verdict)
    said = Claim("", verdict.value, turn.now, turn.now, 0)
    turn.put_inconclusive(item, observe.result_of(turn, said, Outcome.NOT_TESTED, reason=why))


def closing_withdrawn(turn: Turn, item_id: str) -> None:
    """The call that closed a window was taken back: when the lamp went out is not known."""
    item = turn.item(item_id)
    if item.window is not None and item.position != turn.state.position:
        _untimed(turn, item, "the closing call was taken back")


def close(turn: Turn, item: Item, reading: Reading, said: Claim) -> None:
    """A call about a lamp that must go out."""
    window = next((w for w in turn.state.windows if w.item == item.id), None)
    if window is None:
        _called_in_position(turn, item, reading, said)
        return
    assert item.window is not None
    position = turn.checklist.position(item.position)
    if missing := power.lacking(turn, power.needs(position, item)):
        _drop(turn, item)
        bad = reading.grade is not Grade.GOOD
        observe.refuse_for_power(turn, item, said, missing, bad=bad)
        return
    interval = _measured(turn, window, said, reading)
    if reading.grade is Grade.GOOD:
        _out(turn, item, window, said, interval)
    elif interval.low > item.window.upper or window.asked:
        _finish(turn, item, said, interval, WindowVerdict.DID_NOT_GO_OUT)
    else:
        turn.say("still-lit")
        turn.note("window", item=item.id, verdict="still lit", at_most=interval.high)


def _measured(turn: Turn, window: OpenWindow, said: Claim, reading: Reading) -> Interval:
    """How long the lamp took, made wider by words that may have been one of the two calls."""
    timing = turn.checklist.timing
    interval = measure(window.anchor, said.start, timing)
    low, high = interval.low, interval.high
    if window.left_from is not None and window.left_from < window.anchor:
        high = measure(window.left_from, said.start, timing).high
    out = reading.grade is Grade.GOOD  # that it is still lit is known from this very call
    if out and window.called_from is not None and window.called_from < said.start:
        low = measure(window.anchor, window.called_from, timing).low
    return Interval(low, high)


def _called_in_position(turn: Turn, item: Item, reading: Reading, said: Claim) -> None:
    early = reading.grade is Grade.GOOD  # out, while the selector is still here
    if not observe.allowed(turn, item, said, bad=early):
        return
    if reading.grade is not Grade.GOOD:
        turn.say("ack", words=said.words)  # lit while the selector is here is as it should be
        return
    old = turn.record(item.id)
    if turn.state.missed_from is not None:
        # Words were missed; the selector may have left with them, and nobody knows when.
        timing = _keep_timing(turn, item, None, WindowVerdict.TOO_CLOSE)
        # It stands even in place of a finding, so that leaving does not time this lamp.
        why = "when the selector left was not understood"
        turn.put(item, _repeat(turn, item, said, why, timing))
        turn.set(last=LastAct("item", item.id, said.words, old))
        return
    verdict = WindowVerdict.BEFORE_SELECTOR
    timing = _keep_timing(turn, item, None, verdict)
    _unsatisfactory(turn, item, said, f"{item.reports} {verdict.value}", timing)
    turn.set(last=LastAct("item", item.id, said.words, old))


def _out(turn: Turn, item: Item, window: OpenWindow, said: Claim, interval: Interval) -> None:
    assert item.window is not None
    verdict = judge(interval, item.window)
    if window.asked and verdict is not WindowVerdict.LATE:
        verdict = WindowVerdict.TOO_CLOSE  # an answer to a question is no timing
    _finish(turn, item, said, interval, verdict)


def _finish(
    turn: Turn, item: Item, said: Claim, interval: Interval, verdict: WindowVerdict
) -> None:
    old = turn.record(item.id)
    _drop(turn, item)
    timing = _keep_timing(turn, item, interval, verdict)
    seconds = f"{interval.low:.1f} to {interval.high:.1f} s"
    if verdict is WindowVerdict.WITHIN:
        result = observe.result_of(turn, said, Outcome.SATISFACTORY, reason=f"after {seconds}")
        turn.put(item, result)
        turn.ask("window-within", words=said.words)
    elif verdict is WindowVerdict.TOO_CLOSE:
        why = f"too close to call: {seconds} against {_limits(item)}"
        turn.put_inconclusive(item, _repeat(turn, item, said, why, timing))
    elif verdict is WindowVerdict.DID_NOT_GO_OUT:
        _unsatisfactory(turn, item, said, f"{item.reports} {verdict.value}", timing)
    else:
        what = f"{item.reports} out {verdict.value}"
        _unsatisfactory(turn, item, said, what, timing, f": {seconds}, limits {_limits(item)}")
    if turn.result(item.id) is not old.now:
        turn.set(last=LastAct("item", item.id, said.words, old))


def _repeat(turn: Turn, item: Item, said: Claim, why: str, timing: Timing) -> Result:
    """Asks for the position again; the result that says so."""
    position = turn.checklist.position(item.position)
    turn.warn("window-close", position=position.select[0])
    result = observe.result_of(turn, said, Outcome.NOT_TESTED, reason=f"{why}; repeat the position")
    return replace(result, timing=timing)


def _limits(item: Item) -> str:
    assert item.window is not None
    return f"{item.window.lower:g} to {item.window.upper:g} s"


def _unsatisfactory(
    turn: Turn, item: Item, said: Claim, what: str, timing: Timing, seconds: str = ""
) -> None:
    result = observe.result_of(turn, said, Outcome.UNSATISFACTORY, reason=what + seconds)
    turn.put(item, replace(result, timing=timing))
    observe.say_finding(turn, item, what)


def due(state: SessionState, window: OpenWindow) -> float:
    """When to act on a running window: not while a call of its lamp awaits a yes.

    That call is no silence: its yes is waited for as long as for any answer, and the lamp is not
    asked about meanwhile, for an answer to that could be no timing.
    """
    if state.question is None:
        return window.deadline
    called = [c for c in state.question.claims if c.callout.rpartition(":")[0] == window.item]
    return max([window.deadline, *(claim.end + ANSWER_TIME for claim in called)])


def deadlines(turn: Turn) -> None:
    """Windows whose time to act has come: ask once, then let silence be the answer."""
    for window in turn.state.windows:
        if due(turn.state, window) > turn.now:
            continue
        item = turn.item(window.item)
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
    said = Claim("", "nothing", turn.now, turn.now, 0)
    if window.called_from is None:
        verdict = WindowVerdict.NOT_CALLED
        timing = _keep_timing(turn, item, None, verdict)
        _unsatisfactory(turn, item, said, f"{item.reports} out {verdict.value}", timing)
    else:
        timing = _keep_timing(turn, item, None, WindowVerdict.TOO_CLOSE)
        why = "its call may be among words that were not understood"
        turn.put_inconclusive(item, _repeat(turn, item, said, why, timing))


def _drop(turn: Turn, item: Item) -> None:
    turn.set(windows=tuple(w for w in turn.state.windows if w.item != item.id))


def _keep_timing(
    turn: Turn, item: Item, interval: Interval | None, verdict: WindowVerdict
) -> Timing:
    assert item.window is not None
    timing = Timing(
        item=item.id,
        lower=item.window.lower,
        upper=item.window.upper,
        low=round(interval.low, 3) if interval else None,
        high=round(interval.high, 3) if interval else None,
        verdict=verdict.value,
        at=turn.now,
    )
    turn.set(timings=(*turn.state.timings, timing))
    turn.note("window", item=item.id, verdict=verdict.value, low=timing.low, high=timing.high)
    return timing
