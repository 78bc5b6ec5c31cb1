"""A small corpus from end to end: made, listened to, calibrated on, compared."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from fleet import FLEET, loaded
from typer.testing import CliRunner

from voicecheck.callouts import Stakes
from voicecheck.cli import app
from voicecheck.cli.measure_hearing import keeper
from voicecheck.errors import VoicecheckError
from voicecheck.measure import make_corpus
from voicecheck.measure.calibrate import written
from voicecheck.measure.corpus import chosen
from voicecheck.measure.make_corpus import Plan, Size, make_part, write_manifest
from voicecheck.measure.manifest import Line, read_manifest
from voicecheck.measure.offered import states_of
from voicecheck.measure.outside_speech import CHATTER
from voicecheck.speech.calibration import ADAPTER, packaged, read_calibrations
from voicecheck.speech.grammar import Grammar
from voicecheck.world.synthesis import Talker
from voicecheck.world.talkers import CALIBRATION, TEST

TALKERS = (Talker("espeak-ng", "en-gb", 0.9), Talker("flite", "slt"))
SIZE = Size(
    {"callout": 2, "near_miss": 1, "opposite": 1, "chatter": 1, "other_state": 1},
    ("clean", "5 dB"),
    noise_hours=4 / 3600,
)


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("corpus")
    plan = Plan("test", TALKERS, {("tarn-40", "ZZ-HAC"): loaded("ZZ-HAC")}, SIZE, 1)
    return write_manifest(make_part(plan, folder, lambda _: None), folder)


def run(*arguments: str) -> Any:
    result = CliRunner().invoke(app, ["measure", *arguments])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_every_state_has_the_callouts_of_an_engine() -> None:
    for registration in FLEET:
        states = states_of(loaded(registration).checklist)
        names = [state.name for state in states]
        assert len(set(names)) == len(names)
        assert {"between", "held", "abandoning"} <= set(names)
        assert all(state.callouts for state in states)
        for position in loaded(registration).checklist.positions:
            asked = next(s for s in states if s.name == f"at {position.id} asked")
            keys = {c.key for c in asked.callouts}
            assert {"command:affirm", "command:negative"} <= keys
            at = next(s for s in states if s.name == f"at {position.id}")
            for item in position.items:
                assert {reading.key for reading in item.readings} <= {c.key for c in at.callouts}
    timed = [s for s in states_of(loaded("ZZ-HAC").checklist) if " after " in s.name]
    assert timed, "the lamp that must go out can be called at the next position"


def test_callouts_are_printed_for_programs_and_people() -> None:
    result = CliRunner().invoke(
        app, ["measure", "callouts", "tarn-40", "--airframe", "ZZ-HAA", "--json"]
    )
    rows = json.loads(result.stdout)
    expected = [state.as_json() for state in states_of(loaded("ZZ-HAA").checklist)]
    assert rows == expected
    shown = CliRunner().invoke(app, ["measure", "callouts", "tarn-40", "--airframe", "ZZ-HAA"])
    assert "three green" in shown.stdout


def test_no_talker_is_in_both_parts() -> None:
    assert not {(t.engine, t.voice) for t in CALIBRATION} & {(t.engine, t.voice) for t in TEST}
    persons = {"kal": CALIBRATION, "slt": TEST}  # one recorded person, two engines
    for person, part in persons.items():
        other = TEST if part is CALIBRATION else CALIBRATION
        assert not [t for t in other if person in t.voice]


def test_the_corpus_says_what_its_manifest_says(corpus: Path) -> None:
    lines = [line for _, line in read_manifest(corpus)]
    speech = [line for line in lines if line.kind != "noise"]
    assert len(speech) == len(TALKERS) * 6 * 2
    known = set(loaded("ZZ-HAC").language.speech.chatter)
    assert not known & {text.lower() for text in CHATTER}
    states = {s.name: s for s in states_of(loaded("ZZ-HAC").checklist)}
    for line in speech:
        assert line.text is not None
        grammar = Grammar(states[line.state].callouts)
        readable = grammar.read(line.text.lower().split()) is not None
        assert readable == (line.said is not None)
        assert line.kind != "callout" or line.said == line.text
    pairs: dict[tuple[str, str | None], set[str]] = {}
    for line in speech:
        pairs.setdefault((line.voice, line.text), set()).add(line.noise)
    assert all(noises == {"clean", "5 dB"} for noises in pairs.values())


def test_the_same_seed_makes_the_same_corpus(corpus: Path, tmp_path: Path) -> None:
    size = Size({"callout": 1}, ("5 dB",))
    plan = Plan("test", TALKERS[:1], {("tarn-40", "ZZ-HAC"): loaded("ZZ-HAC")}, size, 7)
    one, two = (make_part(plan, tmp_path / name, lambda _: None) for name in "ab")
    assert one == two
    sounds = [(tmp_path / name / one[0].audio).read_bytes() for name in "ab"]
    assert sounds[0] == sounds[1]


def test_the_dear_part_is_about_what_closes_as_good(tmp_path: Path) -> None:
    size = Size({}, ("clean",), good={"callout": 2, "near_miss": 3, "opposite": 2})
    airframe = loaded("ZZ-HAC")
    plan = Plan("test", TALKERS[:1], {("tarn-40", "ZZ-HAC"): airframe}, size, 7)
    lines = make_part(plan, tmp_path, lambda _: None)
    assert len(lines) == 7
    assert {line.aim for line in lines} == {"good"}
    states = {state.name: state for state in states_of(airframe.checklist)}
    for line in lines:
        grammar = Grammar(states[line.state].callouts, airframe.language.speech.joiners)
        good = [c for c in states[line.state].callouts if c.stakes is Stakes.CLOSES_GOOD]
        assert good
        if line.kind == "callout":
            assert line.said is not None
            read = grammar.read(line.said.split())
            assert read is not None
            assert read[0].callout in good
        elif line.kind != "opposite":
            assert line.text is not None
            said = set(line.text.split())
            assert any(len(said & set(phrase.split())) for c in good for phrase in c.phrases)
    plain = make_part(replace(plan, size=Size({"callout": 2}, ("clean",))), tmp_path, print)
    assert {line.aim for line in plain} == {"any"}


def test_a_kind_that_no_state_has_is_told_and_not_looked_for_without_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(make_corpus, "opposites", lambda *_: [])  # a language without swaps
    airframes = {("tarn-40", "ZZ-HAA"): loaded("ZZ-HAA")}
    plan = Plan("test", TEST[:1], airframes, Size({"opposite": 1}), seed=1)
    with pytest.raises(VoicecheckError, match="kind 'opposite' can be made of tarn-40:ZZ-HAA;"):
        make_part(plan, tmp_path, lambda _: None)


def test_corpus_through_both_listeners(corpus: Path, tmp_path: Path) -> None:
    out = tmp_path / "trials.jsonl"
    result = run("corpus", str(corpus), "--noise", "clean", "--trials", str(out), "--json")
    titles = [table["title"] for table in result["measurements"]]
    assert titles[:2] == ["Callouts by noise", "Acted on though it was not said"]
    trials = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert len(trials) == len(TALKERS) * 6
    counted = result["measurements"][1]["rows"]
    acted = sum(t["outcome"] in ("acted on", "wrong") for t in trials)
    assert sum(row["acted on"] for row in counted) == acted
    latency = next(t for t in result["measurements"] if t["title"] == "After the end of speech")
    # A verdict cannot come before the silence that ends an utterance.
    assert 200 < latency["rows"][0]["waiting, ms median"] < 1000


def test_noise_alone_is_left_alone(corpus: Path) -> None:
    result = run("corpus", str(corpus), "--noise", "propeller alone", "--json")
    (table,) = [t for t in result["measurements"] if t["title"] == "Noise alone"]
    assert table["rows"][-1]["acted on"] == 0


def test_nothing_chosen_is_told(corpus: Path) -> None:
    def never(line: Line) -> bool:
        return False

    with pytest.raises(VoicecheckError, match="no line is left"):
        chosen(corpus, never)


def test_a_calibration_for_every_set_of_listeners(corpus: Path, tmp_path: Path) -> None:
    out = tmp_path / "calibration.json"
    command = ["measure", "calibrate", str(out), str(corpus), "--part", "test", "--noise", "clean"]
    result = CliRunner().invoke(app, command)
    assert result.exit_code == 0, result.output
    made = ADAPTER.validate_json(out.read_bytes())
    # Without --own-listener the sets in which our own leads are not fitted.
    assert set(made.listeners) == {name for name in packaged() if "phones" not in name}
    for listeners, calibration in made.listeners.items():
        assert set(calibration.weights) == set(packaged()[listeners].weights)
    assert made.made["recordings"] == str(len(TALKERS) * 6)


def test_sets_that_are_not_fitted_now_can_be_kept(corpus: Path, tmp_path: Path) -> None:
    earlier = tmp_path / "earlier.json"
    tasks = chosen(corpus, lambda line: line.noise == "clean")
    earlier.write_text(written(dict(packaged()), tasks, "all"), encoding="utf-8")
    kept = read_calibrations(earlier)
    assert kept == packaged()
    other = replace(kept["moonshine"], ask=0.25)
    text = written({"moonshine": other}, tasks, "one", kept)
    made = ADAPTER.validate_json(text)
    assert made.listeners == {**packaged(), "moonshine": other}
    assert "grammar+whisper" in made.made["kept from an earlier calibration"]
    assert "moonshine" not in made.made["kept from an earlier calibration"].split(", ")
    earlier.write_text("{}", encoding="utf-8")
    with pytest.raises(VoicecheckError, match="not a calibration file"):
        read_calibrations(earlier)
    with pytest.raises(VoicecheckError, match="cannot be read"):
        read_calibrations(tmp_path / "none.json")


def test_an_aim_that_is_none_is_told() -> None:
    with pytest.raises(VoicecheckError, match="choose any or good"):
        keeper("all", None, "bad")


def test_peers_hear_the_same_utterances(corpus: Path, tmp_path: Path) -> None:
    lines = [line for _, line in read_manifest(corpus) if line.noise == "clean"]
    few = [line for line in lines if line.kind in ("callout", "chatter")][:4]
    short = corpus.parent / "few.jsonl"
    short.write_text("".join(line.model_dump_json() + "\n" for line in few), encoding="utf-8")
    picture = tmp_path / "peers.png"
    result = run("peers", str(short), "--picture", str(picture), "--json")
    (table,) = result["measurements"]
    names = [row["listener"] for row in table["rows"]]
    assert len(names) == 9
    assert picture.stat().st_size > 1000
