"""Patterns, what they read, and what a network makes of words."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.errors import VoicecheckError
from voicecheck.meaning.automaton import Automaton
from voicecheck.meaning.network import NOTHING, Network, Ways
from voicecheck.meaning.pattern import (
    OneOf,
    Pattern,
    Row,
    Rule,
    Times,
    Word,
    parse,
    rules_in,
    words_in,
    written,
)
from voicecheck.meaning.spelling import Spelling

RULES = {"be": parse("is | 's"), "before": parse("(okay | and)*"), "after": parse("[now]")}


def patterns() -> st.SearchStrategy[Pattern]:
    words = st.sampled_from("abc").map(Word)

    def larger(inside: st.SearchStrategy[Pattern]) -> st.SearchStrategy[Pattern]:
        several = st.lists(inside, min_size=2, max_size=3).map(tuple)
        return several.map(Row) | several.map(OneOf) | inside.map(Times)

    return st.recursive(words | st.just(Rule("be")) | st.just(Row(())), larger, max_leaves=6)


def reads(pattern: Pattern, words: tuple[str, ...]) -> bool:
    """By trying every way to part the words: another account of what a pattern reads."""
    match pattern:
        case Word(text):
            return words == (text,)
        case Rule(name):
            return reads(RULES[name], words)
        case OneOf(parts):
            return any(reads(part, words) for part in parts)
        case Times(part):
            return not words or any(
                reads(part, words[:at]) and reads(pattern, words[at:])
                for at in range(1, len(words) + 1)
            )
        case Row(()):
            return not words
        case Row((first, *rest)):
            return any(
                reads(first, words[:at]) and reads(Row(tuple(rest)), words[at:])
                for at in range(len(words) + 1)
            )
    raise AssertionError(pattern)


@given(patterns(), st.lists(st.sampled_from([*"abc", "is"]), max_size=4).map(tuple))
def test_a_machine_reads_what_its_pattern_says(pattern: Pattern, words: tuple[str, ...]) -> None:
    machine = Automaton([("it", pattern)], RULES)
    assert bool(machine.ends(machine.read(words))) == reads(pattern, words)


@given(patterns())
def test_what_is_written_reads_alike(pattern: Pattern) -> None:
    again = parse(written(pattern).replace("<NULL>", "[ ]") or "[]")
    for words in product(("a", "b", "is"), repeat=2):
        assert reads(again, words) == reads(pattern, words)
    assert words_in(again, RULES) == words_in(pattern, RULES)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("(a | b", "'(' is not closed"),
        ("a ]", "']' closes nothing"),
        ("* a", "'*' repeats nothing"),
        ("a <b", "'<' stands for nothing"),
    ],
)
def test_a_pattern_that_is_none_is_told(text: str, problem: str) -> None:
    with pytest.raises(VoicecheckError) as told:
        parse(text)
    assert problem in str(told.value)
    assert "; write words" in str(told.value)


def test_labels_tell_which_pattern_ends() -> None:
    machine = Automaton([("one", parse("a [b]")), ("two", parse("a (b | c)"))], RULES)
    assert machine.ends(machine.read(("a", "b"))) == {"one", "two"}
    assert machine.ends(machine.read(("a", "c"))) == {"two"}
    assert machine.ends(machine.read(("c",))) == frozenset()
    assert set(machine.moves(machine.begin)) == {"a"}


HORN = Network(
    {
        "good": Ways(
            ("horn sounding",), (parse("horn <be> (loud | off)"),), "after", (parse("horn"),)
        ),
        "bad": Ways(("no horn",), (parse("horn [<be>] (dead | off)"),), "after", (parse("horn"),)),
        "lost": Ways(("crew's change",)),
    },
    RULES,
    spelling=Spelling(split=("'s",)),
)
ALL = ("good", "bad", "lost")


@pytest.mark.parametrize(
    ("text", "keys", "asked"),
    [
        ("horn sounding", {"good"}, False),
        ("Okay, and the... ", set(), False),
        ("okay and horn's loud now", {"good"}, False),
        ("horn is off", {"good", "bad"}, True),
        ("horn off", {"bad"}, False),
        ("horn", {"good", "bad"}, True),
        ("no horn", {"bad"}, False),
        ("horn not loud", set(), False),
        ("crew’s change", {"lost"}, False),
    ],
)
def test_words_have_their_meanings(text: str, keys: set[str], asked: bool) -> None:
    meant = HORN.meant(HORN.words(text), ALL)
    assert (meant.keys, meant.asked) == (keys, asked)
    assert meant.key == (next(iter(keys)) if len(keys) == 1 and not asked else None)


def test_only_what_can_be_said_now_is_meant() -> None:
    assert HORN.meant(("horn", "is", "off"), ["good"]).key == "good"
    assert HORN.meant(("horn", "is", "off"), ["elsewhere"]) == NOTHING


def test_a_bare_name_is_never_a_result() -> None:
    """Not even where one thing alone can be said of it."""
    meant = HORN.meant(("horn",), ["good"])
    assert meant.asked
    assert meant.key is None


def test_rules_are_named_once_in_jsgf() -> None:
    text = HORN.jsgf(ALL, "wide")
    assert text.count("<be> =") == 1
    assert "<wide> = <before> (" in text
    assert rules_in(HORN.wide("good")) == {"after", "be"}
    assert HORN.vocabulary(["good"]) == {
        "horn",
        "sounding",
        "is",
        "'s",
        "loud",
        "off",
        "okay",
        "and",
        "now",
    }


def test_what_needs_a_missing_word_is_left_out_of_jsgf() -> None:
    text = HORN.jsgf(ALL, "wide", {"loud", "dead", "'s"})
    assert "loud" not in text
    assert "dead" not in text
    assert "<be> = (is);" in text
    assert HORN.jsgf(ALL, "wide", {"horn"}) == ""
    assert HORN.jsgf(["lost"], "wide") == ""


@given(st.lists(patterns(), min_size=1, max_size=3))
def test_a_cover_has_every_two_words_that_may_follow_one_another(made: list[Pattern]) -> None:
    network = Network({str(at): Ways((), (p,)) for at, p in enumerate(made)}, RULES)
    machine = network.together(network.ways)
    pairs: set[tuple[str, str]] = set()
    for text in network.cover(network.ways):
        words = text.split()
        assert machine.ends(machine.read(words))
        pairs |= set(pairwise(("<", *words, ">")))
    for words in product(("okay", "a", "is", "now"), repeat=3):
        if machine.ends(machine.read(words)):
            assert set(pairwise(("<", *words, ">"))) <= pairs
