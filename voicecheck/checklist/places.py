"""Where in its two files an item or a position of a checklist stands."""

from __future__ import annotations

from collections.abc import Iterator

from voicecheck.checklist.resolved import OFF
from voicecheck.errors import Place
from voicecheck.yaml_source import Sourced


def place_in_files(
    position: str | None, item: str | None, type_file: Sourced, airframe: Sourced
) -> Place:
    """The airframe's change where it makes the item, else the type file's own lines.

    Without an item it is the position; without a position the beginning of the type file.
    """
    if position is None:
        return type_file.place(())
    rest = position == OFF
    parents = (
        (airframe, ("changes", position, "expect")),
        (type_file, ("rest",) if rest else ("positions", position, "expect")),
    )
    for stem in _stems(item.removeprefix(f"{position}.")) if item is not None else ():
        for source, parent in parents:
            if (*parent, stem) in source.places:
                return source.place((*parent, stem))
    return type_file.place(("rest",) if rest else ("positions", position))


def _stems(name: str) -> Iterator[str]:
    """Ids of the expectation that an item may come from: "horn-silence", then "horn"."""
    words = name.split("-")
    for count in range(len(words), 0, -1):
        yield "-".join(words[:count])
