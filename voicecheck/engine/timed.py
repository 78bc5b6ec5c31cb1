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
        if early is not None and early.outcome is Outcome.UNSATISFACTORY:
            continue  # it went out before the selector moved: already a finding
        if missing := power.lacking(turn, power.needs(left, item)):
            observe.refuse_for_power(turn, item, said, missing)
            continue
        deadline = question_at(said.end, item.window, turn.checklist.timing)
        turn.set(windows=(*turn.state.windows, OpenWindow(item.id, said.end, deadline)))
        turn.note("window", item=item.id, verdict="running", anchor=said.end)


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
    turn.put(item, observe.result_of(turn, said, Outcome.NOT_TESTED, reason=why))


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
    interval = measure(window.anchor, said.start, turn.checklist.timing)
    if reading.grade is Grade.GOOD:
        _out(turn, item, window, said, interval)
    elif interval.low > item.window.upper or window.asked:
        _finish(turn, item, said, interval, WindowVerdict.DID_NOT_GO_OUT)
    else:
        turn.say("still-lit")
        turn.note("window", item=item.id, verdict="still lit", at_most=interval.high)


def _called_in_position(turn: Turn, item: Item, reading: Reading, said: Claim) -> None:
    early = reading.grade is Grade.GOOD  # out, while the selector is still here
    if not observe.allowed(turn, item, said, bad=early):
        return
    if reading.grade is not Grade.GOOD:
        turn.say("ack", words=said.words)  # lit while the selector is here is as it should be
        return
    old = turn.record(item.id)
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
        reason = f"too close to call: {seconds} against {_limits(item)}; repeat the position"
        turn.put(item, observe.result_of(turn, said, Outcome.NOT_TESTED, reason=reason))
        position = turn.checklist.position(item.position)
        turn.warn("window-close", position=position.select[0])
    elif verdict is WindowVerdict.DID_NOT_GO_OUT:
        _unsatisfactory(turn, item, said, f"{item.reports} {verdict.value}", timing)
    else:
        what = f"{item.reports} out {verdict.value}"
        _unsatisfactory(turn, item, said, what, timing, f": {seconds}, limits {_limits(item)}")
    turn.set(last=LastAct("item", item.id, said.words, old))


def _limits(item: Item) -> str:
    assert item.window is not None
    return f"{item.window.lower:g} to {item.window.upper:g} s"


def _unsatisfactory(
    turn: Turn, item: Item, said: Claim, what: str, timing: Timing, seconds: str = ""
) -> None:
    result = observe.result_of(turn, said, Outcome.UNSATISFACTORY, reason=what + seconds)
    turn.put(item, replace(result, timing=timing))
    observe.say_finding(turn, item, what)


def deadlines(turn: Turn) -> None:
    """Windows whose time to act has come: ask once, then let silence be the answer."""
    for window in turn.state.windows:
        if window.deadline > turn.now:
            continue
        item = turn.item(window.item)
        if not window.asked:
            later = replace(window, asked=True, deadline=turn.now + ANSWER_TIME)
            turn.set(windows=tuple(later if w is window else w for w in turn.state.windows))
            out, lit = (reading.phrases[0] for reading in item.readings)
            turn.warn("window-ask", out=out, lit=lit)
            turn.note("window", item=item.id, verdict="asked")
        else:
            verdict = WindowVerdict.NOT_CALLED
            _drop(turn, item)
            timing = _keep_timing(turn, item, None, verdict)
            said = Claim("", "nothing", turn.now, turn.now, 0)
            _unsatisfactory(turn, item, said, f"{item.reports} out {verdict.value}", timing)


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
