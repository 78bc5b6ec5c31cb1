"""What the scorer compares: never only what the grammar listener heard."""

from __future__ import annotations

from fleet import loaded

from voicecheck.measure.offered import states_of
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.listener import Hearing, Word
from voicecheck.speech.shortlist import shortlist, singular_reading

LEXICON = lexicon_of(loaded("ZZ-HAB").language)
STATE = next(s for s in states_of(loaded("ZZ-HAB").checklist) if s.name == "at fire-bravo")
GRAMMAR = Grammar(STATE.callouts, LEXICON.joiners)


def texts(heard: str, free: str = "") -> tuple[str, ...]:
    words = tuple(Word(word, 0.0, 0.0) for word in heard.split())
    return shortlist(Hearing(words, tuple(heard.split())), None, free, GRAMMAR, LEXICON)


def test_a_row_competes_with_its_opposites_joined_in_the_same_way() -> None:
    # A voice said "both ..." here and the grammar listener heard "no ...".
    found = texts("no fire lights and bell sounding")
    assert "both fire lights and bell sounding" in found
    assert "no fire lights" in found
    assert "bell sounding" in found
    assert len(found) == len(set(found))


def test_free_text_counts_whatever_its_plurals() -> None:
    said = "both fire lights and bell sounding"
    assert singular_reading("both fire lights and bells sounding", GRAMMAR) == said
    assert singular_reading("both wire lights", GRAMMAR) == ""
    assert said in texts("no bell", "both fire lights and bells sounding")


def test_opposites_of_what_was_heard_are_always_there() -> None:
    found = texts("battery powered up")
    assert "battery shut down" in texts("battery shut down")
    assert any(text.startswith("no battery") or "not" in text for text in found)
    assert {"bell not sounding", "no bell"} & set(texts("bell sounding"))


def test_a_row_that_was_heard_up_to_the_middle_of_a_callout_is_completed() -> None:
    # A decoder whose path to the end was lost: "both fire lights and bell not" of "... sounding".
    found = texts("both fire lights and bell not")
    assert "both fire lights and bell sounding" in found
    assert "both fire lights and bell not sounding" in found
    unread = [
        t for t in found if t.startswith("both fire lights and ") and not GRAMMAR.read(t.split())
    ]
    assert unread == ["both fire lights and bell not"]
    assert len(found) < 30
    # Nothing is put after what is whole, and nothing after a joiner alone.
    whole = [t for t in texts("both fire lights") if t.startswith("both fire lights ")]
    assert texts("both fire lights and") != ()
    assert not [t for t in whole if GRAMMAR.read(t.split()) is not None]
