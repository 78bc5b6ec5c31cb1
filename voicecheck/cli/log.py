"""`voicecheck log`: list, show, report and verify sessions; its other commands beside it."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from voicecheck.cli import log_items, log_keep, log_trend
from voicecheck.cli.log_options import (
    Airframe,
    AsJson,
    Force,
    Log,
    Out,
    Url,
    Wanted,
    default_log,
    notice,
    opened,
    put,
    there,
    told,
)
from voicecheck.cli.log_verify import verify_
from voicecheck.errors import VoicecheckError
from voicecheck.journal.format import JOURNAL
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.captions import captions
from voicecheck.logbook.filed import Listed
from voicecheck.logbook.filing import REPORT, file_text
from voicecheck.logbook.outcome import outcome
from voicecheck.logbook.report import report as report_page
from voicecheck.logbook.sessions import LATEST, Session, Unreadable, find, is_broken, sessions
from voicecheck.logbook.transcript import transcript
from voicecheck.logbook.wording import clean, moment
from voicecheck.words import say

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from voicecheck.logbook.context import Context

app = typer.Typer(
    name="log",
    help="The log of past sessions: list them, read them, report them, follow what is open, "
    "prove them unchanged.",
    no_args_is_help=True,
)
app.command("verify")(verify_)
log_items.add_to(app)
log_trend.add_to(app)
log_keep.add_to(app)

Entry = Session | Unreadable | Listed


@app.command("list")
def list_(
    log: Log = None,
    database: Url = None,
    airframe: Airframe = None,
    limit: Annotated[int, typer.Option(min=0, help="At most so many; 0: all.")] = 50,
    as_json: AsJson = False,
) -> None:
    """List the sessions, newest first, with the result of each."""
    with told():
        entries = _entries(log, database, airframe, limit or None)
    if as_json:
        print(json.dumps([_listed(entry) for entry in entries], ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not entries:
        console.print(Text(say("log-empty", log=database or log or default_log())))
        return
    table = Table(box=None, pad_edge=False, title_justify="left")
    for name in ("session", "started", "airframe", "result"):
        table.add_column(say(f"log-{name}"), overflow="fold", no_wrap=name != "result")
    for entry in entries:
        facts = _listed(entry)
        cells: tuple[object, ...]
        if facts["problem"] is not None:
            cells = (facts["session"], "", "", say("log-unreadable", problem=facts["problem"]))
        else:
            started = moment(str(facts["started"]))
            cells = (facts["session"], started, facts["airframe"], facts["result"])
        table.add_row(*(Text(clean(str(cell))) for cell in cells))
    console.print(table)
    if limit and len(entries) >= limit:
        console.print(Text(say("log-newest", n=limit)))
    console.print(Text(say("caution")), soft_wrap=True)


def _entries(
    log: Path | None, url: str | None, airframe: str | None, limit: int | None
) -> list[Entry]:
    """From the logbook, and what could not be filed from its folder; else from the folder alone."""
    from voicecheck.logbook.store.database import DatabaseAway
    from voicecheck.logbook.store.delivery import unknown
    from voicecheck.logbook.store.reading import known, listed

    folder = log or default_log()
    if not there(log, url):
        return []
    try:
        with opened(log, url) as database, database.reading() as connection:
            here = [name for name in unknown(folder, connection) if not airframe]
            found: list[Entry] = []
            if airframe is None or known(connection, airframe):
                found += listed(connection, airframe, limit)
        return [*found, *sessions(folder, here)] if here else found
    except DatabaseAway as error:
        notice(f"{error}; listing the log folder alone")
        every: list[Entry] = list(sessions(folder))
        return [
            entry for entry in every
            if airframe is None
            or (isinstance(entry, Session) and entry.journal.header.airframe == airframe)
        ][:limit]  # fmt: skip


@app.command()
def show(session: Wanted, log: Log = None, database: Url = None, as_json: AsJson = False) -> None:
    """Print a session's transcript, or with --json its summary."""
    with told():
        found, _ = _find(log, database, session)
        if not as_json:
            sys.stdout.write(transcript(found))
            return
        print(json.dumps(_whole(found), ensure_ascii=False))


@app.command()
def report(
    session: Wanted,
    log: Log = None,
    database: Url = None,
    kind: Annotated[
        str, typer.Option("--format", metavar="html|pdf|text|json|vtt", help="What to write.")
    ] = "html",
    out: Out = None,
    force: Force = False,
) -> None:
    """Write a session's report and print where it is. Default: report.html beside the journal."""
    endings = {"html": "html", "pdf": "pdf", "text": "txt", "json": "json", "vtt": "vtt"}
    with told():
        if kind not in endings:
            raise VoicecheckError(f"--format {kind}: unknown; choose {', '.join(endings)}")
        found, context = _find(log, database, session)
        beside = found.folder / (REPORT if kind == "html" else f"report.{endings[kind]}")
        if out is None and not found.folder.is_dir():
            raise VoicecheckError(f"{found.id} is not in this log folder; name a file with --out")
        content = _content(found, context, kind)
        if out is None:
            file_text(beside, content)
        else:
            put(out, content, force=force)
    print(out or beside)


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


def _find(log: Path | None, url: str | None, wanted: str) -> tuple[Session, Context | None]:
    """A session from the log folder, else from the logbook, and what the logbook knows besides.

    Without a logbook that answers, the folder alone must do, and the user is told.
    """
    from voicecheck.logbook.store.database import DatabaseAway
    from voicecheck.logbook.store.looking import context_of
    from voicecheck.logbook.store.reading import find_session, known, session_from

    folder = log or default_log()
    local: Session | None = None
    problem: VoicecheckError | None = None
    try:
        local = find(folder, wanted)
    except VoicecheckError as error:
        problem = error
    if not there(log, url):
        assert problem is not None  # a folder that is not there has no session
        raise problem
    try:
        with opened(log, url) as database, database.reading() as connection:
            if local is None:
                if wanted != LATEST and not wanted.replace("-", "").isalnum():
                    raise problem or VoicecheckError(f"{wanted}: no session")
                local = session_from(connection, find_session(connection, wanted))
            elif not is_broken(local):
                local = _as_filed(connection, local)
            airframe = local.journal.header.airframe
            context = None
            if known(connection, airframe):
                context = context_of(connection, airframe, datetime.now(UTC), local.id)
            return local, context
    except DatabaseAway as error:
        if local is None:
            raise problem or error from error
        notice(str(error))
        return local, None
    except VoicecheckError as error:
        if local is None and problem is not None:
            raise problem from error
        raise


def _as_filed(connection: Connection, local: Session) -> Session:
    """The session as filed, where the one in the log folder is another; the user is told."""
    from voicecheck.logbook.store.audit import against_anchor
    from voicecheck.logbook.store.reading import find_session, session_from

    try:
        against_anchor(connection, local.id, local.folder / JOURNAL)
    except VoicecheckError as error:
        notice(f"{error}; what follows is the filed one")
        filed = session_from(connection, find_session(connection, local.id))
        return replace(filed, folder=local.folder)
    return local


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
