"""The proofs against every wording tried out one by one."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from voicecheck.meaning.automaton import Automaton
from voicecheck.meaning.pattern import OneOf, Pattern, Row, Word, parse
from voicecheck.meaning.proof import lost, shared

WORDS = "abc"
LONGEST = 4


def finite() -> st.SearchStrategy[Pattern]:
    """Patterns of four words at most."""
    word = st.sampled_from(WORDS).map(Word)
    row = st.lists(word, max_size=LONGEST).map(lambda words: Row(tuple(words)))
    return st.lists(row, min_size=1, max_size=4).map(lambda rows: OneOf(tuple(rows)))


def said(machine: Automaton) -> dict[tuple[str, ...], frozenset[str]]:
    """Every wording that it reads, and whose it is."""
    every = (w for n in range(LONGEST + 1) for w in product(WORDS, repeat=n))
    found = {words: machine.ends(machine.read(words)) for words in every}
    return {words: keys for words, keys in found.items() if keys}


@given(finite(), finite(), finite())
def test_each_shared_wording_is_found(one: Pattern, two: Pattern, three: Pattern) -> None:
    machine = Automaton((("one", one), ("two", two), ("three", three)), {})
    every = said(machine)
    found = list(shared(machine, machine))
    assert {f.keys for f in found} == {keys for keys in every.values() if len(keys) > 1}
    for each in found:
        assert every[each.words] == each.keys
        assert len(each.words) == min(len(w) for w, keys in every.items() if keys == each.keys)


@given(finite(), finite(), finite())
def test_two_machines_share_what_one_of_both_would(
    one: Pattern, two: Pattern, three: Pattern
) -> None:
    left = Automaton((("one", one), ("two", two)), {})
    right = Automaton((("three", three),), {})
    ours, theirs = said(left), said(right)
    wanted = {ours[words] | theirs[words] for words in ours.keys() & theirs.keys()}
    assert {f.keys for f in shared(left, right)} == wanted


@given(finite(), finite())
def test_each_word_that_may_be_lost_is_found(good: Pattern, bad: Pattern) -> None:
    machine = Automaton((("good", good), ("bad", bad)), {})
    every = said(machine)
    found = list(lost(machine, machine, {"good"}))
    wanted = any(
        "good" in every.get(words[:at] + words[at + 1 :], ())
        for words, keys in every.items()
        if "bad" in keys
        for at in range(len(words))
    )
    assert bool(found) == wanted
    for each in found:
        assert (each.said, each.taken) == ("bad", "good")
        assert "bad" in every[each.words]
        assert "good" in every[each.heard]


def test_a_lost_not_is_told() -> None:
    labelled = (("good", parse("horn [is] sounding")), ("bad", parse("horn (is not | isn't) on")))
    assert list(lost(*[Automaton(labelled, {})] * 2, {"good"})) == []
    labelled = (("good", parse("horn [is] on")), labelled[1])
    (found,) = lost(*[Automaton(labelled, {})] * 2, {"good"})
    assert found.words == ("horn", "isn't", "on")
    assert found.heard == ("horn", "on")
