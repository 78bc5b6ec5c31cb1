"""By ear, a wording that nobody taught closes nothing and moves nothing before a yes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from voicecheck.callouts import Callout, Stakes
from voicecheck.meaning.network import Network, Ways
from voicecheck.meaning.pattern import parse
from voicecheck.meaning.spelling import Spelling
from voicecheck.speech.endpoint import Utterance
from voicecheck.speech.evidence import Evidence
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.listener import Scores
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.speech.verdict import Accepted, Ignored, Spoken, Unclear, Verdict
from voicecheck.speech.wide import asked_about, heard_by, read_back_first

CALLOUTS = (
    Callout("horn:good", ("horn sounding",), Stakes.CLOSES_GOOD, True),
    Callout("horn:bad", ("no horn",), Stakes.RECORDS_BAD, True),
    Callout("bus:on", ("battery on",), Stakes.ADVANCES, True, asked=True),
)
RULES = {"be": parse("is | 's"), "before": parse("(okay | and)*")}
NETWORK = Network(
    {
        "horn:good": Ways(("horn sounding",), (parse("[the] horn <be> (loud | off)"),)),
        "horn:bad": Ways(("no horn",), (parse("[the] horn <be> (silent | off | zorbligated)"),)),
        "bus:on": Ways(("battery on",), (parse("battery <be> on"),)),
    },
    RULES,
    spelling=Spelling(split=("'s",)),
    listeners=("pocketsphinx",),
)
WIDE = Grammar(CALLOUTS, ("and",), NETWORK)
SOUND = np.zeros(16000, np.int16)
UTTERANCE = Utterance(SOUND, 10.0, 10.2, 10.9, 11.3, whole=True, voiced=True)


def accepted(key: str, words: str) -> Accepted:
    return Accepted((Spoken(key, words, 10.2, 10.9, 0.9),), 10.2, 10.9, 11.3)


def written(free: str) -> Evidence:
    return Evidence(UTTERANCE, None, Scores({}, {}, free))


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("horn sounding", ["horn:good"]),
        ("horn sounding and no horn", ["horn:good", "horn:bad"]),
        ("okay the horn 's loud", ["horn:good"]),
        ("okay the horn is silent", ["horn:bad"]),
        ("the horn 's off", None),
        ("horn 's loud and no horn", None),
    ],
)
def test_a_grammar_with_a_network_reads_more(text: str, keys: list[str] | None) -> None:
    parts = WIDE.read(text.split())
    assert (parts and [part.callout.key for part in parts]) == keys
    taught = Grammar(CALLOUTS).read(text.split())
    assert (taught is not None) == (text in ("horn sounding", "horn sounding and no horn"))


@pytest.mark.parametrize(
    ("key", "words", "acted"),
    [
        ("horn:good", "horn sounding", True),
        ("horn:good", "horn 's loud", False),
        ("horn:bad", "horn 's silent", True),
        ("bus:on", "battery 's on", True),  # the session asks about each bus anyway
    ],
)
def test_what_is_dear_waits_for_a_yes(key: str, words: str, acted: bool) -> None:
    before = accepted(key, words)
    after = read_back_first(before, WIDE)
    if acted:
        assert after == before
    else:
        assert isinstance(after, Unclear)
        assert after.guess == before.spoken


@pytest.mark.parametrize(
    ("free", "kind", "guess"),
    [
        ("Okay, the horn's loud.", Unclear, ("horn:good",)),
        ("the horn is silent", Unclear, ("horn:bad",)),
        ("the horn's off", Unclear, ()),
        ("the horn's nice", Ignored, None),
        ("", Ignored, None),
    ],
)
def test_what_the_scorer_writes_is_at_most_asked_about(
    free: str, kind: type, guess: tuple[str, ...] | None
) -> None:
    verdict = asked_about(Ignored(10.2, 10.9, 11.3, "-"), written(free), WIDE, NETWORK)
    assert isinstance(verdict, kind)
    if isinstance(verdict, Unclear):
        assert tuple(spoken.callout for spoken in verdict.guess) == guess


@pytest.mark.parametrize(
    "verdict",
    [
        accepted("horn:bad", "no horn"),
        Unclear(10.2, 10.9, 11.3, accepted("horn:bad", "no horn").spoken, "-"),
    ],
)
def test_a_verdict_that_has_a_callout_stays(verdict: Verdict) -> None:
    assert asked_about(verdict, written("the horn's loud"), WIDE, NETWORK) == verdict


def test_noise_asks_nothing() -> None:
    noise = replace(written("the horn's loud"), utterance=replace(UTTERANCE, voiced=False))
    ignored = Ignored(10.2, 10.9, 11.3, "-")
    assert asked_about(ignored, noise, WIDE, NETWORK) == ignored
    assert asked_about(ignored, replace(noise, scores=None), WIDE, NETWORK) == ignored


def test_only_a_listener_that_is_named_is_given_all() -> None:
    assert heard_by("pocketsphinx", NETWORK, CALLOUTS) is NETWORK
    assert heard_by("vosk (model)", NETWORK, CALLOUTS) is None
    assert heard_by("pocketsphinx", NETWORK, ()) is None


def test_pocketsphinx_takes_the_rules_without_what_it_cannot_say() -> None:
    listener = SphinxListener(Lexicon({"'s": ("Z",)}, ("and",), (), (), ()))
    text = WIDE.jsgf(missing=listener.missing)
    assert "<wide> = <before>" in text
    assert "zorbligated" not in text
    listener.listen(WIDE)  # raises where the decoder cannot take it
    assert listener.hear(SOUND).words == ()
