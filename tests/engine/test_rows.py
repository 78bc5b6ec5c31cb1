"""The rows of the rules: numbered once each, proven by tests that exist, and printed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rules_page import page
from voicecheck.engine import rules
from voicecheck.engine.item_call import Scene
from voicecheck.engine.row import Row
from voicecheck.engine.state import LastAct
from voicecheck.engine.taking_back import UNDOINGS
from voicecheck.language import load_language
from voicecheck.measure.lacking import ROWS
from voicecheck.shipped import grammars_dir

HERE = Path(__file__).parent
ALL = pytest.mark.parametrize("row", ROWS, ids=[row.number for row in ROWS])


def test_each_row_has_a_number_of_its_own_and_belongs_to_a_rule() -> None:
    numbers = [row.number for row in ROWS]
    assert len(set(numbers)) == len(numbers)
    listed = set(re.findall(r"^(\d+)\. ", rules.__doc__ or "", re.MULTILINE))
    assert {number.split(".")[0] for number in numbers} <= listed


@ALL
def test_what_proves_a_row_is_there(row: Row) -> None:
    """That each of them fails without its row was seen with WITHOUT_ROW (see conftest.py)."""
    assert row.proof, "a rule that no test proves"
    for proof in row.proof:
        file, name = proof.split("::", 1)
        text = (HERE / file).read_text("utf-8")
        if file == "test_dialogues.py":
            (dialogue,) = re.findall(r"\[(.+)\]", name)
            assert (HERE / "dialogues" / f"{dialogue}.txt").is_file()
        else:
            assert f"def {name.split('::')[-1]}(" in text


@ALL
def test_what_a_row_says_is_a_prompt_of_the_grammar(row: Row) -> None:
    prompts = load_language(grammars_dir() / "en").prompts
    assert set(row.says) <= set(prompts)


@pytest.mark.parametrize("scene", list(Scene))
def test_some_row_always_decides_a_call(scene: Scene) -> None:
    last = [rule for rule in rules.CALLS if scene in rule.of][-2:]
    names = {rule.holds.__name__ for rule in last}
    assert "_always" in names or names == {"_bad", "_good"}


def test_whatever_was_done_last_can_be_taken_back() -> None:
    assert {row.of for row in UNDOINGS} == set(LastAct.__args__)


def test_the_page_of_the_rules_is_current() -> None:
    written = (HERE.parents[1] / "docs" / "rules.md").read_text("utf-8")
    assert written == page(), "run make docs"
