"""Draws which room may import which, from the import contracts themselves.

Usage: ``python docs/making/room_picture.py pyproject.toml`` prints a Mermaid flowchart.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import VoicecheckError

SHARED: Final = {"callouts", "caution", "errors", "words", "shipped", "yaml_source"}
"""Vocabulary that nearly every room has; drawn as one."""
_PREFIX: Final = "voicecheck."


def allowed(contracts: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """(room, what it may import), from the contracts that forbid everything else of voicecheck."""
    found: dict[tuple[str, str], None] = {}
    for contract in contracts:
        if contract["type"] != "forbidden" or contract["forbidden_modules"] != ["voicecheck.*"]:
            continue
        targets = [line.partition(" -> ")[2] for line in contract.get("ignore_imports", ())]
        for source in contract["source_modules"]:
            room = source.removeprefix(_PREFIX)
            if room in SHARED or room.startswith("yaml_"):
                continue
            for target in targets:
                name = target.removeprefix(_PREFIX).removesuffix(".**")
                found[room, "vocabulary" if name in SHARED else name] = None
    return [edge for edge in found if edge[0] != edge[1]]


def layers(contracts: list[dict[str, Any]]) -> list[list[str]]:
    """The combining rooms, highest first; those of one layer do not import each other."""
    (layered,) = (contract for contract in contracts if contract["type"] == "layers")
    return [[part.strip(" ()") for part in re.split("[:|]", line)] for line in layered["layers"]]


def mermaid(pyproject: Path) -> str:
    """The picture as a Mermaid flowchart. Raises VoicecheckError without contracts to draw."""
    try:
        settings = tomllib.loads(pyproject.read_text("utf-8"))
        contracts = settings["tool"]["importlinter"]["contracts"]
    except (OSError, ValueError, KeyError) as error:
        reason = getattr(error, "strerror", None) or f"{type(error).__name__}: {error}"
        raise VoicecheckError(
            f"{pyproject}: no import contracts can be read ({reason}); name this tree's "
            "pyproject.toml"
        ) from None
    return "\n".join(_lines(contracts)) + "\n"


def _lines(contracts: list[dict[str, Any]]) -> Iterator[str]:
    yield "flowchart TD"
    high = layers(contracts)
    for above, below in pairwise(high):
        for upper in above:
            yield from (f"    {upper} --> {lower}" for lower in below)
    edges = allowed(contracts)
    lowest = high[-1][0]
    for room in dict.fromkeys(room for room, _ in edges if room not in high[-1]):
        yield f"    {lowest} --> {room}"
    for room, target in edges:
        name = target.replace(".", "_")
        shown = f'{name}["{target}"]' if name != target else name
        yield f"    {room} --> {shown}"


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python docs/making/room_picture.py PYPROJECT")
    try:
        sys.stdout.write(mermaid(Path(sys.argv[1])))
    except VoicecheckError as problem:
        sys.exit(str(problem))
