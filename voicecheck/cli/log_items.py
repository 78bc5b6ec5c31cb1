"""`voicecheck log open|defer|clear|reopen|correct`: what is open, and what was done about it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.cli.log_options import (
    AsJson,
    Exit,
    KeyFile,
    Log,
    Url,
    moment_of,
    opened,
    require_log,
    signing,
    told,
)
from voicecheck.logbook.discrepancy import called_by
from voicecheck.logbook.export import discrepancy_row
from voicecheck.logbook.wording import clean, named
from voicecheck.words import say

if TYPE_CHECKING:
    from voicecheck.logbook.store.actions import Act

Finding = Annotated[
    str, typer.Argument(metavar="FINDING", help="As `log open` shows it, SESSION/NUMBER.")
]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who did it: name, licence no.")]
Reference = Annotated[
    str, typer.Option("--reference", metavar="REF", help="Entry of the technical log.")
]
Comment = Annotated[str, typer.Option("--note", metavar="TEXT", help="In words.")]
At = Annotated[
    str | None, typer.Option("--at", metavar="TIME", help="When, RFC 3339; default: now.")
]


def open_(
    airframe: Annotated[str | None, typer.Argument(metavar="[REG]", help="One airframe.")] = None,
    log: Log = None,
    database: Url = None,
    every: Annotated[bool, typer.Option("--all", help="Also what is cleared.")] = False,
    text: Annotated[
        bool, typer.Option("--text", help="With the text for the technical log.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """List what is open or deferred, with due dates. Exit status 1 when there is something."""
    from voicecheck.logbook.discrepancies import standing
    from voicecheck.logbook.open_items import line_of
    from voicecheck.logbook.store.reading import crew_names, of_airframe

    with told():
        require_log(log, database)
        crews: dict[str, str] = {}
        now = moment_of(None)
        with opened(log, database) as book, book.reading() as connection:
            found = of_airframe(connection, airframe)
            left = standing(found)
            found = found if every else left
            for entry in found if text or as_json else ():
                names = crew_names(connection, entry.last.name.partition("/")[0])
                crews[entry.first.name] = called_by(names)
    if as_json:
        rows = [
            {**row, "text": f"{row['text']} {crews[row['finding']]}"}
            for row in (discrepancy_row(entry, now) for entry in found)
        ]
        print(json.dumps({"caution": say("caution"), "rows": rows}, ensure_ascii=False))
    else:
        console = Console(highlight=False)
        for entry in found:
            _say(console, f"{entry.first.name}  {entry.first.airframe}  {line_of(entry, now)}")
            if text:
                _say(console, f"    {entry.last.text} {crews[entry.first.name]}")
        if not found:
            _say(console, say("nothing-open-list"))
        _say(console, say("caution"))
    raise typer.Exit(Exit.BROKEN if left else Exit.GOOD)


def defer(
    finding: Finding,
    by: By,
    reference: Reference,
    category: Annotated[
        str | None,
        typer.Option(metavar="A|B|C|D", help="Where the airframe's data have no MEL item."),
    ] = None,
    days: Annotated[
        int | None, typer.Option(min=1, max=1000, help="Calendar days of a category A item.")
    ] = None,
    note: Comment = "",
    at: At = None,
    log: Log = None,
    database: Url = None,
    key: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Record that a finding was deferred under the operator's MEL, and when it is due.

    The days are counted from the day on which the defect was first found. Whether it may be
    deferred is not decided here.
    """
    from voicecheck.logbook.store.actions import Act

    _act(
        Act.DEFERRED, finding, by, reference, note, at, log, database, key, as_json, category, days
    )


def clear(
    finding: Finding,
    by: By,
    reference: Reference,
    note: Comment = "",
    at: At = None,
    log: Log = None,
    database: Url = None,
    key: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Record that maintenance signed a finding off, where and by whom."""
    from voicecheck.logbook.store.actions import Act

    _act(Act.CLEARED, finding, by, reference, note, at, log, database, key, as_json)


def reopen(
    finding: Finding,
    by: By,
    note: Comment = "",
    reference: Reference = "",
    at: At = None,
    log: Log = None,
    database: Url = None,
    key: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Record that a deferral or sign-off no longer holds: the finding is open again."""
    from voicecheck.logbook.store.actions import Act

    _act(Act.REOPENED, finding, by, reference, note, at, log, database, key, as_json)


def correct(
    finding: Finding,
    by: By,
    note: Comment,
    reference: Reference = "",
    at: At = None,
    log: Log = None,
    database: Url = None,
    key: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Append a correction to a finding. What was recorded stays as it was recorded."""
    from voicecheck.logbook.store.actions import Act

    _act(Act.CORRECTED, finding, by, reference, note, at, log, database, key, as_json)


def _act(
    kind: Act,
    finding: str,
    by: str,
    reference: str,
    note: str,
    at: str | None,
    log: Log,
    url: str | None,
    key: KeyFile,
    as_json: bool,
    category: str | None = None,
    days: int | None = None,
) -> None:
    from voicecheck.logbook.store.actions import act

    with told():
        signer = signing(key)
        with opened(log, url) as book:
            done = act(
                book,
                finding,
                kind,
                who=by,
                at=moment_of(at),
                reference=reference,
                note=note,
                category=category,
                days=days,
                sign=signer.sign_entry if signer is not None else None,
            )
    done.pop("salt")
    if as_json:
        print(json.dumps(done, ensure_ascii=False))
        return
    console = Console(highlight=False)
    _say(
        console,
        say(
            "action-done-due" if done["due"] else "action-done",
            finding=done["finding"],
            kind=named("act", str(done["kind"])),
            when=done["at"],
            due=done["due"],
            zone=done["zone"],
        ),
    )
    _say(console, say("caution"))


def _say(console: Console, text: str) -> None:
    console.print(Text(clean(text)), soft_wrap=True)


def add_to(app: typer.Typer) -> None:
    """Add these commands to `log`."""
    app.command("open")(open_)
    for command in (defer, clear, reopen, correct):
        app.command()(command)
