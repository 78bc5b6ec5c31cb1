"""`voicecheck log deliver|purge|key`: keeping the logbook."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer

from voicecheck.cli.groups import grouped
from voicecheck.cli.log_options import (
    Book,
    Exit,
    KeyFile,
    default_key,
    moment_of,
    notice,
    signing,
    told,
)
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.signing import make_key, signer_from


@grouped
def deliver(
    book: Book,
    *,
    every: Annotated[
        bool, typer.Option("--all", help="Also sessions that never were in the spool.")
    ] = False,
    key: KeyFile = None,
) -> None:
    """File what waits in the spool. Exit status 1 when something still waits."""
    from voicecheck.logbook.store.database import open_database
    from voicecheck.logbook.store.delivery import deliver as file_all

    with told():
        sign = signing(key)
        database = open_database(book.database, book.folder)
        try:
            found = file_all(book.folder, database, sign, every=every)
        finally:
            database.close()
    for name in found.filed:
        print(f"{name}: filed")
    for name, why in found.waiting:
        notice(f"{name} still waits: {why}")
    if not found.filed and not found.waiting:
        print("Nothing waits.")
    raise typer.Exit(Exit.BROKEN if found.waiting else Exit.GOOD)


@grouped
def purge(
    session: Annotated[
        list[str] | None, typer.Argument(metavar="[SESSION]...", help="Whole session ids.")
    ] = None,
    *,
    older_than: Annotated[
        int | None,
        typer.Option(metavar="DAYS", min=1, help="Every session older than so many days."),
    ] = None,
    names: Annotated[bool, typer.Option("--names", help="Only the crew's names.")] = False,
    yes: Annotated[
        bool, typer.Option("--yes", help="Do it; without, only show what would go.")
    ] = False,
    book: Book,
    key: KeyFile = None,
) -> None:
    """Take crew names, or whole sessions, out of the logbook; the chain still verifies.

    Of a whole session only hashes, its date and its airframe are left. A session with a finding
    that is not cleared is kept. Sessions that other machines hold in their log folders stay there.
    """
    from voicecheck.logbook.store import retention

    with told():
        if bool(session) == (older_than is not None):
            raise VoicecheckError("name sessions, or say --older-than DAYS")
        sign = signing(key)
        with book.opened() as database:
            chosen = list(session or ())
            if older_than is not None:
                chosen = retention.older_than(
                    database, moment_of(None) - timedelta(days=older_than)
                )
            if not yes:
                for name in chosen:
                    print(f"{name}: would go" + (" nameless" if names else ""))
                print(f"{len(chosen)} sessions; nothing was done, --yes does it.")
                return
            act = retention.purge_names if names else retention.purge_sessions
            for name in act(database, book.folder, chosen, sign):
                print(f"{name}: {'names purged' if names else 'purged'}")


def key(
    file: Annotated[
        Path | None, typer.Option("--key", envvar="VOICECHECK_KEY", metavar="FILE", help="Where.")
    ] = None,
) -> None:
    """Print this machine's public key, after making the private one if there is none yet."""
    with told():
        path = file or default_key()
        signer = signer_from(path)
        if signer is None:
            signer = make_key(path)
            notice(f"a new private key is in {path}; keep a copy where nobody else can read it")
        print(signer.public)
