"""The engine's rules as a page, printed from the tables by which it decides.

``python docs/making/rules_page.py docs/rules.md`` writes the page; a test fails when it is not
current.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from page_file import write_named, write_page
from voicecheck.engine import power, reopening, rules, taking_back
from voicecheck.engine.item_call import Scene
from voicecheck.engine.row import Row


def page() -> str:
    """The whole page in Markdown."""
    return "\n".join(_page()) + "\n"


def _page() -> Iterator[str]:
    yield "# The rules of the engine"
    yield ""
    yield "Written by `make docs` from `voicecheck/engine/rules.py` and the tables it names; change"
    yield "those. A row's number begins with that of its rule. To add a rule, add a row: a number,"
    yield "when it holds, what then follows, what stands and is said, and the tests that prove it."
    yield ""
    yield "## In plain words"
    yield ""
    yield from _plain()
    yield ""
    for scene in Scene:
        yield f"## A call of {scene.value}"
        yield ""
        yield "The first row that holds decides."
        yield ""
        yield from _table([rule for rule in rules.CALLS if scene in rule.of])
    yield "## What stood as good and stands no longer"
    yield ""
    yield from _table(reopening.REOPENINGS)
    yield "## What becomes void"
    yield ""
    yield from _table(power.VOIDINGS)
    yield '## What "correction" and "disregard" take back'
    yield ""
    yield from _table(taking_back.UNDOINGS)


def _plain() -> Iterator[str]:
    """The numbered list at the top of rules.py."""
    _, _, text = (rules.__doc__ or "").partition("\n\n")
    listed, _, _ = text.partition("\n\n")
    yield from listed.splitlines()


def _table(rows: Sequence[Row]) -> Iterator[str]:
    yield "| rule | when | what stands after it | what may be said | proven by |"
    yield "|---|---|---|---|---|"
    for row in rows:
        says = ", ".join(f"`{prompt}`" for prompt in row.says) or "–"
        proof = "<br>".join(f"`{test}`" for test in row.proof)
        yield f"| {row.number} | {row.when} | {row.stands} | {says} | {proof} |"
    yield ""


def write(path: Path) -> None:
    """Write the page. Raises VoicecheckError when it cannot."""
    write_page(path, page())


if __name__ == "__main__":
    write_named(write)
