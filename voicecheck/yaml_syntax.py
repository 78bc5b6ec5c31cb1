"""What is wrong with text that is no YAML, in the words of somebody who has never heard of it.

A parser names the place where it could not go on. The mistake is often a line before that, or in
the white space that nobody sees; this looks at the lines themselves.
"""

from __future__ import annotations

import re
import sys
from typing import Any, Final

import yaml

from voicecheck.errors import InputError, Place

_KEY: Final = re.compile(
    r"(?P<indent> *(?:- )*)(?P<key>[^\s:#\"'{}\[\],&*!|>%@`][^:#{}\[\]]*?):(?= |$)"
)
_GLUED: Final = re.compile(r"^ *(?:- )?([A-Za-z_]+):([^\s:/].*)$")
_ODD_SPACE: Final = re.compile(r"^[ \t]*([^\S \t\n])")
_SIGN: Final = re.compile(r"\\U([0-9A-Fa-f]{8})")
_SHOWN: Final = 50
"""Characters of somebody's text that a remedy repeats."""


def syntax_error(error: yaml.YAMLError, text: str, file: str) -> InputError:
    """The place, the problem and the remedy for what the parser would not read."""
    lines = text.splitlines()
    if not isinstance(error, yaml.MarkedYAMLError):
        return _character(error, text, file)
    mark: Any = error.problem_mark or error.context_mark
    if mark is None:
        return InputError(Place(file), f"not valid YAML: {error.problem}", "check the file's end")
    # What stands before the parser's place is looked at first: that is where hands slip.
    near = range(min(mark.line, len(lines) - 1), max(mark.line - 2, -1), -1)
    for look in (_tab, _space, _glued):
        for number in near:
            if found := look(lines[number]):
                column, problem, remedy = found
                place = Place(file, number + 1, column)
                return InputError(place, f"not valid YAML: {problem}", remedy)
    line, column, problem, remedy = _told(error, mark, lines)
    return InputError(Place(file, line + 1, column + 1), f"not valid YAML: {problem}", remedy)


def number_error(text: str, file: str) -> InputError:
    """For a number within the syntax itself that is beyond all bounds."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("%"):
            return InputError(
                Place(file, number, 1),
                "not valid YAML: a version that no YAML has",
                "remove the line that begins with %",
            )
        for sign in _SIGN.finditer(line):
            if int(sign[1], 16) > sys.maxunicode:
                return InputError(
                    Place(file, number, sign.start() + 1),
                    f"not valid YAML: {sign[0]} names no sign",
                    "write the sign itself",
                )
    return InputError(
        Place(file), "not valid YAML: a number beyond all bounds", "write it shorter, or in quotes"
    )


def _character(error: yaml.YAMLError, text: str, file: str) -> InputError:
    """A sign that no YAML may hold, such as a NUL."""
    at = getattr(error, "position", None)
    if not isinstance(at, int):
        problem = str(error).splitlines()[0]
        return InputError(Place(file), f"not valid YAML: {problem}", "save the file as plain text")
    before = text[:at]
    place = Place(file, before.count("\n") + 1, at - before.rfind("\n"))
    sign = f"U+{ord(text[at]):04X}" if at < len(text) else "a sign"
    return InputError(
        place, f"not valid YAML: {sign} is no printable sign", "remove it, or save as plain text"
    )


def _tab(line: str) -> tuple[int, str, str] | None:
    indent = line[: len(line) - len(line.lstrip())]
    if "\t" not in indent:
        return None
    return indent.index("\t") + 1, "a tab indents this line", "use spaces, not tabs, to indent"


def _space(line: str) -> tuple[int, str, str] | None:
    found = _ODD_SPACE.match(line)
    if found is None:
        return None
    return (
        found.start(1) + 1,
        f"the line begins with U+{ord(found[1]):04X}, which only looks like a space",
        "delete it and indent with the space bar",
    )


def _glued(line: str) -> tuple[int, str, str] | None:
    found = _GLUED.match(line)
    if found is None:
        return None
    return (
        found.start(2),
        f"no space after '{found[1]}:'",
        f"write '{found[1]}: {_short(found[2])}' with a space after the colon",
    )


def _told(error: yaml.MarkedYAMLError, mark: Any, lines: list[str]) -> tuple[int, int, str, str]:
    """Line and column from 0, problem and remedy, from what the parser says."""
    problem = error.problem or ""
    said = " ".join(filter(None, (problem, error.context)))
    context: Any = error.context_mark or mark
    line = _line(lines, mark)
    at = (mark.line, mark.column)
    if "mapping values are not allowed" in problem:
        return (*at, *_second_colon(line, mark.column, lines[: mark.line]))
    if (begun := _begun(problem, said, _line(lines, context), context.column)) is not None:
        return (context.line, context.column, *begun)
    if flow := re.search("flow (mapping|sequence)", said):
        return (*at, *_open_bracket(flow[1] == "sequence", context.line + 1))
    if "cannot start any token" in problem:
        return (*at, *_bad_start(line, mark.column))
    if re.search("anchor|alias", said):
        begun = _bad_start(_line(lines, context), context.column)
        return (context.line, context.column, *begun)
    if "another document" in problem:
        return (*at, "a second document begins here", "remove the '---'; one file, one checklist")
    if "document" in problem or "directive" in said:
        return (*at, problem, "remove the line that begins with %")
    if "expected <block end>" in problem:
        return (*at, *_column(line, mark, context))
    return (*at, problem, "check the indentation, colons and quotes near here")


def _line(lines: list[str], mark: Any) -> str:
    return lines[mark.line] if mark.line < len(lines) else ""


def _begun(problem: str, said: str, line: str, column: int) -> tuple[str, str] | None:
    """What is wrong with that which begins in a column of a line; None where it is not that."""
    if "could not find expected ':'" in problem:
        word = _short(line.split("#")[0].strip())
        return (
            f"no colon after '{word}'",
            f"write '{word}:', with a space before anything that follows it",
        )
    if "quoted scalar" in said:
        quote = line[column : column + 1] or '"'
        return (
            f"the {quote} here is not closed, or closed too early",
            f"put a {quote} at the end of the text, none within it",
        )
    return None


def _open_bracket(is_list: bool, opened_in: int) -> tuple[str, str]:
    closing, example = "}", "{key: value, key: value}"
    if is_list:
        closing, example = "]", "[words, more words]"
    return (
        f"a comma or the closing '{closing}' is missing before this (opened in line {opened_in})",
        f"write {example}",
    )


def _bad_start(line: str, column: int) -> tuple[str, str]:
    sign = line[column : column + 1] or "it"
    return f"text cannot begin with {sign} here", "put the text in quotes"


def _second_colon(line: str, column: int, before: list[str]) -> tuple[str, str]:
    first = _KEY.match(line)
    if first is not None and first.end() <= column:
        key, value = first["key"], line[first.end() :].split(" #")[0].strip()
        plain = value.replace('"', "'")
        return (
            f"a second ': ' in the text of '{key}'",
            f'put the text in quotes: {key}: "{_short(plain)}"',
        )
    key = first["key"] if first is not None else line.strip()
    above = next((text for text in reversed(before) if text.strip()), "")
    return (
        f"'{_short(key)}' cannot be indented under '{_short(above.strip())}'",
        "indent it like the keys that it belongs to, two spaces for each step, "
        "or put text that goes on in quotes",
    )


def _column(line: str, mark: Any, context: Any) -> tuple[str, str]:
    key = _KEY.match(line)
    found = key["key"] if key is not None else line.strip()
    if line[mark.column : mark.column + 2] == "- ":
        return (
            "this '- ' is not in the column of the list that it belongs to",
            "check the indentation: every '- ' of a list starts in the same column",
        )
    if context.column == mark.column:
        return (
            f"'{_short(found)}' does not belong here",
            "write either 'key: value' lines or '- ' lines in one place, not both",
        )
    return (
        f"'{_short(found)}' stands in column {mark.column + 1}, but what it belongs to "
        f"in column {context.column + 1} (line {context.line + 1})",
        "check the indentation: what belongs together starts in the same column",
    )


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."
