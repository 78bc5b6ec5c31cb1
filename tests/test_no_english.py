"""What people read comes from the grammars: no English sentence in the rooms that they meet.

A text of two or more words in a row is taken for a sentence, unless it is

- a docstring, the message of an error, advice on a checklist, a description of a setting: these
  are for whoever writes files and starts programs, and may be English;
- an identifier of the record that has two words (`IDENTIFIERS`);
- in a place listed in `EXEMPT`, with its reason.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from voicecheck.engine.item_call import Scene

PACKAGE = Path(__file__).parents[1] / "voicecheck"
ROOMS = ("checklist", "display", "language", "logbook", "proofreading", "session")
SENTENCE = re.compile(r"[A-Za-z]{2,}[,;:]? [a-z]{2,}")
FOR_WRITERS = re.compile(
    r"Error$|^(Advice|Field|JournalInUse|DatabaseAway|VoiceUnavailable|_unknown|_item"
    r"|CallRule|Reopening|Voiding|Undoing)$"
)
"""Calls whose texts go to whoever made a mistake, writes a checklist, or reads docs/rules.md."""
IDENTIFIERS = {
    "not fitted", "not tested", "too close to call", "goes out", "falls silent", "sounds on",
}  # fmt: skip
EXEMPT = {
    "checklist/blank.py": "the first file of an English checklist, for its writer",
    "checklist/lint.py": "advice",
    "checklist/loader.py": "what is wrong with the options",
    "checklist/model.py": "what a field may hold",
    "checklist/resolve.py": "errors in two pieces",
    "checklist/wordings.py": "advice",
    "display/guard.py": "refusals to a program that is no page of ours",
    "display/proofs.py": "why a line was closed, for the log of a browser",
    "display/reviewing.py": "refusals to a program that is no page of ours",
    "display/server.py": "refusals, and why a line was closed",
    "display/telling.py": "a style",
    "display/terminal.py": "a style sheet",
    "language/prompts.py": "errors in a grammar",
    "logbook/crew.py": "what is wrong with a spoilt record",
    "logbook/drawing.py": "markup",
    "logbook/integrity.py": "what is wrong with a spoilt record",
    "logbook/sessions.py": "what is wrong with a spoilt record",
    "logbook/store/audit.py": "what is wrong with a spoilt logbook",
    "logbook/store/database.py": "SQL",
    "logbook/store/delivery.py": "what is wrong with a folder",
    "logbook/store/ledger.py": "what is wrong with a spoilt logbook",
    "logbook/store/migrations/versions/0001_first.py": "SQL",
    "logbook/store/migrations/versions/0002_lamps.py": "SQL",
    "logbook/store/posting.py": "what filing did, for its program",
    "logbook/store/reading.py": "the end of an error",
    "proofreading/advised.py": "advice",
    "proofreading/pronouncing.py": "advice",
    "proofreading/soundalike.py": "advice",
    "session/dating.py": "what is wrong with a date",
    "session/replay.py": "the remedy of an error",
    "session/settings.py": "the head of a file for its writer",
}


def text_of(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
        )
    return None


def sentences(node: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and text of every sentence that is not for writers."""
    if isinstance(node, ast.Raise) or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ):
        return
    if isinstance(node, ast.Call):
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        name = node.func.id if isinstance(node.func, ast.Name) else name
        if FOR_WRITERS.search(name):
            return
    text = text_of(node)
    if text is not None and SENTENCE.search(text) and text not in IDENTIFIERS:
        assert isinstance(node, ast.expr)
        yield node.lineno, text
        return
    for child in ast.iter_child_nodes(node):
        yield from sentences(child)


def found_in(room: str) -> dict[str, list[tuple[int, str]]]:
    found = {}
    for path in sorted((PACKAGE / room).rglob("*.py")):
        if told := list(sentences(ast.parse(path.read_text("utf-8")))):
            found[path.relative_to(PACKAGE).as_posix()] = told
    return found


@pytest.mark.parametrize("room", ROOMS)
def test_no_english_sentence_reaches_people(room: str) -> None:
    found = found_in(room)
    assert {file: told for file, told in found.items() if file not in EXEMPT} == {}


def test_every_exemption_is_needed() -> None:
    assert set(EXEMPT) == {file for room in ROOMS for file in found_in(room)}


def test_the_engine_words_nothing() -> None:
    verdicts = re.compile(
        r"^(did not go out|went out before the selector left|not started|not called by the deadline"
        r"|still lit|not fitted|not tested)$"
    )
    scenes = {scene.value for scene in Scene}  # headings of docs/rules.md, as the rows are
    told = {text for texts in found_in("engine").values() for _, text in texts} - scenes
    assert [text for text in told if not verdicts.match(text)] == []


def test_scripts_and_pages_have_no_words_of_their_own() -> None:
    quoted = re.compile(r"""["'`](?=[^"'`\n]*[A-Za-z]{2,} [a-z]{2,})[^"'`\n]*["'`]""")
    for path in sorted((PACKAGE / "display" / "static").glob("*.js")):
        code = re.sub(r"(?m)//.*$", "", path.read_text("utf-8")).replace('"use strict";', "")
        told = [text for text in quoted.findall(code) if "${" not in text and "(" not in text]
        assert [text for text in told if not re.match(r'"(answers|item|#\w+) ', text)] == []
    for folder in ("display", "logbook"):
        for path in sorted((PACKAGE / folder / "templates").glob("*.j2")):
            page = re.sub(r"(?s){[{%#].*?[}%#]}|<style.*?</style>", "", path.read_text("utf-8"))
            shown = re.findall(r">([^<]*)<|(?:aria-label|title|alt)=\"([^\"]*)\"", page)
            assert [
                text
                for pair in shown
                for text in pair
                if re.search("[A-Za-z]{3}", text.replace("voicecheck", ""))
            ] == []


def test_a_sentence_is_noticed() -> None:
    assert list(sentences(ast.parse('told = f"lost for {n} minutes now"')))
    assert list(sentences(ast.parse("say(reason='not sure of it')")))
    assert not list(sentences(ast.parse('raise VoicecheckError("not sure of it")')))
    assert not list(sentences(ast.parse('def f():\n    "Not sure of it."')))
