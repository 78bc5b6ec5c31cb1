"""The engine's rules as a page, printed from the tables by which it decides.

``python docs/making/rules_page.py docs/rules.md`` writes the page; a test fails when it is not
current.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from page_file import write_named, write_page
from voicecheck.engine import power, reopening, rules, taking_back
from voicecheck.engine.item_call import Scene
from voicecheck.engine.row import Row

_ADDING: Final = """\
## Where a new row goes

All of it is in `voicecheck/engine/`; "decided in" names module and function of each row. The order
of `rules.CALLS` is part of the rules: what refuses a call stands first (4, 14), then what asks
(6.1, 11.2, 14.2), what waits for somebody else (8), and what writes down (6.5, 7.2). A rule of a
new kind takes the next free number and a line below.

What stands about an item is its record (`state.Record`): the result `now`, and `past`. Only
`satisfactory` and `unsatisfactory` count; rules 5, 6 and 7 look at nothing else. So what is good by
half must not be a result: it is kept in a field of its own, as `first_call` is, and dropped where
bad news, power or another visit would end it (`second_call.drop`). `Turn` has the verbs (`put`,
`restore`, `say`, `warn`, `insist`, `note`).

"""


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
    yield from _ADDING.splitlines()
    yield "## In plain words"
    yield ""
    yield from _plain()
    yield ""
    for scene in Scene:
        yield f"## A call of {scene.value}"
        yield ""
        yield "The first row of `rules.CALLS` that holds decides."
        yield ""
        yield from _table([rule for rule in rules.CALLS if scene in rule.of])
    yield "## What stood as good and stands no longer"
    yield ""
    yield "`reopening.REOPENINGS`; whoever sees the cause calls `reopening.reopen`."
    yield ""
    yield from _table(reopening.REOPENINGS)
    yield "## What becomes void"
    yield ""
    yield "`power.VOIDINGS`; each is called where the power is."
    yield ""
    yield from _table(power.VOIDINGS)
    yield '## What "correction" and "disregard" take back'
    yield ""
    yield "`taking_back.UNDOINGS`, one for each kind of last act (`state.LastAct`)."
    yield ""
    yield from _table(taking_back.UNDOINGS)


def _done(row: Row) -> str:
    """Module and function in which a row is carried out; a dash where its caller does it."""
    then = getattr(row, "then", None)
    return f"`{then.__module__.rpartition('.')[2]}.{then.__name__}`" if then else "–"


def _plain() -> Iterator[str]:
    """The numbered list at the top of rules.py."""
    _, _, text = (rules.__doc__ or "").partition("\n\n")
    listed, _, _ = text.partition("\n\n")
    yield from listed.splitlines()


def _table(rows: Sequence[Row]) -> Iterator[str]:
    yield "| rule | when | what stands after it | decided in | what may be said | proven by |"
    yield "|---|---|---|---|---|---|"
    for row in rows:
        says = ", ".join(f"`{prompt}`" for prompt in row.says) or "–"
        proof = "<br>".join(f"`{test}`" for test in row.proof)
        done = _done(row)
        yield f"| {row.number} | {row.when} | {row.stands} | {done} | {says} | {proof} |"
    yield ""


def write(path: Path) -> None:
    """Write the page. Raises VoicecheckError when it cannot."""
    write_page(path, page())


if __name__ == "__main__":
    write_named(write)
