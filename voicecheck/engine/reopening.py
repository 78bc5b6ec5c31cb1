"""What stood as good, and stands no longer: every way in which that happens, one row each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from voicecheck.checklist.resolved import Grade, Item
from voicecheck.engine.row import Row
from voicecheck.engine.state import Outcome, Record, Result
from voicecheck.engine.turn import Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Reopening(Row):
    """why: text of the record about the result that stood. noted: also as a line of its own."""

    why: str
    noted: bool = True


NOT_ANSWERED: Final = Reopening(
    number="6.2",
    when="bad news was asked about, and the crew went on without a yes or no",
    why="doubt-not-answered",
    stands="the item is open",
    says=("outstanding",),
    proof=(
        "test_missed_words.py::TestUnanswered::test_going_on_reopens_what_was_good",
        "test_missed_words.py::TestUnanswered::test_it_says_what_is_to_be_called_again_and_writes_down_why",
        "test_missed_words.py::TestUnanswered::test_each_part_of_what_was_asked_about_is_doubted",
    ),
)
HALF_HEARD: Final = Reopening(
    number="6.3",
    when="bad news was half understood, and nobody could be asked",
    why="doubt-not-asked",
    stands="the item is open",
    says=("outstanding",),
    proof=(
        "test_missed_words.py::test_bad_news_after_too_much_that_was_unclear_is_doubted",
        "test_missed_words.py::test_bad_news_while_another_item_is_asked_about_is_doubted",
        "test_missed_words.py::test_bad_news_while_held_or_abandoning_is_doubted",
    ),
)
PERHAPS_ELSEWHERE: Final = Reopening(
    number="6.4",
    when="bad news was called while the selector may have been elsewhere",
    why="doubt-other-place",
    stands="the item is open",
    proof=("test_whereabouts.py::test_bad_news_that_may_be_of_either_leaves_nothing_good",),
)
DIFFERED: Final = Reopening(
    number="8.4",
    when="both had called a marked item good, and now the two differ",
    why="doubt-crew-differs",
    noted=False,
    stands="the item is open; what one of them called bad is a finding until both agree",
    says=("disagreement",),
    proof=(
        "test_two_crew.py::test_a_disagreement_is_asked_about_and_neither_call_is_taken",
        "test_two_crew.py::test_what_one_of_them_called_bad_is_a_finding_until_they_agree",
        "test_two_crew.py::test_once_they_agree_what_one_had_called_bad_is_no_finding_any_more",
    ),
)
LEFT_REST: Final = Reopening(
    number="7.3",
    when="the selector leaves off",
    why="selector-left-off",
    noted=False,
    stands="what was seen at rest is open; a finding there is kept as one",
    proof=(
        "test_rules.py::TestOrder::test_the_rest_position_must_be_seen_again_after_another_position",
        "test_rules.py::TestReasons::test_a_finding_at_rest_stays_one_after_the_selector_has_left",
        "test_whereabouts.py::test_the_test_is_not_completed_while_the_selector_may_have_left_off",
    ),
)

DOUBTED_ONCE: Final = Reopening(
    number="7.10",
    when="a bad call is taken back that came after a good one",
    why="doubt-taken-back",
    noted=False,
    stands="the item is open",
    proof=(
        "test_rules.py::TestPeople::test_a_corrected_bad_call_does_not_bring_a_good_one_back",
        "test_rules.py::TestReasons::test_the_last_reason_is_told",
        "test_rules.py::TestReasons::test_a_good_call_that_a_bad_one_doubted_says_so",
    ),
)
DOES_NOT_COUNT: Final = Reopening(
    number="6.7",
    when="bad news is refused for its power or its stage",
    why="doubt-refused",
    noted=False,
    stands="the refused call, as void",
    proof=(
        "test_rules.py::TestPower::test_bad_news_under_doubtful_power_leaves_nothing_good",
        "test_rules.py::TestPower::test_bad_news_out_of_order_leaves_nothing_good",
        "test_rules.py::test_a_lamp_named_dark_in_doubtful_power_leaves_no_earlier_good",
    ),
)
SEEN_SINCE: Final = Reopening(
    number="11.3",
    when="something that nobody has foreseen is called where it was good that nothing shows",
    why="doubt-seen-since",
    stands="that nothing shows is open",
    says=("outstanding",),
    proof=("test_darkness.py::test_what_is_seen_after_panel_dark_reopens_it",),
)
THROWN_SINCE: Final = Reopening(
    number="12.1",
    when="a throw of a switch is called after the switch was called back",
    why="doubt-thrown-since",
    stands="that the switch is back is open",
    says=("outstanding",),
    proof=(
        "test_putting_back.py::test_a_switch_thrown_again_is_to_be_put_back_again",
        "test_putting_back.py::test_a_throw_that_does_not_count_was_thrown_all_the_same",
    ),
)
DISREGARDED: Final = Reopening(
    number="6.9",
    when="the crew disregards a position: the selector was somewhere else, or nobody looked",
    why="doubt-disregarded",
    noted=False,
    stands="all its items are open; what was called bad there is kept as a finding",
    says=("position-disregarded",),
    proof=(
        "test_gaps.py::test_a_position_can_be_disregarded_whole",
        "test_gaps.py::test_a_finding_outlives_the_position_that_is_disregarded",
    ),
)
REOPENINGS: Final = (
    NOT_ANSWERED,
    HALF_HEARD,
    PERHAPS_ELSEWHERE,
    LEFT_REST,
    DOES_NOT_COUNT,
    DOUBTED_ONCE,
    DIFFERED,
    SEEN_SINCE,
    THROWN_SINCE,
    DISREGARDED,
)


def reopen(turn: Turn, item: Item, row: Reopening, **words: str) -> bool:
    """Let nothing stand about an item that stands as good; whether it did."""
    record = turn.record(item.id)
    if record.now is None or record.now.outcome is not Outcome.SATISFACTORY:
        return False
    why = turn.text(row.why, **words)
    turn.restore(item.id, Record(None, (*record.past, replace(record.now, withdrawn=why))))
    if row.noted:
        turn.note("withdrawn", item=item.id, called=record.now.called, reason=why)
    return True


def keep_finding(turn: Turn, item: Item, result: Result, row: Reopening, **words: str) -> None:
    """Write down as a finding what was called bad, though the item is open."""
    record = turn.record(item.id)
    kept = replace(result, reopened=turn.text(row.why, **words))
    turn.restore(item.id, Record(record.now, (*record.past, kept)))


def reopen_doubted(turn: Turn, key: str, row: Reopening) -> None:
    """Reopen the item about which a callout is bad news, and say that it is to be called again."""
    found = turn.checklist.read(key)
    if found is None:
        return
    item, reading = found
    if reading.grade is not Grade.GOOD and reopen(turn, item, row, call=reading.phrases[0]):
        turn.warn("outstanding", items=item.expected)


def reopen_rest(turn: Turn) -> None:
    """The selector leaves off: what was seen there must be seen again at the end."""
    reopen_all(turn, turn.checklist.positions[-1].items, LEFT_REST)


def reopen_all(turn: Turn, items: Iterable[Item], row: Reopening) -> None:
    """Let nothing stand about these; what was called bad is kept as a finding."""
    for item in items:
        record = turn.record(item.id)
        if record.now is None or reopen(turn, item, row):
            continue
        now, why = record.now, turn.text(row.why)
        bad = now.outcome is Outcome.UNSATISFACTORY
        old = replace(now, reopened=why) if bad else replace(now, withdrawn=why)
        turn.restore(item.id, Record(None, (*record.past, old)))
