"""`voicecheck log`: list, show, report and verify sessions; its other commands beside it."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from voicecheck.cli.groups import grouped
from voicecheck.cli.log_find import Entry, entries_of, find_session
from voicecheck.cli.log_items import clear, correct, defer, open_, reopen
from voicecheck.cli.log_keep import deliver, key, purge
from voicecheck.cli.log_options import Airframe, AsJson, Book, To, Wanted, told
from voicecheck.cli.log_trend import export, fleet, trend
from voicecheck.cli.log_verify import verify_
from voicecheck.cli.screen import print_line
from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.captions import captions
from voicecheck.logbook.filed import Listed
from voicecheck.logbook.filing import REPORT, file_text
from voicecheck.logbook.outcome import outcome
from voicecheck.logbook.report import report as report_page
from voicecheck.logbook.sessions import Session, Unreadable
from voicecheck.logbook.transcript import transcript
from voicecheck.logbook.wording import clean, moment
from voicecheck.words import say

if TYPE_CHECKING:
    from voicecheck.logbook.context import Context

app = typer.Typer(
    name="log",
    help="The log of past sessions: list them, read them, report them, follow what is open, "
    "prove them unchanged.",
    no_args_is_help=True,
)
app.command("verify")(verify_)
app.command("open")(open_)
for _command in (defer, clear, reopen, correct, trend, fleet, export, deliver, purge, key):
    app.command()(_command)


@app.command("list")
@grouped
def list_(
    book: Book,
    airframe: Airframe = None,
    limit: Annotated[int, typer.Option(min=0, help="At most so many; 0: all.")] = 50,
    as_json: AsJson = False,
) -> None:
    """List the sessions, newest first, with the result of each."""
    with told():
        entries = entries_of(book, airframe, limit or None)
    if as_json:
        print(json.dumps([_listed(entry) for entry in entries], ensure_ascii=False))
        return
    if not entries:
        print_line(say("log-empty", log=book.database or book.folder))
        return
    table = Table(box=None, pad_edge=False, title_justify="left")
    for name in ("session", "started", "airframe", "result"):
        table.add_column(say(f"log-{name}"), overflow="fold", no_wrap=name != "result")
    for entry in entries:
        table.add_row(*(Text(clean(str(cell))) for cell in _cells(_listed(entry))))
    Console(highlight=False).print(table)
    if limit and len(entries) >= limit:
        print_line(say("log-newest", n=limit))
    print_line(say("caution"))


def _cells(facts: Mapping[str, object]) -> tuple[object, ...]:
    if facts["problem"] is not None:
        return facts["session"], "", "", say("log-unreadable", problem=facts["problem"])
    result, behind = facts["result"], facts.get("behind")
    if isinstance(behind, Mapping):
        result = say("behind-line", result=result, session=behind["session"])
    return facts["session"], moment(str(facts["started"])), facts["airframe"], result


@app.command()
@grouped
def show(session: Wanted, book: Book, as_json: AsJson = False) -> None:
    """Print a session's transcript, or with --json its summary."""
    with told():
        found, _ = find_session(book, session)
        if not as_json:
            sys.stdout.write(transcript(found))
            return
        print(json.dumps(_whole(found), ensure_ascii=False))


@app.command()
@grouped
def report(
    session: Wanted,
    *,
    book: Book,
    kind: Annotated[
        str, typer.Option("--format", metavar="html|pdf|text|json|vtt", help="What to write.")
    ] = "html",
    to: To,
) -> None:
    """Write a session's report and print where it is. Default: report.html beside the journal."""
    endings = {"html": "html", "pdf": "pdf", "text": "txt", "json": "json", "vtt": "vtt"}
    with told():
        if kind not in endings:
            raise VoicecheckError(f"--format {kind}: unknown; choose {', '.join(endings)}")
        found, context = find_session(book, session)
        beside = found.folder / (REPORT if kind == "html" else f"report.{endings[kind]}")
        if to.out is None and not found.folder.is_dir():
            raise VoicecheckError(f"{found.id} is not in this log folder; name a file with --out")
        content = _content(found, context, kind)
        if to.out is None:
            file_text(beside, content)
        to.write(lambda: content)
    print(to.out or beside)


def _content(found: Session, context: Context | None, kind: str) -> str | bytes:
    if kind == "pdf":
        from voicecheck.logbook.session_pdf import session_pdf

        return session_pdf(found, context)
    if kind == "text":
        return transcript(found)
    if kind == "vtt":
        return captions(found)
    if kind == "json":
        body = {**_whole(found), "crew": found.crew.as_json()}
        return json.dumps(body, ensure_ascii=False, indent=1) + "\n"
    return report_page(found, context)


def _listed(entry: Entry) -> dict[str, object]:
    """One session as `--json` lists it."""
    if isinstance(entry, Unreadable):
        return {"session": entry.id, "problem": entry.problem}
    if isinstance(entry, Listed):
        return {
            "session": entry.session,
            "started": entry.started,
            "airframe": entry.airframe,
            "record": entry.state,
            "result": entry.result,
            "behind": asdict(entry.behind) if entry.behind is not None else None,
            "problem": None,
        }
    header = entry.journal.header
    return {
        "session": entry.id,
        "started": format_utc(parse(header.started)),
        "airframe": header.airframe,
        "record": entry.journal.verification.state.value,
        "result": outcome(entry),
        "problem": None,
    }


def _whole(found: Session) -> dict[str, object]:
    """One session with its summary, as JSON tells it."""
    return {"caution": found.words("caution"), **_listed(found), "summary": _summary(found)}


def _summary(found: Session) -> object:
    """The summary as it stands in the journal; None where there is none."""
    line = found.journal.summary
    return None if line is None else line.fields["summary"]
