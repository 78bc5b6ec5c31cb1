"""YAML with places: safe, bounded, and every value knows its line and column."""

from __future__ import annotations

import math
import os
import re
import stat
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.yaml_syntax import number_error, syntax_error
from voicecheck.yaml_values import Path_, Sourced, as_input_error, check_model

__all__ = ["Sourced", "as_input_error", "check_model", "parse_yaml", "read_yaml"]

MAX_BYTES: Final = 300_000
"""Thirty times a large checklist."""
MAX_DEPTH: Final = 24
_CURLY: Final = (
    "\N{LEFT DOUBLE QUOTATION MARK}",
    "\N{DOUBLE LOW-9 QUOTATION MARK}",
    "\N{LEFT SINGLE QUOTATION MARK}",
)
_TAG: Final = "tag:yaml.org,2002:"
_COLLECTIONS: Final = (f"{_TAG}map", f"{_TAG}seq")
_HALF: Final = re.compile("[\ud800-\udfff]")
_START: Final = "start with 'schema: 1', or let `voicecheck new` write the first one"


class _Loader(yaml.SafeLoader):
    """SafeLoader that takes plain words for what YAML 1.2's core schema takes them for.

    Of YAML 1.1 it leaves out what would misread a checklist without a word: on and off, 010 as
    eight, 1:30 as ninety, dates.
    """


# YAML 1.2.2, chapter 10.3.2, "Tag Resolution" of the core schema; a number that is none, or has
# no end, is no setting of an aircraft and stays a word.
_CORE: Final = (
    ("null", r"^(?:null|Null|NULL|~|)$", ["~", "n", "N", ""]),
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", list("tTfF")),
    ("int", r"^(?:[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+)$", list("-+0123456789")),
    (
        "float",
        r"^[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?$",
        list("-+.0123456789"),
    ),
)
_Loader.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in resolvers if tag == f"{_TAG}merge"]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
for _tag, _pattern, _first in _CORE:
    _Loader.add_implicit_resolver(f"{_TAG}{_tag}", re.compile(_pattern), _first)


def read_yaml(path: Path) -> Sourced:
    """Read one YAML file. Raises InputError or VoicecheckError, never a YAML error."""
    raw = _read_plain(path)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            Place(str(path), line), "is not UTF-8 text", "save the file as UTF-8"
        ) from None
    return _parsed(text, str(path))


def _read_plain(path: Path) -> bytes:
    """The bytes of a regular file of a sensible size: a pipe or a device would never end."""
    try:
        fd = os.open(path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
        with os.fdopen(fd, "rb") as file:
            status = os.fstat(fd)
            if not stat.S_ISREG(status.st_mode):
                raise VoicecheckError(f"{path}: is no regular file; name a YAML file")
            raw = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise VoicecheckError(f"{path}: no such file; check the path") from None
    except IsADirectoryError:
        raise VoicecheckError(f"{path}: is a folder; name a YAML file inside it") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise VoicecheckError(f"{path}: cannot be read ({reason}); check its rights") from None
    if len(raw) > MAX_BYTES:
        raise VoicecheckError(
            f"{path}: {max(status.st_size, len(raw))} bytes is over the limit of {MAX_BYTES}; "
            "split the file"
        )
    return raw


@lru_cache(maxsize=64)
def _parsed(text: str, file: str) -> Sourced:
    """One result for the same text: each checklist reads the grammar again. Nobody changes it."""
    return parse_yaml(text, file)


def parse_yaml(text: str, file: str) -> Sourced:
    """Parse YAML text; `file` is only for messages."""
    try:
        _look_through(text, file)
        node = yaml.compose(text, Loader=_Loader)
    except yaml.YAMLError as error:
        raise syntax_error(error, text, file) from None
    except (ValueError, OverflowError):  # pyyaml lets through what Python makes of such numbers
        raise number_error(text, file) from None
    if node is None:
        raise InputError(Place(file, 1, 1), "the file is empty", _START)
    sourced = Sourced(file, None)
    sourced.data = _plain(node, (), sourced)
    return sourced


def _look_through(text: str, file: str) -> None:
    """No aliases, so no expansion bomb and every value has one place; and no bottomless nesting.

    An anchor alone would vanish without a word, and with it text that begins with &. The parser
    gives one event after another, so nothing deep is ever built.
    """
    anchor: tuple[Place, str] | None = None
    depth = 0
    for event in yaml.parse(text, Loader=_Loader):
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        if depth > MAX_DEPTH:
            start: Any = event.start_mark
            place = Place(file, start.line + 1, start.column + 1)
            raise InputError(place, f"nested deeper than {MAX_DEPTH} levels", "flatten it")
        name = str(getattr(event, "anchor", None) or "")[:40]
        if not name:
            continue
        mark: Any = event.start_mark
        place = Place(file, mark.line + 1, mark.column + 1)
        if isinstance(event, yaml.AliasEvent):
            raise InputError(
                place,
                f"an alias, *{name}",
                "write the values out again; put text that begins with * in quotes",
            )
        anchor = anchor or (place, name)
    if anchor is not None:
        raise InputError(
            anchor[0], f"an anchor, &{anchor[1]}", "put text that begins with & in quotes"
        )


def _at(node: Node, file: str) -> Place:
    return Place(file, node.start_mark.line + 1, node.start_mark.column + 1)


def _plain(node: Node, path: Path_, out: Sourced) -> Any:
    place = _at(node, out.file)
    out.places.setdefault(path, place)
    if not isinstance(node, ScalarNode) and node.tag not in _COLLECTIONS:
        raise InputError(place, f"the tag '{node.tag}' is not allowed", "write plain text")
    if isinstance(node, MappingNode):
        return _mapping(node, path, out)
    if isinstance(node, SequenceNode):
        return [_plain(child, (*path, i), out) for i, child in enumerate(node.value)]
    assert isinstance(node, ScalarNode)  # YAML has no fourth kind of node
    value = _scalar(node, place)
    if not isinstance(value, str):
        out.written[path] = str(node.value)
    return value


def _mapping(node: MappingNode, path: Path_, out: Sourced) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        place = _at(key_node, out.file)
        if not isinstance(key_node, ScalarNode):
            raise InputError(place, "a key must be plain text", "write 'key: value'")
        key = _text(str(key_node.value), place)
        if key == "<<":
            raise InputError(place, "merge keys are not allowed", "write the values out again")
        if key in result:
            raise InputError(
                place,
                f"'{key}' stands twice (first in line {out.places[(*path, key)].line})",
                "rename or remove one of them",
            )
        out.places[(*path, key)] = place
        result[key] = _plain(value_node, (*path, key), out)
    return result


def _scalar(node: ScalarNode, place: Place) -> Any:
    tag, text = node.tag.removeprefix(_TAG), str(node.value)
    if tag not in _READ:
        raise InputError(place, f"the tag '{node.tag}' is not allowed", "write plain text")
    if node.style is None and text[:1] in _CURLY:
        raise InputError(place, f"the text begins with {text[0]}", 'use the straight quotes, "')
    try:
        value = _READ[tag](text)
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError
    except ValueError:
        raise InputError(
            place, f"'{text[:40]}' cannot be read as {tag}", "write it shorter, or in quotes"
        ) from None
    return _text(value, place) if isinstance(value, str) else value


def _text(text: str, place: Place) -> str:
    """The text, if a journal can hold it: an escape may name one half of a sign."""
    half = _HALF.search(text)
    if half is not None:
        raise InputError(
            place, f"\\u{ord(half[0]):04X} is one half of a sign", "write the sign itself"
        )
    return text


def _whole(text: str) -> int:
    base = {"0o": 8, "0x": 16}.get(text[:2], 10)
    return int(text, base)


def _truth(text: str) -> bool:
    if text.lower() not in ("true", "false"):
        raise ValueError
    return text.lower() == "true"


def _nothing(text: str) -> None:
    if text.lower() not in ("null", "~", ""):
        raise ValueError


_READ: Final[dict[str, Callable[[str], Any]]] = {
    "str": str,
    "null": _nothing,
    "bool": _truth,
    "int": _whole,
    "float": float,
}
