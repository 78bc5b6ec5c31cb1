"""`voicecheck log open|defer|clear|reopen|correct`: what is open, and what was done about it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from voicecheck.cli.groups import grouped
from voicecheck.cli.log_options import (
    AsJson,
    Book,
    Exit,
    KeyFile,
    moment_of,
    signing,
    told,
)
from voicecheck.cli.screen import print_line
from voicecheck.logbook.discrepancy import crew_sentence
from voicecheck.logbook.export import discrepancy_row
from voicecheck.logbook.wording import clean, named
from voicecheck.words import say

if TYPE_CHECKING:
    from voicecheck.logbook.store.actions import Deed

Finding = Annotated[
    str,
    typer.Argument(
        metavar="FINDING", help="As `log open` shows it: SESSION/NUMBER, or SESSION/NUMBER.LAMP."
    ),
]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who did it: name, licence no.")]
Reference = Annotated[
    str, typer.Option("--reference", metavar="REF", help="Entry of the technical log.")
]
Comment = Annotated[str, typer.Option("--note", metavar="TEXT", help="In words.")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Filing:
    """When it was done, where it is filed, and how that is told."""

    at: Annotated[
        str | None, typer.Option("--at", metavar="TIME", help="When, RFC 3339; default: now.")
    ] = None
    book: Book
    key: KeyFile = None
    as_json: AsJson = False


@grouped
def open_(
    airframe: Annotated[str | None, typer.Argument(metavar="[REG]", help="One airframe.")] = None,
    *,
    book: Book,
    every: Annotated[bool, typer.Option("--all", help="Also what is cleared.")] = False,
    text: Annotated[
        bool, typer.Option("--text", help="With the text for the technical log.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """List what is open or deferred, with due dates. Exit status 1 when there is something."""
    from voicecheck.logbook.discrepancies import standing
    from voicecheck.logbook.open_items import line_of, text_of
    from voicecheck.logbook.store.reading import crew_names, of_airframe

    with told():
        book.require()
        crews: dict[str, str] = {}
        now = moment_of(None)
        with book.reading() as connection:
            found = of_airframe(connection, airframe)
            left = standing(found)
            found = found if every else left
            for entry in found if text or as_json else ():
                names = crew_names(connection, entry.last.name.partition("/")[0])
                crews[entry.name] = crew_sentence(names)
    if as_json:
        rows = [
            {**row, "text": f"{row['text']} {crews[row['finding']]}"}
            for row in (discrepancy_row(entry, now) for entry in found)
        ]
        print(json.dumps({"caution": say("caution"), "rows": rows}, ensure_ascii=False))
    else:
        for entry in found:
            print_line(clean(f"{entry.name}  {entry.first.airframe}  {line_of(entry, now)}"))
            if text:
                print_line(clean(f"    {text_of(entry)} {crews[entry.name]}"))
        if not found:
            print_line(say("nothing-open-list"))
        print_line(say("caution"))
    raise typer.Exit(Exit.BROKEN if left else Exit.GOOD)


@grouped
def defer(
    finding: Finding,
    by: By,
    reference: Reference,
    *,
    category: Annotated[
        str | None,
        typer.Option(metavar="A|B|C|D", help="Where the airframe's data have no MEL item."),
    ] = None,
    days: Annotated[
        int | None, typer.Option(min=1, max=1000, help="Calendar days of a category A item.")
    ] = None,
    note: Comment = "",
    filing: Filing,
) -> None:
    """Record that a finding was deferred under the operator's MEL, and when it is due.

    The days are counted from the day on which the defect was first found. Whether it may be
    deferred is not decided here.
    """
    with told():
        from voicecheck.logbook.store.actions import Act, Deed

        at = moment_of(filing.at)
        _file(finding, Deed(Act.DEFERRED, by, at, reference, note, category, days), filing)


@grouped
def clear(
    finding: Finding, by: By, reference: Reference, note: Comment = "", *, filing: Filing
) -> None:
    """Record that maintenance signed a finding off, where and by whom."""
    with told():
        from voicecheck.logbook.store.actions import Act, Deed

        _file(finding, Deed(Act.CLEARED, by, moment_of(filing.at), reference, note), filing)


@grouped
def reopen(
    finding: Finding, by: By, note: Comment = "", reference: Reference = "", *, filing: Filing
) -> None:
    """Record that a deferral or sign-off no longer holds: the finding is open again."""
    with told():
        from voicecheck.logbook.store.actions import Act, Deed

        _file(finding, Deed(Act.REOPENED, by, moment_of(filing.at), reference, note), filing)


@grouped
def correct(
    finding: Finding, by: By, note: Comment, reference: Reference = "", *, filing: Filing
) -> None:
    """Append a correction to a finding. What was recorded stays as it was recorded."""
    with told():
        from voicecheck.logbook.store.actions import Act, Deed

        _file(finding, Deed(Act.CORRECTED, by, moment_of(filing.at), reference, note), filing)


def _file(finding: str, deed: Deed, filing: Filing) -> None:
    """File what was done, and tell it. Raises VoicecheckError."""
    from voicecheck.logbook.store.actions import act

    sign = signing(filing.key)
    with filing.book.opened() as database:
        done = act(database, finding, deed, sign)
    done.pop("salt")
    if filing.as_json:
        print(json.dumps(done, ensure_ascii=False))
        return
    told_ = say(
        "action-done-due" if done["due"] else "action-done",
        finding=done["finding"],
        kind=named("act", str(done["kind"])),
        when=done["at"],
        due=done["due"],
        zone=done["zone"],
    )
    print_line(clean(told_))
    print_line(say("caution"))
