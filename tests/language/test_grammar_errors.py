"""Grammar files: what cannot be spoken is refused at the start, with file, line and remedy."""

from __future__ import annotations

import ast
import shutil
from pathlib import Path

import pytest

from voicecheck import engine
from voicecheck.errors import InputError
from voicecheck.language import load_language
from voicecheck.language.prompts import PROMPTS
from voicecheck.shipped import grammars_dir

WHICH_DARK = '  which-dark: "{words}. Which one is dark?"\n'


@pytest.mark.parametrize(
    ("file", "old", "new", "problem", "remedy"),
    [
        ("callouts", '["{call} illuminated"]', '["{cal} on"]', "no slot 'cal'", "{call}"),
        ("callouts", '["{call} illuminated"]', '["{call on"]', "expected '}'", "{call}"),
        ("callouts", '["{call} illuminated"]', "[]", "nothing is written in it", "one wording"),
        ("callouts", '["{call} illuminated"]', '[" "]', "nothing is written in it", "one wording"),
        ("callouts", '["selector off"]', '["{call} off"]', "no slot 'call'", "without { and }"),
        ("callouts", 'both: both\n', "", "'both' is missing", "add"),
        ("callouts", "out {lower} to", "out {low} to", "no slot 'low'", "{lower}, {upper}"),
        ("callouts", "schema: 1", "schema: 2", "schema: must be 1", ""),
        ("commands", "negative: [negative]", "negative: []", "nothing is written in it", "one"),
        ("prompts", WHICH_DARK, "", "the prompt 'which-dark' has no words", "add 'which-dark:"),
        ("prompts", "{words}. Which", "{word}. Which", "no slot 'word'", "{words}"),
        ("prompts", "{words}. Which", "{}. Which", "no slot ''", "{words}"),
        ("prompts", "{words}. Which", "{words:d}. Which", "more than a name", "{words}"),
        ("prompts", "{words}. Which", "{words!r}. Which", "more than a name", "{words}"),
        ("prompts", "{words}. Which", "{words. Which", "expected '}'", "{words}"),
        ("prompts", "  which-dark", "  whichdark: a\n  which-dark", "no prompt 'which", "remove"),
        ("prompts", '  begin: "{registration}."', '  begin: "{airframe}."', "no slot", "{title}"),
        ("prompts", "{listed}, and {n} more", "{listed", "'more': expected '}'", "{listed}, {n}"),
        ("sayings", 'playing: "on"', 'playing: "<loud>"', "no rule <loud>", "known are: "),
        ("sayings", 'playing: "on"', 'playing: "(on"', "'(' is not closed", "write words"),
        ("sayings", 'playing: "on"', 'playing: "<rings>"', "asks for itself", "use *"),
        ("sayings", "  playing:", "  colour: a\n  playing:", "is made elsewhere", "otherwise"),
        ("sayings", "  goes-out:", "  go-out:", "no meaning 'go-out'", "goes-out"),
        ("sayings", "  affirm:", "  afirm:", "no command 'afirm'", "affirm"),
        ("sayings", 'bare: "<the> <it>"', 'bare: "<n> <it>"', "no rule <n>", "the"),
        ("prompts", "{listed}, and {n} more", "{listed}", "lacks a slot", "use {listed} and {n}"),
    ],
)  # fmt: skip
def test_a_grammar_that_would_fail_within_a_session(
    tmp_path: Path, file: str, old: str, new: str, problem: str, remedy: str
) -> None:
    shutil.copytree(grammars_dir() / "en", tmp_path / "en")
    path = tmp_path / "en" / f"{file}.yaml"
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError) as caught:
        load_language(tmp_path / "en")
    assert caught.value.place.file == str(path)
    assert caught.value.place.line is not None
    assert problem in caught.value.problem
    assert remedy in caught.value.remedy


def test_what_the_engine_says_and_the_slots_it_fills_are_known() -> None:
    """Read from the engine's own text: turn.say("ack", words=...) and its like."""
    said: dict[str, tuple[str, ...]] = {}
    for path in Path(engine.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            match node:
                case ast.Call(
                    func=ast.Attribute(attr="say" | "insist" | "warn"),
                    args=[ast.Constant(value=str(prompt))],
                ) if all(word.arg for word in node.keywords):
                    said[prompt] = tuple(sorted(str(word.arg) for word in node.keywords))
    assert len(said) > 30
    assert said.pop("preamble") == ()
    assert said == {prompt: tuple(sorted(PROMPTS[prompt])) for prompt in said}
