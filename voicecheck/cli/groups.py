"""Options that several commands share: a dataclass as one parameter, an option for each field."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import is_dataclass
from typing import Any, cast, get_type_hints


def grouped(command: Callable[..., None]) -> Callable[..., None]:
    """Show Typer the fields of every dataclass among a command's parameters in its place.

    Fields are annotated as a command's parameters are, and may be dataclasses themselves. The
    command gets each dataclass made, from whatever was given for its fields.
    """
    hints = get_type_hints(command, include_extras=True)
    shown = list(_shown(inspect.signature(command), hints))

    @functools.wraps(command)
    def expanded(**given: Any) -> None:
        command(**_taken(hints, given))

    expanded.__dict__["__signature__"] = inspect.Signature(shown)
    expanded.__annotations__ = {one.name: one.annotation for one in shown}
    return expanded


def _shown(signature: inspect.Signature, hints: Mapping[str, Any]) -> Iterator[inspect.Parameter]:
    for name, parameter in signature.parameters.items():
        hint: Any = hints[name]
        if is_dataclass(hint):
            within = get_type_hints(hint, include_extras=True)
            yield from _shown(inspect.signature(cast(Any, hint)), within)
        else:
            kind = inspect.Parameter.KEYWORD_ONLY  # an argument may follow an option of a group
            yield parameter.replace(annotation=hint, kind=kind)


def _taken(hints: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """What was given, for the names of `hints`; dataclasses are made."""
    return {
        name: _made(hint, given) if is_dataclass(hint) else given[name]
        for name, hint in hints.items()
        if name != "return"
    }


def _made(group: Any, given: Mapping[str, Any]) -> Any:
    return group(**_taken(get_type_hints(group, include_extras=True), given))
