"""YAML with places: safe, bounded, and every value knows its line and column.

YAML 1.2's core booleans only, so that ``avionics: on`` stays the word *on*.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, TypeVar

import yaml
from pydantic import BaseModel, ValidationError
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

from voicecheck.errors import InputError, Place, VoicecheckError

MAX_BYTES: Final = 1_000_000
MAX_DEPTH: Final = 24

Path_ = tuple[str | int, ...]
M = TypeVar("M", bound=BaseModel)


class _Loader(yaml.SafeLoader):
    """SafeLoader whose only booleans are true and false, and which keeps dates as text."""


_Loader.yaml_implicit_resolvers = {
    first: [
        (tag, pattern)
        for tag, pattern in resolvers
        if tag not in ("tag:yaml.org,2002:bool", "tag:yaml.org,2002:timestamp")
    ]
    for first, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:bool", re.compile(r"^(?:true|True|TRUE|false|False|FALSE)$"), list("tTfF")
)


@dataclass(slots=True)
class Sourced:
    """Plain data read from a file, and the place of every value in it."""

    file: str
    data: Any
    places: dict[Path_, Place] = field(default_factory=dict)

    def place(self, path: Iterable[str | int]) -> Place:
        """The place of a value, or of the nearest enclosing one that exists."""
        loc = tuple(path)
        while loc and loc not in self.places:
            loc = loc[:-1]
        return self.places.get(loc, Place(self.file, 1, 1))


def read_yaml(path: Path) -> Sourced:
    """Read one YAML file. Raises InputError or VoicecheckError, never a YAML error."""
    try:
        if path.is_dir():
            raise VoicecheckError(f"{path}: is a folder; name a YAML file inside it")
        raw = path.read_bytes()
    except FileNotFoundError:
        raise VoicecheckError(f"{path}: no such file; check the path") from None
    except OSError as error:
        reason = error.strerror or str(error)
        raise VoicecheckError(f"{path}: cannot be read ({reason}); check its rights") from None
    if len(raw) > MAX_BYTES:
        raise VoicecheckError(
            f"{path}: {len(raw)} bytes is over the limit of {MAX_BYTES}; split the file"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise InputError(
            Place(str(path), line), "is not UTF-8 text", "save the file as UTF-8"
        ) from None
    return parse_yaml(text, str(path))


def parse_yaml(text: str, file: str) -> Sourced:
    """Parse YAML text; `file` is only for messages."""
    try:
        _refuse_aliases(text, file)
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
        raise InputError(place, f"not valid YAML: {error.problem}", _yaml_remedy(error)) from None
    except yaml.YAMLError as error:
        problem = str(error).splitlines()[0]
        raise InputError(
            Place(file), f"not valid YAML: {problem}", "remove the special characters"
        ) from None
    if node is None:
        raise InputError(Place(file, 1, 1), "the file is empty", "start with 'schema: 1'")
    sourced = Sourced(file, None)
    sourced.data = _plain(node, (), sourced, 0)
    return sourced


def _refuse_aliases(text: str, file: str) -> None:
    """No aliases, so no expansion bomb and every value has one place."""
    for event in yaml.parse(text, Loader=_Loader):
        if isinstance(event, yaml.AliasEvent):
            mark: Any = event.start_mark
            place = Place(file, mark.line + 1, mark.column + 1)
            raise InputError(place, f"an alias, *{event.anchor}", "write the values out again")


def _yaml_remedy(error: yaml.MarkedYAMLError) -> str:
    problem = (error.problem or "") + " " + (error.context or "")
    if "\\t" in problem or "tab" in problem:
        return "use spaces, not tabs, to indent"
    if "mapping values are not allowed" in problem:
        return "put text that contains ': ' in quotes, or check the indentation"
    if "could not find expected ':'" in problem:
        return "write 'key: value' with a colon and a space"
    if "block" in problem:
        return "check the indentation: keys of one mapping start in the same column"
    return "check the indentation, colons and quotes near here"


def _at(node: Node, file: str) -> Place:
    return Place(file, node.start_mark.line + 1, node.start_mark.column + 1)


def _plain(node: Node, path: Path_, out: Sourced, depth: int) -> Any:
    place = _at(node, out.file)
    out.places.setdefault(path, place)
    if depth > MAX_DEPTH:
        raise InputError(place, f"nested deeper than {MAX_DEPTH} levels", "flatten it")
    if isinstance(node, MappingNode):
        return _mapping(node, path, out, depth)
    if isinstance(node, SequenceNode):
        return [_plain(child, (*path, i), out, depth + 1) for i, child in enumerate(node.value)]
    assert isinstance(node, ScalarNode)  # YAML has no fourth kind of node
    return _scalar(node, place)


def _mapping(node: MappingNode, path: Path_, out: Sourced, depth: int) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        place = _at(key_node, out.file)
        if not isinstance(key_node, ScalarNode):
            raise InputError(place, "a key must be plain text", "write 'key: value'")
        key = str(key_node.value)
        if key == "<<":
            raise InputError(place, "merge keys are not allowed", "write the values out again")
        if key in result:
            raise InputError(
                place,
                f"'{key}' stands twice (first in line {out.places[(*path, key)].line})",
                "rename or remove one of them",
            )
        out.places[(*path, key)] = place
        result[key] = _plain(value_node, (*path, key), out, depth + 1)
    return result


def _scalar(node: ScalarNode, place: Place) -> Any:
    tag = node.tag.rpartition(":")[2]
    if tag not in ("str", "int", "float", "bool", "null"):
        raise InputError(place, f"the tag '{node.tag}' is not allowed", "write plain text")
    try:
        return yaml.constructor.SafeConstructor().construct_object(node)
    except (ValueError, yaml.YAMLError):
        raise InputError(place, f"'{node.value}' is not a {tag}", "put it in quotes") from None


def check_model(model: type[M], source: Sourced) -> M:
    """Validate the data against a pydantic model; the first problem becomes an InputError."""
    try:
        return model.model_validate(source.data)
    except ValidationError as error:
        raise as_input_error(error, source, model) from None


def as_input_error(
    error: ValidationError, source: Sourced, model: type[BaseModel], prefix: Path_ = ()
) -> InputError:
    """The first validation error as one line with place and remedy."""
    first = error.errors(include_url=False)[0]
    path: Path_ = (*prefix, *_without_union_tags(first["loc"], source, prefix))
    kind, context = first["type"], first.get("ctx", {})
    label = ".".join(str(part) for part in path) or "the file"
    remedy = context.get("remedy") if isinstance(context, Mapping) else None
    if kind == "extra_forbidden":
        remedy = _nearest(str(path[-1]), _all_keys(model))
        return InputError(source.place(path), f"unknown key '{path[-1]}'", remedy)
    if kind == "missing":
        return InputError(
            source.place(path[:-1]), f"'{path[-1]}' is missing", f"add '{path[-1]}:' here"
        )
    if kind == "union_tag_invalid":
        kinds = [tag.strip(" '") for tag in str(context.get("expected_tags", "")).split(",")]
        found = str(context.get("tag"))
        return InputError(
            source.place((*path, "kind")),
            f"unknown kind '{found}'",
            _nearest(found, kinds, f"the kinds are: {', '.join(kinds)}"),
        )
    message = str(first["msg"]).removeprefix("Value error, ")
    if kind == "value_error" and "; " in message:
        message, remedy = message.split("; ", 1)
    got = first.get("input")
    shown = f" (found {got!r})" if isinstance(got, str | int | float | bool) else ""
    return InputError(
        source.place(path),
        f"{label}: {message[0].lower()}{message[1:]}{shown}",
        str(remedy or "see the published JSON Schema (voicecheck validate --schema)"),
    )


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
    close = difflib.get_close_matches(key, known, n=1)
    return f"did you mean '{close[0]}'?" if close else otherwise
