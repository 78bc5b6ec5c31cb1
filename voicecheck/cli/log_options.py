"""Options and openings that the `log` commands share."""

from __future__ import annotations

import enum
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import platformdirs
import typer

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.filing import file_text
from voicecheck.logbook.signing import Signer, signer_from
from voicecheck.logbook.wording import clean

if TYPE_CHECKING:
    from voicecheck.logbook.store.database import Database


class Exit(enum.IntEnum):
    """Exit status of `log`, worst first where several sessions are looked at."""

    GOOD = 0
    BROKEN = 1
    USAGE = 2
    UNFINISHED = 3


def default_log() -> Path:
    """Where sessions are kept unless the user says otherwise."""
    return platformdirs.user_state_path("voicecheck") / "log"


def default_key() -> Path:
    """Where the key that signs is looked for unless the user says otherwise."""
    given = os.environ.get("VOICECHECK_KEY")
    return Path(given) if given else platformdirs.user_config_path("voicecheck") / "signing-key.pem"


Log = Annotated[
    Path | None,
    typer.Option(
        "--log",
        envvar="VOICECHECK_LOG",
        help="Log folder. Default: `voicecheck/log` among the user's state files.",
        show_default=False,
    ),
]
Url = Annotated[
    str | None,
    typer.Option(
        "--database",
        envvar="VOICECHECK_DATABASE",
        metavar="URL",
        help="Shared logbook, postgresql://USER@HOST/NAME or sqlite:///FILE. Default: "
        "logbook.sqlite in the log folder.",
        show_default=False,
    ),
]
KeyFile = Annotated[
    Path | None,
    typer.Option(
        "--key",
        envvar="VOICECHECK_KEY",
        metavar="FILE",
        help="Private key that signs. Default: signing-key.pem among the user's settings, if any.",
        show_default=False,
    ),
]
Wanted = Annotated[
    str,
    typer.Argument(metavar="SESSION", help='Session id, the beginning of one, or "latest".'),
]
AsJson = Annotated[bool, typer.Option("--json", help="One machine-readable result on stdout.")]
Airframe = Annotated[
    str | None, typer.Option("--airframe", metavar="REG", help="Only this airframe.")
]
Out = Annotated[Path | None, typer.Option("--out", metavar="FILE", help="File to write.")]
Force = Annotated[bool, typer.Option("--force", help="Replace FILE if it exists.")]


@contextmanager
def told() -> Iterator[None]:
    """Bad input ends in one line on stderr and status 2."""
    try:
        yield
    except VoicecheckError as error:
        notice(str(error))
        raise typer.Exit(Exit.USAGE) from error


def notice(text: str) -> None:
    """One line on stderr."""
    print(f"voicecheck: {clean(text)}", file=sys.stderr)


@contextmanager
def opened(log: Path | None, url: str | None, *, every: bool = True) -> Iterator[Database]:
    """The logbook, after filing what lies in the log folder and is not in it yet."""
    from voicecheck.logbook.store.database import open_database
    from voicecheck.logbook.store.delivery import deliver

    folder = log or default_log()
    database = open_database(url, folder)
    try:
        signer = signing(None)
        deliver(folder, database, signer.sign_entry if signer else None, every=every)
        yield database
    finally:
        database.close()


def there(log: Path | None, url: str | None) -> bool:
    """Whether there can be a logbook: looking must not make one."""
    return url is not None or (log or default_log()).exists()


def require_log(log: Path | None, url: str | None) -> None:
    """Raise VoicecheckError where there is nothing to ask: silence must not pass for an answer."""
    if not there(log, url):
        folder = log or default_log()
        raise VoicecheckError(f"{folder}: no log there yet; run a session, or name one with --log")


def signing(key: Path | None) -> Signer | None:
    """The signer of this machine. A key that was named must be there. Raises VoicecheckError."""
    signer = signer_from(key or default_key())
    if key is not None and signer is None:
        raise VoicecheckError(f"{key}: no such key; make it with `voicecheck log key --key {key}`")
    return signer


def put(path: Path, content: str | bytes, *, force: bool) -> None:
    """Write a file that the user named; an existing one only if they said so."""
    if (path.exists() or path.is_symlink()) and not force:
        raise VoicecheckError(f"{path}: exists already; name another file or add --force")
    file_text(path, content)


def moment_of(text: str | None) -> datetime:
    """An RFC 3339 time as given by the user; now where none was. Raises VoicecheckError."""
    return parse(text) if text is not None else datetime.now(UTC)
