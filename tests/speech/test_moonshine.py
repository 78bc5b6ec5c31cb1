"""The Moonshine scorer against its makers' own tokens and a person's recorded voice."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import onnxruntime
import pytest
import soundfile

from voicecheck.errors import VoicecheckError
from voicecheck.speech.moonshine import TOKENS, MoonshineScorer, load_moonshine
from voicecheck.speech.moonshine_graph import readable, taken_apart
from voicecheck.speech.moonshine_weights import checked, packaged_moonshine
from voicecheck.speech.sentence_pieces import read_pieces
from voicecheck.world.synthesis import Talker


@pytest.fixture(scope="module")
def folder() -> Path:
    found = packaged_moonshine()
    assert found is not None, "the test set-up installs the packaged weights"
    return found


@pytest.fixture(scope="module")
def scorer(folder: Path) -> MoonshineScorer:
    return load_moonshine(checked(folder).resolve())


# Source: encodings by tokenizer.json of the package useful-moonshine-onnx 20251121 (its makers'
# own, read with the tokenizers library), without the beginning of the text.
PUBLISHED = {
    "Three green and horn sounding.": [12753, 7933, 322, 25341, 6047, 292, 29889],
    "Bleed leak captions dark.": [24718, 287, 24993, 5777, 1980, 6501, 29889],
    "Zürich 12": [24931, 29871, 29896, 29906],
}


def test_texts_are_split_as_the_makers_split_them(folder: Path) -> None:
    pieces = read_pieces(folder / TOKENS)
    for text, numbers in PUBLISHED.items():
        assert pieces.encode(text) == numbers
        assert pieces.decode(numbers) == text


def test_the_decoder_taken_apart_is_the_published_one(folder: Path) -> None:
    """Source: the published decoder itself, run whole by ONNX Runtime, without its cache."""
    chance = np.random.default_rng(5)
    sound = chance.standard_normal((1, 40, 416)).astype(np.float32)
    tokens = np.array([[1, 12753, 7933, 2], [1, 24718, 287, 24993]])
    published = onnxruntime.InferenceSession(str(folder / "decoder_model_merged.ort"))
    empty = {
        i.name: np.zeros((0, i.shape[1], 1, i.shape[3]), np.float32)
        for i in published.get_inputs()
        if i.name.startswith("past_key_values")
    }
    batch = {"encoder_hidden_states": sound.repeat(2, axis=0), "input_ids": tokens}
    (expected,) = published.run(
        ["logits"], {**batch, "use_cache_branch": np.array([False]), **empty}
    )
    parts = taken_apart(readable(folder / "decoder_model_merged.ort"))
    keys, texts = (onnxruntime.InferenceSession(part) for part in (parts.keys, parts.texts))
    between = dict(
        zip(
            (o.name for o in keys.get_outputs()),
            keys.run(None, {"encoder_hidden_states": sound}),
            strict=True,
        )
    )
    assert {value.shape[0] for value in between.values()} == {1}
    (found,) = texts.run(None, {"input_ids": tokens, **between})
    np.testing.assert_allclose(found, expected, atol=2e-3)


def test_a_model_that_is_built_otherwise_is_told(folder: Path, tmp_path: Path) -> None:
    """The encoder in the decoder's place: a sound file, but no merged decoder."""
    for name in ("encoder_model.ort", TOKENS):
        shutil.copy(folder / name, tmp_path)
    shutil.copy(folder / "encoder_model.ort", tmp_path / "decoder_model_merged.ort")
    with pytest.raises(VoicecheckError, match="its decoder is not a merged one"):
        MoonshineScorer(tmp_path)


def test_a_person_is_heard(folder: Path, scorer: MoonshineScorer) -> None:
    """Source: test-data/beckett.wav of the package moonshine-cpp 0.1.4, a person reading.

    The words are Samuel Beckett's, Worstward Ho (1983), and are known from memory.
    """
    samples, rate = soundfile.read(
        folder.parent.parent / "test-data" / "beckett.wav", dtype="int16"
    )
    assert rate == 16000
    scores = scorer.score(samples[: 5 * rate], lambda free: ["going to gear", "ever tried"])
    assert scores.free == "ever tried ever failed no matter"
    assert scores.ratio("going to gear") < -3
    assert scores.regret["going to gear"] > 20


def test_what_was_said_explains_the_sound_best(scorer: MoonshineScorer) -> None:
    samples = np.pad(Talker("espeak-ng", "en-us").say("left light out"), 4800)
    wrong = ["left light on", "right light out", "left light", "left light out and horn silent"]
    scores = scorer.score(samples, lambda free: [*wrong, "left light out"])
    assert scores.free == "left light out"
    assert scores.regret["left light out"] == pytest.approx(0, abs=1e-6)
    for text in wrong:
        assert scores.lead("left light out", text) > 3, text
        assert scores.regret[text] > 3, text
    assert scores.worst["left light out"] <= scores.per_token["left light out"] < 0


def test_free_text_that_is_not_proposed_is_scored_too(scorer: MoonshineScorer) -> None:
    samples = np.pad(Talker("flite", "slt").say("what is the weather in town"), 4800)
    asked: list[str] = []
    scores = scorer.score(samples, lambda free: asked.append(free) or ["horn sounding"])
    assert asked == ["", scores.free]
    assert "weather" in scores.free
    assert set(scores.per_token) == {"horn sounding", scores.free}
    assert scores.ratio("horn sounding") < -2


def test_a_click_and_nothing_to_say(scorer: MoonshineScorer) -> None:
    scores = scorer.score(np.zeros(10, np.int16), lambda free: [])
    assert scores.per_token.keys() <= {scores.free}


def test_a_folder_without_a_model_is_told(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="name a folder that holds a Moonshine model"):
        MoonshineScorer(tmp_path)


def test_broken_files_are_told(folder: Path, tmp_path: Path) -> None:
    shutil.copytree(folder, tmp_path / "model")
    broken = tmp_path / "model"
    (broken / "encoder_model.ort").write_bytes(b"broken")
    with pytest.raises(VoicecheckError, match="not a usable Moonshine model"):
        MoonshineScorer(broken)
    with pytest.raises(VoicecheckError, match="install moonshine-cpp"):
        checked(broken)
    (broken / TOKENS).write_bytes(b"\x05abc")
    with pytest.raises(VoicecheckError, match="not a list of a model's tokens"):
        read_pieces(broken / TOKENS)
    with pytest.raises(VoicecheckError, match="cannot be read"):
        read_pieces(tmp_path / "nothing")
