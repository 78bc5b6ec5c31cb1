"""The arithmetic of spoken windows, and the worked anti-skid cases."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from fleet import Crew, loaded
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.checklist.resolved import Timing, Window
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Heard, KeyPressed, Overheard, Unclear
from voicecheck.engine.windows import (
    Interval,
    WindowVerdict,
    judge,
    lag,
    may_have_left,
    measure,
    question_at,
    uncertainty,
)

EXACT = Timing(word_error=0.0, reaction=0.0, reaction_spread=0.0, silence=15.0)
seconds = st.floats(min_value=0, max_value=600, allow_nan=False)


@pytest.mark.parametrize(
    ("out_after", "verdict"),
    [
        (2.9, WindowVerdict.EARLY),
        (3.0, WindowVerdict.WITHIN),
        (4.0, WindowVerdict.WITHIN),
        (5.0, WindowVerdict.WITHIN),
        (5.1, WindowVerdict.LATE),
    ],
)
def test_three_to_five_seconds(out_after: float, verdict: WindowVerdict) -> None:
    """An anti-skid caption out three to five seconds later (common practice, no source)."""
    assert judge(measure(0.0, out_after, EXACT), Window(3, 5)) is verdict


@given(seconds, seconds, seconds, seconds)
def test_a_verdict_holds_for_every_time_inside_the_interval(
    a: float, b: float, c: float, d: float
) -> None:
    low, high = sorted((a, b))
    lower, upper = sorted((c, d))
    if lower == upper:
        upper += 1
    verdict = judge(Interval(low, high), Window(lower, upper))
    ends = [Fraction(low), (Fraction(low) + Fraction(high)) / 2, Fraction(high)]
    inside = [Fraction(lower) <= end <= Fraction(upper) for end in ends]
    if verdict is WindowVerdict.WITHIN:
        assert all(inside)
    elif verdict is WindowVerdict.EARLY:
        assert all(end < Fraction(lower) for end in ends)
    elif verdict is WindowVerdict.LATE:
        assert all(end > Fraction(upper) for end in ends)
    else:
        assert low < lower <= high or low <= upper < high


@given(seconds, seconds, st.floats(0, 2), st.floats(0, 5), st.floats(0, 5))
def test_the_interval_is_centred_and_as_wide_as_the_budget(
    anchor: float, closing: float, word: float, reaction: float, spread: float
) -> None:
    timing = Timing(word, reaction, spread, 15.0)
    interval = measure(anchor, closing, timing)
    assert interval.high - interval.low == pytest.approx(2 * uncertainty(timing), abs=1e-9)
    assert (interval.high + interval.low) / 2 == pytest.approx(closing - reaction - anchor)


def test_the_hand_may_move_before_and_after_the_end_of_the_call() -> None:
    """The middle of its allowance counts, and half of it is added to the width as a square."""
    timing = Timing(0.0, 0.0, 0.3, 15.0, hand_before=0.9, hand_after=0.1)
    interval = measure(10.0, 14.0, timing)
    assert (interval.low + interval.high) / 2 == pytest.approx(4.0 + 0.4)
    assert (interval.high - interval.low) / 2 == pytest.approx((0.5**2 + 0.3**2) ** 0.5)


def test_a_long_leaving_call_makes_the_time_less_sure() -> None:
    """The hand may have moved as it began, longer ago than is allowed for a usual call."""
    timing = Timing(0.1, 0.3, 0.2, 15.0, hand_before=0.9, hand_after=0.7)
    assert may_have_left(9.3, 10.0, timing) == 10.0
    assert may_have_left(8.0, 10.0, timing) == pytest.approx(8.9)


def test_a_long_leaving_call_is_judged_by_its_start() -> None:
    """A lamp that is in time by the call's end is too close to call by its beginning."""
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated")
    start = crew.now
    end = start + 3.0
    crew.feed(Heard(crew.phrases()["selector off"], "selector off", start, end, 0.99))
    crew.say_at(end + 4.0, "anti skid out")
    assert crew.outcome("anti-skid.out") == "not tested"


def test_a_touch_has_the_same_allowance_as_a_voice() -> None:
    """No verdict from a touch that a word at the same moment would not have had."""
    for seconds, outcome in ((1.8, "not tested"), (4.0, "satisfactory"), (5.6, "not tested")):
        crew = Crew("ZZ-HJC")
        crew.power(battery="on", avionics="on")
        crew.say("going to anti skid", "anti skid illuminated")
        keys, left = crew.phrases(), crew.now + 1.0
        crew.feed(KeyPressed(keys["selector off"], left, "touch"))
        crew.feed(KeyPressed(crew.phrases()["anti skid out"], left + seconds, "touch"))
        assert crew.outcome("anti-skid.out") == outcome


@given(seconds, st.floats(0, 2), st.floats(0, 5), st.floats(0, 5))
def test_nobody_is_asked_while_an_in_time_call_may_still_come(
    anchor: float, word: float, reaction: float, spread: float
) -> None:
    timing, window = Timing(word, reaction, spread, 15.0), Window(3, 5)
    latest = anchor + window.upper + reaction + uncertainty(timing)
    assert question_at(anchor, window, timing) > latest


@pytest.fixture
def leaving() -> Crew:
    """At the moment at which the selector has left the anti-skid position."""
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated", "selector off")
    return crew


def _out_after(crew: Crew, middle: float) -> str:
    timing = loaded("ZZ-HJC").checklist.timing
    crew.say_at(crew.now + middle + lag(timing), "anti skid out")
    return crew.outcome("anti-skid.out")


def test_in_the_middle_is_satisfactory(leaving: Crew) -> None:
    assert _out_after(leaving, 4.0) == "satisfactory"
    assert leaving.result["timings"][0]["verdict"] == "within"


@pytest.mark.parametrize("middle", [1.4, 1.5, 2.3, 4.7, 5.5, 5.6])
def test_at_the_limits_is_too_close_to_call_and_asks_for_a_repeat(
    leaving: Crew, middle: float
) -> None:
    assert _out_after(leaving, middle) == "not tested"
    assert "repeat" in leaving.item("anti-skid.out")["reason"]


@pytest.mark.parametrize(("middle", "verdict"), [(0.2, "early"), (6.8, "late")])
def test_clearly_outside_is_a_finding(leaving: Crew, middle: float, verdict: str) -> None:
    assert _out_after(leaving, middle) == "unsatisfactory"
    (finding,) = leaving.findings()
    assert verdict in finding["what"]
    assert finding["timing"]["lower"] == 1.5
    assert finding["timing"]["low"] < middle < finding["timing"]["high"]


def test_never_lit_leaves_the_window_untested_and_is_the_finding() -> None:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid dark", "selector off")
    assert crew.outcome("anti-skid.caption") == "unsatisfactory"
    assert crew.outcome("anti-skid.out") == "not tested"


def test_never_out_is_asked_about_once_and_then_a_finding(leaving: Crew) -> None:
    assert "window-ask" not in leaving.wait(6.0)
    assert leaving.wait(2.3) == ["window-ask"]
    assert leaving.say("anti skid stays lit") == ["finding"]
    assert leaving.findings()[0]["what"] == "anti skid did not go out"


def test_silence_after_the_question_is_the_finding(leaving: Crew) -> None:
    leaving.wait(8.3)
    assert "finding" in leaving.wait(9.0)
    assert leaving.findings()[0]["what"] == "anti skid out not called by the deadline"


def test_a_call_that_awaits_a_yes_is_no_silence(leaving: Crew) -> None:
    leaving.wait(8.3)
    leaving.wait(7.5)
    out = Unclear(leaving.now - 0.4, leaving.now, ("anti-skid.out:out",))
    assert leaving.prompts(leaving.feed(out)) == ["confirm"]
    assert leaving.wait(1.0) == []
    assert leaving.say("affirm") == ["finding"]
    assert leaving.findings()[0]["what"].startswith("anti skid out late")


def half_understood(crew: Crew) -> list[str]:
    """The lamp is seen to go out after about four seconds; the call is not surely understood."""
    crew.wait(4.7)
    out = Unclear(crew.now, crew.now + 0.8, ("anti-skid.out:out",))
    crew.now += 0.8
    return crew.prompts(crew.feed(out))


def test_a_call_in_time_that_is_affirmed_after_the_limit_is_timed_by_the_call(
    leaving: Crew,
) -> None:
    assert half_understood(leaving) == ["confirm"]
    assert leaving.wait(5.0) == [], "not asked about while its call awaits a yes"
    assert leaving.say("affirm") == ["window-within"]
    assert leaving.outcome("anti-skid.out") == "satisfactory"


def test_a_call_in_time_that_nobody_affirms_is_asked_about_after_all(leaving: Crew) -> None:
    half_understood(leaving)
    assert "window-ask" in leaving.wait(8.1)
    assert "window-close" in leaving.wait(8.1)
    item = leaving.item("anti-skid.out")
    assert item["outcome"] == "not tested"
    assert "not understood; repeat the position" in item["reason"]


def test_words_not_understood_make_no_finding_of_silence(leaving: Crew) -> None:
    leaving.wait(4.7)
    leaving.feed(Overheard(leaving.now, leaving.now + 0.8))
    leaving.now += 0.8
    assert "window-ask" in leaving.wait(4.0)
    assert "window-close" in leaving.wait(8.1)
    assert leaving.outcome("anti-skid.out") == "not tested"


def test_a_call_in_time_that_is_denied_is_asked_about_at_once(leaving: Crew) -> None:
    half_understood(leaving)
    leaving.wait(4.0)
    leaving.say("negative")
    assert leaving.wait(0.1) == ["window-ask"]


def test_a_call_is_not_awaited_for_ever(leaving: Crew) -> None:
    leaving.wait(8.3)
    leaving.wait(7.5)
    leaving.feed(Unclear(leaving.now - 0.4, leaving.now, ("anti-skid.out:out",)))
    assert "window-close" not in leaving.wait(7.9)
    assert "window-close" in leaving.wait(0.2)
    assert leaving.outcome("anti-skid.out") == "not tested"


def test_still_lit_before_the_limit_keeps_the_window_open(leaving: Crew) -> None:
    assert leaving.say("anti skid stays lit") == ["still-lit"]
    assert len(leaving.engine.state.windows) == 1


def test_an_answer_to_the_question_is_never_good(leaving: Crew) -> None:
    leaving.wait(8.3)
    leaving.say("anti skid out")
    assert leaving.outcome("anti-skid.out") == "unsatisfactory"


def test_out_before_the_selector_leaves_is_a_finding() -> None:
    crew = Crew("ZZ-HJC")
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated", "anti skid out", "selector off")
    assert crew.engine.state.windows == ()
    assert "before the selector left" in crew.findings()[0]["what"]


def test_going_back_cancels_the_window_and_a_repeat_supersedes(leaving: Crew) -> None:
    leaving.say("going to anti skid")
    assert leaving.engine.state.windows == ()
    leaving.say("anti skid illuminated", "selector off")
    assert _out_after(leaving, 4.0) == "satisfactory"


def test_the_session_cannot_complete_while_a_window_runs(leaving: Crew) -> None:
    leaving.say("panel dark")
    assert leaving.say("test complete") == ["window-open"]


def test_another_airframe_has_another_window() -> None:
    assert loaded("ZZ-HJC").checklist.position("anti-skid").items[1].window == Window(1.5, 5.5)
    assert loaded("ZZ-HJD").checklist.position("anti-skid").items[1].window == Window(4, 8)


def _own_power(timed: str) -> Crew:
    """ZZ-HAC, whose anti-skid needs the battery alone, with a timed item on the avionics bus."""
    crew = Crew("ZZ-HAC")
    checklist = crew.engine.checklist
    positions = tuple(
        replace(
            position,
            items=tuple(
                replace(item, power={**item.power, "avionics": timed}) if item.window else item
                for item in position.items
            ),
        )
        for position in checklist.positions
    )
    crew.engine = Engine(replace(checklist, positions=positions))
    crew.effects.clear()
    crew.feed(Began(0.0))
    crew.power(battery="on")
    return crew


def test_a_timed_item_needs_its_own_power_when_the_selector_leaves() -> None:
    crew = _own_power("on")
    crew.say("going to anti skid", "anti skid illuminated")
    assert "not-counted" in crew.say("selector off")
    assert crew.engine.state.windows == ()
    assert crew.outcome("anti-skid.out") == "void"


def test_a_timed_item_needs_its_own_power_until_it_is_called() -> None:
    crew = _own_power("on")
    crew.power(avionics="on")
    crew.say("going to anti skid", "anti skid illuminated", "selector off", "avionics off")
    assert len(crew.engine.state.windows) == 1  # denied, the bus is unknown, not off
    crew.say("negative")
    assert "not-counted" in crew.say_at(crew.now + 1.5, "anti skid out")
    assert crew.outcome("anti-skid.out") == "void"


def test_lit_at_the_very_limit_is_still_in_time() -> None:
    """Limits are inclusive: at the last second the lamp may still go out in time."""
    crew = Crew("ZZ-HJC")
    crew.engine = Engine(replace(crew.engine.checklist, timing=EXACT))
    crew.feed(Began(0.0))
    crew.power(battery="on", avionics="on")
    crew.say("going to anti skid", "anti skid illuminated", "selector off")
    left = crew.now
    assert crew.say_at(left + 5.5, "anti skid stays lit") == ["still-lit"]
    crew.now = left
    assert crew.say_at(left + 5.5, "anti skid out") == ["window-within"]


def test_a_yes_that_comes_after_we_asked_makes_no_timing(leaving: Crew) -> None:
    """Its call was in time, but the yes may have been the answer to our question."""
    half_understood(leaving)
    assert "window-ask" in leaving.wait(8.1)
    assert leaving.say("affirm") == ["window-close"]
    assert leaving.outcome("anti-skid.out") == "not tested"
