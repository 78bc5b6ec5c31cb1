from __future__ import annotations

import json
from pathlib import Path

import pytest

from voicecheck.errors import VoicecheckError
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.vosk_listener import VoskListener, grammar_json, model_fault

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


def test_no_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="no such folder"):
        VoskListener(tmp_path / "none", LEXICON)
