"""`voicecheck log`: list, show, report and verify the sessions of a log folder."""

from __future__ import annotations

import enum
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import platformdirs
import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from voicecheck.errors import VoicecheckError
from voicecheck.journal.reader import State, Verification, verify
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.filing import REPORT, file_text
from voicecheck.logbook.integrity import verify_session, words
from voicecheck.logbook.outcome import outcome
from voicecheck.logbook.report import report as report_page
from voicecheck.logbook.sessions import Session, Unreadable, find, sessions
from voicecheck.logbook.transcript import transcript
from voicecheck.logbook.wording import clean, moment

app = typer.Typer(
    name="log",
    help="The log of past sessions: list them, read them, report them, prove them unchanged.",
    no_args_is_help=True,
)


class Exit(enum.IntEnum):
    """Exit status of `log`, worst first where several sessions are looked at."""

    GOOD = 0
    BROKEN = 1
    USAGE = 2
    UNFINISHED = 3


def default_log() -> Path:
    """Where sessions are kept unless the user says otherwise."""
    return platformdirs.user_state_path("voicecheck") / "log"


Log = Annotated[
    Path | None,
    typer.Option(
        "--log",
        envvar="VOICECHECK_LOG",
        help="Log folder. Default: `voicecheck/log` among the user's state files.",
        show_default=False,
    ),
]
Wanted = Annotated[
    str,
    typer.Argument(metavar="SESSION", help='Session id, the beginning of one, or "latest".'),
]
AsJson = Annotated[bool, typer.Option("--json", help="One machine-readable result on stdout.")]


@contextmanager
def _told() -> Iterator[None]:
    """Bad input ends in one line on stderr and status 2."""
    try:
        yield
    except VoicecheckError as error:
        print(f"voicecheck: {clean(str(error))}", file=sys.stderr)
        raise typer.Exit(Exit.USAGE) from error


@app.command("list")
def list_(log: Log = None, as_json: AsJson = False) -> None:
    """List the sessions, newest first, with the result of each."""
    with _told():
        folder = log or default_log()
        entries = sessions(folder)
    if as_json:
        print(json.dumps([_listed(entry) for entry in entries], ensure_ascii=False))
        return
    console = Console(highlight=False)
    if not entries:
        console.print(Text(f"No sessions in {folder}."))
        return
    table = Table(box=None, pad_edge=False, title_justify="left")
    for name in ("Session", "Started", "Airframe", "Result"):
        table.add_column(name, overflow="fold", no_wrap=name in {"Started", "Airframe"})
    for entry in entries:
        if isinstance(entry, Session):
            header = entry.journal.header
            cells = (entry.id, moment(header.started), header.airframe, outcome(entry))
        else:
            cells = (entry.id, "", "", f"cannot be read: {entry.problem}")
        table.add_row(*(Text(clean(cell)) for cell in cells))
    console.print(table)


@app.command()
def show(session: Wanted, log: Log = None, as_json: AsJson = False) -> None:
    """Print a session's transcript, or with --json its summary."""
    with _told():
        found = find(log or default_log(), session)
        if not as_json:
            sys.stdout.write(transcript(found))
            return
        print(json.dumps(_listed(found) | {"summary": _summary(found)}, ensure_ascii=False))


@app.command()
def report(
    session: Wanted,
    log: Log = None,
    out: Annotated[
        Path | None,
        typer.Option(
            help="File to write. Default: report.html beside the journal.", metavar="FILE"
        ),
    ] = None,
    force: Annotated[bool, typer.Option(help="Replace FILE if it exists.")] = False,
) -> None:
    """Write a session's report as one HTML page and print where it is."""
    with _told():
        found = find(log or default_log(), session)
        path = out or found.folder / REPORT
        if out is not None and (path.exists() or path.is_symlink()) and not force:
            raise VoicecheckError(f"{path}: exists already; name another file or add --force")
        file_text(path, report_page(found))
    print(path)


@app.command("verify")
def verify_(
    what: Annotated[
        str | None, typer.Argument(metavar="[SESSION|FILE]", help="A session or a journal file.")
    ] = None,
    log: Log = None,
    every: Annotated[bool, typer.Option("--all", help="Every session in the log.")] = False,
) -> None:
    """Prove that journals are as they were written.

    Exit status: 0 whole, 1 chain broken, 2 bad usage, 3 not broken but unfinished.
    """
    with _told():
        if (what is None) == (not every):
            raise VoicecheckError("name one session or journal file, or use --all")
        folder = log or default_log()
        if what is None:
            status = _verify_all(sessions(folder))
        elif "/" in what or what.endswith(".jsonl"):
            status = _tell(what, verify(Path(what)))
        else:
            found = find(folder, what)
            status = _tell(found.id, verify_session(found.folder))
    raise typer.Exit(status)


def _verify_all(entries: list[Session | Unreadable]) -> Exit:
    worst = Exit.GOOD
    for entry in entries:
        if isinstance(entry, Session):
            status = _tell(entry.id, verify_session(entry.folder))
        else:
            print(clean(f"{entry.id}: cannot be read: {entry.problem}"))
            status = Exit.BROKEN
        worst = Exit.BROKEN if Exit.BROKEN in (worst, status) else max(worst, status)
    return worst


def _tell(name: str, found: Verification) -> Exit:
    print(clean(f"{name}: {words(found)}"))
    if found.state is State.BROKEN:
        return Exit.BROKEN
    return Exit.GOOD if found.ok else Exit.UNFINISHED


def _listed(entry: Session | Unreadable) -> dict[str, object]:
    """One session as `--json` lists it."""
    if isinstance(entry, Unreadable):
        return {"session": entry.id, "problem": entry.problem}
    header = entry.journal.header
    return {
        "session": entry.id,
        "started": format_utc(parse(header.started)),
        "airframe": header.airframe,
        "record": entry.journal.verification.state.value,
        "result": outcome(entry),
        "problem": None,
    }


def _summary(found: Session) -> object:
    """The summary as it stands in the journal; None where there is none."""
    line = found.journal.summary
    return None if line is None else line.fields["summary"]
