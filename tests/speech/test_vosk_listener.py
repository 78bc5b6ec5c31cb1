from __future__ import annotations

import json
from pathlib import Path

import pytest

from voicecheck.errors import VoicecheckError
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.vosk_listener import VoskListener, grammar_json
from voicecheck.speech.vosk_model import find_model, model_fault, model_folders

LEXICON = Lexicon({}, ("and",), (), (), ())


def test_the_grammar_is_a_json_list_in_plain_letters() -> None:
    text = grammar_json(["zwei grün", "baş", "zwei grün"])
    assert json.loads(text) == ["baş", "zwei grün"]
    assert "\\u" not in text


@pytest.mark.parametrize("phrases", [[], [""], ["  "]])
def test_an_empty_grammar_never_reaches_the_native_code(phrases: list[str]) -> None:
    with pytest.raises(ValueError, match="at least one phrase"):
        grammar_json(phrases)


@pytest.mark.parametrize(
    ("files", "fault"),
    [
        ([], "acoustic model"),
        (["am/final.mdl"], "feature settings"),
        (["am/final.mdl", "conf/mfcc.conf"], "look-ahead graph"),
        (["am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst"], "word graph"),
    ],
)
def test_a_folder_that_would_end_the_process_is_named_first(
    tmp_path: Path, files: list[str], fault: str
) -> None:
    for name in files:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("x")
    assert fault in (model_fault(tmp_path) or "")
    with pytest.raises(VoicecheckError, match=fault):
        VoskListener(tmp_path, LEXICON)


def test_a_model_is_found_by_name_and_nothing_is_fetched(tmp_path: Path) -> None:
    place, other = tmp_path / "models", tmp_path / "none"
    (place / "vosk-model-xx-1.0").mkdir(parents=True)
    found = find_model(Path("vosk-model-xx-1.0"), [other, place])
    assert found == place / "vosk-model-xx-1.0"
    with pytest.raises(VoicecheckError) as told:
        find_model(Path("vosk-model-yy"), [other, place])
    text = str(told.value)
    assert str(other) in text
    assert str(place) in text
    assert "there are: vosk-model-xx-1.0" in text
    assert "fetches nothing" in text
    with pytest.raises(VoicecheckError, match="they hold no model"):
        find_model(Path("vosk-model-yy"), [other])


def test_the_usual_places_are_those_of_vosk(tmp_path: Path) -> None:
    """vosk/__init__.py 0.3.45, MODEL_DIRS: VOSK_MODEL_PATH, /usr/share/vosk, ~/.cache/vosk."""
    places = model_folders({"VOSK_MODEL_PATH": str(tmp_path)})
    assert places[0] == tmp_path
    assert {Path("/usr/share/vosk"), Path.home() / ".cache" / "vosk"} < set(places)
    assert len(model_folders({})) == 2


def test_a_model_that_ends_the_native_code_ends_no_session(tmp_path: Path) -> None:
    """The files are there and hold nonsense: the child fails, and that is told."""
    for name in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("nonsense")
    with pytest.raises(VoicecheckError, match="cannot read this model"):
        VoskListener(tmp_path, LEXICON)


def test_no_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="no such folder"):
        VoskListener(tmp_path / "none", LEXICON)
