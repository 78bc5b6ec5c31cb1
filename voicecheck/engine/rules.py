"""The rules, in the order in which they are applied, and the table of an item's call.

1. Only a callout that is on offer can do anything; any other is noted and left.
2. Time comes with each event and never runs backwards; a deadline is only acted on when
   nothing that began before it is still undecided (the Passed event).
3. A bus call (on, off) counts once it has been read back and affirmed, from the moment its
   words were spoken; until then, half heard too, it is unknown. The first is read back with the
   registration, and the yes is to both; before it, and again once the session was cut off, no
   bus is known and no call about an item counts.
4. A call about an item counts only at its position, under the power that the item needs, and
   after the stages that must come first. Otherwise it is refused and the crew is told. A timed
   item needs its power from when the selector leaves until it is called. Where the call of
   another position was half understood, no later call counts before the crew has said yes or
   no to it, or where the selector is.
5. A power change makes the results of the present visit that need the old state void, unless
   the position has items for both states, so that it is switched there on purpose.
6. Bad news always counts: where rule 4 refuses it, an earlier good is void; half understood,
   asked about and not answered, it leaves the item open. Good news after bad news, in
   whatever visit, needs a yes.
7. A later result supersedes an earlier one; nothing is erased. A bad call taken back leaves the
   item open: it never brings an earlier good one back. A repeat that tells nothing leaves a
   finding as it is. Good news of a later visit leaves it open too, as intermittent.
8. With two crew, a marked item is good only when both have called it alike; where they
   differ, both are asked to look again, and what one of them called bad is a finding until then.
9. Leaving a position starts its windows. A window is judged only when the whole measured
   interval lies on one side of its limits; otherwise it is to be repeated. Words that were
   not understood may have been the leaving or the closing call, and widen the interval.
10. The session completes only with the selector at off, and after a yes to what was found and
   what is not tested, read out by name; not complete where something left can be tested.
11. What is good because nothing shows counts only under the power that would show it. It is
   refused while a lamp is still timed that must be out for it, and where something was called
   lit it needs a yes.
12. A switch that was thrown, good or bad, is to be called put back, each time it is thrown.
13. Whatever else is seen or heard can be called at every position. It is a finding there, never
    good, and nothing is missing where it is not called.
14. After a gap (held over a minute, a lost microphone, a session cut off) power and position are
    unknown until called or affirmed. Words that positions share are read back with its name.

Each is worked out in rows: CALLS below, reopening.REOPENINGS (how a good result stops standing),
power.VOIDINGS, taking_back.UNDOINGS. `make docs` prints them all as docs/rules.md.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from voicecheck.engine import airframe, context, findings, refusing, second_call, timed, whereabouts
from voicecheck.engine.call_rule import CallRule
from voicecheck.engine.darkness import CALLED_LIT, STILL_TIMED
from voicecheck.engine.item_call import ItemCall, Scene
from voicecheck.engine.turn import Turn
from voicecheck.engine.unforeseen import ANYTHING_ELSE
from voicecheck.engine.windows import WindowVerdict, judge

_HERE: Final = frozenset({Scene.OBSERVED, Scene.NAMED})
_UNTIMED: Final = frozenset({Scene.OBSERVED})
_NAMED: Final = frozenset({Scene.NAMED})
_AT_POSITION: Final = frozenset({*_HERE, Scene.TIMED_HERE})
_BEFORE_LEAVING: Final = frozenset({Scene.TIMED_HERE})
_RUNNING: Final = frozenset({Scene.RUNNING})


def _always(_turn: Turn, _call: ItemCall) -> bool:
    return True


def _bad(_turn: Turn, call: ItemCall) -> bool:
    return call.bad


def _good(_turn: Turn, call: ItemCall) -> bool:
    return not call.bad


def _words_missed(turn: Turn, _call: ItemCall) -> bool:
    return turn.state.missed_from is not None


def _may_go_out_yet(turn: Turn, call: ItemCall) -> bool:
    assert call.item.window is not None
    in_time = timed.measured(turn, call).low <= call.item.window.upper
    return call.bad and in_time and not timed.asked(turn, call)


def _is(verdict: WindowVerdict) -> Callable[[Turn, ItemCall], bool]:
    def holds(turn: Turn, call: ItemCall) -> bool:
        assert call.item.window is not None
        return judge(timed.measured(turn, call), call.item.window) is verdict

    return holds


CALLS: Final = (
    whereabouts.IN_DOUBT,
    context.AFTER_A_GAP,
    CallRule(
        number="4.2",
        of=_AT_POSITION,
        when="a bus that the item needs is not affirmed in the state that it needs",
        holds=refusing.lacks_power,
        then=refusing.for_power,
        stands="the call as void (4.2.1, 4.2.2)",
        says=("not-counted", "confirm"),
        proof=(
            "test_rules.py::TestPower::test_a_bus_counts_only_after_a_yes",
            "test_rules.py::TestPower::test_a_denied_bus_is_unknown_again",
            "test_rules.py::TestPower::test_a_guess_at_a_bus_that_is_denied_leaves_it_unknown",
        ),
    ),
    airframe.UNKNOWN,
    CallRule(
        number="4.3",
        of=_AT_POSITION,
        when="a stage that must come first has not been called good in this visit (or, of a switch "
        "that goes back, no throw has been called, good or bad, in any)",
        holds=refusing.lacks_stage,
        then=refusing.for_stage,
        stands="nothing of the call; bad news makes an earlier good void",
        says=("first",),
        proof=(
            "test_rules.py::TestPower::test_bad_news_out_of_order_leaves_nothing_good",
            "test_rules.py::TestAurals::test_silence_cannot_come_before_the_sound",
            "test_rules.py::test_a_switch_is_exercised_in_both_throws_and_goes_back",
            "test_putting_back.py::test_it_is_put_back_after_a_throw_not_before",
        ),
    ),
    CallRule(
        number="4.4",
        of=_RUNNING,
        when="a bus that a running lamp needs is not affirmed in the state that it needs",
        holds=refusing.lacks_power,
        then=timed.refuse_for_power,
        stands="the call as void, and the window is closed",
        says=("not-counted", "confirm"),
        proof=("test_windows.py::test_a_timed_item_needs_its_own_power_until_it_is_called",),
    ),
    ANYTHING_ELSE,
    STILL_TIMED,
    CallRule(
        number="6.1",
        of=_UNTIMED,
        when="good news after a finding, of whatever visit, not yet affirmed, nor the other's call",
        holds=findings.changes_bad_to_good,
        then=findings.confirm_change,
        stands="the finding, until the yes",
        says=("confirm-change",),
        proof=(
            "test_rules.py::TestPeople::test_a_finding_called_twice_stands_when_the_repeat_is_taken_back",
            "test_rules.py::TestPeople::test_a_finding_that_stands_again_outlives_its_repeat_too",
            "test_rules.py::TestPeople::test_good_after_bad_needs_a_yes",
            "test_intermittent.py::test_good_news_on_another_visit_needs_a_yes",
            "test_intermittent.py::test_a_finding_at_rest_that_was_left_wants_a_yes_as_well",
        ),
    ),
    CallRule(
        number="7.1",
        of=_UNTIMED,
        when="the reading that stands, once more in the same visit",
        holds=findings.counted_here,
        then=findings.repeated,
        stands="what stood",
        says=("ack", "which-dark"),
        proof=(
            "test_rules.py::TestPeople::test_a_finding_called_twice_stands_when_the_repeat_is_taken_back",
            "test_rules.py::TestPeople::test_a_good_call_repeated_is_taken_back_with_its_repeat",
        ),
    ),
    CALLED_LIT,
    context.SHARED,
    CallRule(
        number="8.1",
        of=_UNTIMED,
        when="one of two calls a marked item good, and the other has not",
        holds=second_call.is_first,
        then=second_call.await_other,
        stands="what stood; the call waits for the other's",
        says=("read-back-wanted",),
        proof=(
            "test_two_crew.py::test_a_marked_item_counts_after_the_read_back_of_the_other",
            "test_two_crew.py::test_on_one_microphone_the_turn_order_tells_and_the_record_says_so",
            "test_two_crew.py::test_without_the_read_back_the_item_is_not_tested",
        ),
    ),
    CallRule(
        number="8.2",
        of=_UNTIMED,
        when="the same voice calls it good once more",
        holds=second_call.is_same_voice,
        then=second_call.await_other,
        stands="what stood; the call waits for the other's",
        says=("read-back-again",),
        proof=(
            "test_two_crew.py::test_a_marked_item_counts_after_the_read_back_of_the_other",
            "test_two_crew.py::test_with_a_microphone_each_one_yes_to_good_news_after_bad_is_enough",
            "test_two_crew.py::test_a_yes_reads_back_for_nobody_but_who_says_it",
        ),
    ),
    CallRule(
        number="8.3",
        of=_UNTIMED,
        when="the other calls it otherwise than the first",
        holds=second_call.differs,
        then=second_call.differ,
        stands="the item is open, and what was called bad is a finding (8.4)",
        says=("disagreement",),
        proof=(
            "test_two_crew.py::test_a_disagreement_is_asked_about_and_neither_call_is_taken",
            "test_two_crew.py::test_what_one_of_them_called_bad_is_a_finding_until_they_agree",
            "test_two_crew.py::test_once_they_agree_what_one_had_called_bad_is_no_finding_any_more",
        ),
    ),
    CallRule(
        number="6.5",
        of=_UNTIMED,
        when="bad news",
        holds=_bad,
        then=findings.bad,
        stands="a finding",
        says=("finding", "caution", "which-dark"),
        proof=(
            "test_rules.py::TestLamps::test_a_short_count_asks_which_is_dark_and_names_it",
            "test_rules.py::TestLamps::test_a_short_count_without_a_name_is_still_a_finding",
            "test_rules.py::TestLamps::test_no_lamp_at_all_names_all",
        ),
    ),
    CallRule(
        number="7.2",
        of=_UNTIMED,
        when="good news",
        holds=_good,
        then=findings.good,
        stands="the item is satisfactory",
        says=("ack",),
        proof=(
            "test_rules.py::TestPower::test_two_buses_are_affirmed_together",
            "test_rules.py::TestPower::test_a_change_voids_results_of_this_visit_only",
            "test_rules.py::TestPower::test_a_void_result_can_be_called_again",
        ),
    ),
    CallRule(
        number="6.6",
        of=_NAMED,
        when="a lamp of a group is named dark",
        holds=_always,
        then=findings.name_dark,
        stands="a finding with all lamps named dark in this visit",
        says=("finding", "caution"),
        proof=(
            "test_rules.py::TestLamps::test_a_short_count_asks_which_is_dark_and_names_it",
            "test_rules.py::TestLamps::test_two_dark_lamps_are_both_named",
            "test_rules.py::TestPeople::test_a_retest_supersedes_and_never_erases",
        ),
    ),
    CallRule(
        number="9.1",
        of=_BEFORE_LEAVING,
        when="lit, while the selector is still there",
        holds=_good,
        then=timed.lit_here,
        stands="what stood",
        says=("ack",),
        proof=("test_dialogues.py::test_a_dialogue_goes_as_written[windows]",),
    ),
    CallRule(
        number="9.2",
        of=_BEFORE_LEAVING,
        when="out, and words were missed that may have been the leaving",
        holds=_words_missed,
        then=timed.out_unplaced,
        stands="not tested: to be repeated",
        says=("window-close",),
        proof=(
            "test_missed_words.py::test_out_after_an_unheard_leaving_call_is_to_be_repeated",
            "test_missed_words.py::test_out_after_an_unheard_leaving_call_can_be_taken_back",
        ),
    ),
    CallRule(
        number="9.3",
        of=_BEFORE_LEAVING,
        when="out, while the selector is still there",
        holds=_always,
        then=timed.out_here,
        stands="a finding",
        says=("finding", "caution"),
        proof=(
            "test_missed_words.py::test_out_in_the_position_is_still_a_finding_when_nothing_was_missed",
            "test_windows.py::test_out_before_the_selector_leaves_is_a_finding",
            "test_several_windows.py::test_one_lamp_that_cannot_be_timed_does_not_keep_the_next_from_it",
        ),
    ),
    CallRule(
        number="9.4",
        of=_RUNNING,
        when="lit, unasked, and it may yet go out in time",
        holds=_may_go_out_yet,
        then=timed.still_lit,
        stands="what stood; the window runs on",
        says=("still-lit",),
        proof=(
            "test_windows.py::test_still_lit_before_the_limit_keeps_the_window_open",
            "test_windows.py::test_lit_at_the_very_limit_is_still_in_time",
        ),
    ),
    CallRule(
        number="9.5",
        of=_RUNNING,
        when="lit, after its time or when asked",
        holds=_bad,
        then=timed.did_not_go_out,
        stands="a finding",
        says=("finding", "caution"),
        proof=("test_windows.py::test_never_out_is_asked_about_once_and_then_a_finding",),
    ),
    CallRule(
        number="9.6",
        of=_RUNNING,
        when="out, the whole interval after the window",
        holds=_is(WindowVerdict.LATE),
        then=timed.out_late,
        stands="a finding",
        says=("finding", "caution"),
        proof=(
            "test_windows.py::test_clearly_outside_is_a_finding",
            "test_windows.py::test_a_call_that_awaits_a_yes_is_no_silence",
            "test_windows.py::test_an_answer_to_the_question_is_never_good",
        ),
    ),
    CallRule(
        number="9.7",
        of=_RUNNING,
        when="out, the whole interval before the window, also where the yes comes late",
        holds=_is(WindowVerdict.EARLY),
        then=timed.out_early,
        stands="a finding",
        says=("finding", "caution"),
        proof=(
            "test_windows.py::test_clearly_outside_is_a_finding",
            "test_several_windows.py::test_any_order_of_calls_is_judged_as_each_alone",
            "test_two_timed.py::test_the_call_of_the_second_leaves_the_first_running",
            "test_windows.py::test_a_late_yes_to_an_early_call_is_a_finding",
        ),
    ),
    timed.RETESTED,
    CallRule(
        number="9.8",
        of=_RUNNING,
        when="out, after we had asked, also where the yes to an earlier call comes so late",
        holds=timed.asked,
        then=timed.too_close,
        stands="not tested: to be repeated; a finding stays",
        says=("window-close",),
        proof=("test_windows.py::test_a_yes_that_comes_after_we_asked_makes_no_timing",),
    ),
    CallRule(
        number="9.9",
        of=_RUNNING,
        when="out, the whole interval inside the window",
        holds=_is(WindowVerdict.WITHIN),
        then=timed.out_in_time,
        stands="the item is satisfactory",
        says=("window-within",),
        proof=(
            "test_rules.py::test_all_good_completes_with_nothing_left",
            "test_missed_words.py::test_a_call_about_something_here_shows_that_the_selector_is_still_here",
            "test_windows.py::test_in_the_middle_is_satisfactory",
        ),
    ),
    CallRule(
        number="9.10",
        of=_RUNNING,
        when="out, and the interval crosses a limit (as it does after words that were missed)",
        holds=_always,
        then=timed.too_close,
        stands="not tested: to be repeated; a finding stays",
        says=("window-close",),
        proof=(
            "test_windows.py::test_at_the_limits_is_too_close_to_call_and_asks_for_a_repeat",
            "test_several_windows.py::test_a_window_too_close_to_call_keeps_what_was_measured",
        ),
    ),
)
"""What becomes of a call about an item: the first row of its scene that holds decides."""


def decide(turn: Turn, call: ItemCall, rules: tuple[CallRule, ...] | None = None) -> None:
    """Let the first rule that holds decide the call."""
    for rule in CALLS if rules is None else rules:
        if call.scene in rule.of and rule.holds(turn, call):
            rule.then(turn, call)
            return
