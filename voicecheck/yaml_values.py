"""Values that a file may not hold: which, where, and what to write instead."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError

from voicecheck.errors import InputError, Place

Path_ = tuple[str | int, ...]
M = TypeVar("M", bound=BaseModel)

_ON: Final = {"yes", "true", "y", "1"}
_OFF: Final = {"no", "false", "n", "0"}
_SHOWN: Final = 60
_ERRORS_READ: Final = 200


@dataclass(slots=True)
class Sourced:
    """Plain data read from a file, and the place of every value in it."""

    file: str
    data: Any
    places: dict[Path_, Place] = field(default_factory=dict)
    written: dict[Path_, str] = field(default_factory=dict)
    """Every number and truth value as it stands in the file."""

    def place(self, path: Iterable[str | int]) -> Place:
        """The place of a value, or of the nearest enclosing one that exists."""
        loc = tuple(path)
        while loc and loc not in self.places:
            loc = loc[:-1]
        return self.places.get(loc, Place(self.file, 1, 1))


def check_model(model: type[M], source: Sourced) -> M:
    """Validate the data against a pydantic model; the first problem becomes an InputError."""
    if not isinstance(source.data, dict):
        raise InputError(
            source.place(()),
            f"the file holds {_what(source.data)}, not 'key: value' lines",
            "start with 'schema: 1'",
        )
    try:
        return model.model_validate(source.data)
    except ValidationError as error:
        raise as_input_error(error, source, model) from None
    except RecursionError:
        raise InputError(source.place(()), "nested too deep", "flatten it") from None


def as_input_error(
    error: ValidationError, source: Sourced, model: type[BaseModel], prefix: Path_ = ()
) -> InputError:
    """The first validation error as one line with place and remedy."""
    errors = error.errors(include_url=False)[:_ERRORS_READ]
    first = _misspelt(errors) or errors[0]
    path: Path_ = (*prefix, *_without_union_tags(first["loc"], source, prefix))
    kind, context = first["type"], first.get("ctx", {})
    if kind == "extra_forbidden":
        remedy = _nearest(str(path[-1]), _all_keys(model))
        return InputError(source.place(path), f"unknown key '{_short(str(path[-1]))}'", remedy)
    if kind == "missing":
        return InputError(
            source.place(path[:-1]), f"'{path[-1]}' is missing", f"add '{path[-1]}:' here"
        )
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        return _kind(path, kind, _known_kinds(context, model), str(context.get("tag")), source)
    message, remedy = _value(kind, first, context, model, source.written.get(path))
    if path and path[-1] == "[key]":
        # pydantic marks a key that is itself wrong, as in positions: {Fire Test: ...}
        return InputError(source.place(path[:-1]), f"the key '{path[-2]}': {message}", remedy)
    return InputError(source.place(path), f"{_label(path)}: {message}", remedy)


def _misspelt(errors: list[Any]) -> Any:
    """An unknown key beside a missing one that it resembles: that is the one to mend."""
    missing = [entry["loc"] for entry in errors if entry["type"] == "missing"]
    if not missing:
        return None
    for entry in errors:
        if entry["type"] == "extra_forbidden":
            *parent, key = entry["loc"]
            beside = [str(loc[-1]) for loc in missing if list(loc[:-1]) == parent]
            if difflib.get_close_matches(str(key).casefold(), beside, n=1):
                return entry
    return None


def _value(
    kind: str, first: Any, context: Any, model: type[BaseModel], written: str | None
) -> tuple[str, str]:
    """What is wrong with a value, and the remedy."""
    got = first.get("input")
    raw = written if written is not None else str(got)
    found = f" (found {_short(raw)!r})" if isinstance(got, str | int | float | bool) else ""
    if kind == "string_type":
        return _no_text(got, raw, found)
    if kind in ("dict_type", "model_type", "model_attributes_type"):
        how = "write its 'key: value' lines under it, two spaces further in"
        if got is None:
            return "nothing is written under it", how
        return f"must be 'key: value' lines, and is {_what(got)}{found}", how
    if kind in ("tuple_type", "list_type"):
        how = "write [one, another], or a line with '- ' for each"
        return f"must be a list, and is {_what(got)}{found}", how
    if kind == "literal_error":
        return _choice(str(context.get("expected", "")), raw if found else None, found)
    if kind == "string_pattern_mismatch":
        meant = getattr(model, "MEANT", {}).get(context.get("pattern"), "it as the schema says")
        return f"does not fit{found}", f"write {meant}"
    return _other(kind, str(first["msg"]).removeprefix("Value error, "), found)


def _no_text(got: Any, raw: str, found: str) -> tuple[str, str]:
    if got is None:
        return (
            "nothing is written after it",
            'write text there; text that begins with # needs quotes, "# ..."',
        )
    if isinstance(got, dict | list | tuple):
        return (
            f"must be text, and is {_what(got)}",
            "write it on the same line, in quotes if it holds ': ', '[' or '{'",
        )
    return (
        f"must be text{found}",
        f'put it in quotes, "{raw}"; what is spoken is written in words, such as "three"',
    )


def _other(kind: str, message: str, found: str) -> tuple[str, str]:
    """From pydantic's own message."""
    if kind == "value_error" and "; " in message:
        problem, remedy = message.split("; ", 1)
        return f"{problem[0].lower()}{problem[1:]}{found}", remedy
    must = re.sub(r"^Input should be ", "must be ", message).split(", unable")[0]
    must = must.replace("a valid integer", "a whole number").replace("a valid ", "a ")
    remedy = "see `voicecheck validate --schema` for what may stand here"
    if kind.startswith(("int_", "float_", "finite_")):
        remedy = "write it in digits, such as 2 or 2.5"
    elif kind.startswith(("greater_", "less_")):
        remedy = f"write a number {must.removeprefix('must be ')}"
    elif kind.startswith("bool_"):
        remedy = "write true or false"
    return f"{must[0].lower()}{must[1:]}{found}", remedy


def _choice(expected: str, given: str | None, found: str) -> tuple[str, str]:
    known = re.findall(r"'([^']*)'", expected) or [expected]
    word = (given or "").casefold()
    if set(known) == {"on", "off"} and word in _ON | _OFF:
        return f"must be {expected}{found}", f"write {'on' if word in _ON else 'off'}"
    if word in known:
        return f"must be {expected}{found}", f"write it in small letters, {word}"
    return f"must be {expected}{found}", _nearest(word, known, f"write {expected}")


def _kind(path: Path_, error: str, known: list[str], given: str, source: Sourced) -> InputError:
    listed = ", ".join(known)
    if error == "union_tag_not_found":
        return InputError(
            source.place(path),
            f"{_label(path)}: 'kind' is missing",
            f"add 'kind:' and one of: {listed}",
        )
    return InputError(
        source.place((*path, "kind")),
        f"unknown kind '{_short(given)}'",
        _nearest(given, known, f"the kinds are: {listed}"),
    )


def _known_kinds(context: Any, model: type[BaseModel]) -> list[str]:
    named = re.findall(r"'([^']*)'", str(context.get("expected_tags", "")))
    return named or [
        kind["const"]
        for part in model.model_json_schema().get("$defs", {}).values()
        if (kind := part.get("properties", {}).get("kind", {})).get("const")
    ]


def _label(path: Path_) -> str:
    """The keys that lead to a value; what stands in a list is counted from 1."""
    parts = [str(part + 1) if isinstance(part, int) else part for part in path]
    return _short(".".join(parts)) or "the file"


def _what(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "'key: value' lines"
    return "a list" if isinstance(value, list | tuple) else "plain text"


def _without_union_tags(loc: Iterable[str | int], source: Sourced, prefix: Path_) -> Path_:
    """Drop the discriminator values that pydantic puts into the path of a tagged union."""
    path: Path_ = ()
    tagged: set[Path_] = set()
    for part in loc:
        node = _node(source.data, (*prefix, *path))
        if isinstance(node, Mapping) and node.get("kind") == part and path not in tagged:
            tagged.add(path)
            continue
        path = (*path, part)
    return path


def _node(data: Any, path: Path_) -> Any:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _all_keys(model: type[BaseModel]) -> list[str]:
    schema = model.model_json_schema()
    parts = [schema, *schema.get("$defs", {}).values()]
    return sorted({key for part in parts for key in part.get("properties", {})})


def _nearest(
    key: str, known: list[str], otherwise: str = "remove it or correct its spelling"
) -> str:
    close = difflib.get_close_matches(key[:_SHOWN].casefold(), known, n=1)
    return f"did you mean '{close[0]}'?" if close else otherwise


def _short(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."
