"""Options and openings that the `log` commands share."""

from __future__ import annotations

import enum
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import platformdirs
import typer

from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import parse
from voicecheck.logbook.filing import file_text
from voicecheck.logbook.signing import signer_from
from voicecheck.logbook.wording import clean

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from voicecheck.logbook.store.database import Database
    from voicecheck.logbook.store.ledger import Sign


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


@dataclass(frozen=True, slots=True)
class To:
    """The file that the user named, if any."""

    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="File to write.")] = None
    force: Annotated[bool, typer.Option("--force", help="Replace FILE if it exists.")] = False

    def write(self, content: Callable[[], str | bytes]) -> None:
        """Write what `content` makes, if a file was named; an existing one only by force."""
        if self.out is None:
            return
        made = content()
        if (self.out.exists() or self.out.is_symlink()) and not self.force:
            raise VoicecheckError(f"{self.out}: exists already; name another file or add --force")
        file_text(self.out, made)


@dataclass(frozen=True, slots=True)
class Book:
    """Which log folder, and which logbook."""

    log: Annotated[
        Path | None,
        typer.Option(
            "--log",
            envvar="VOICECHECK_LOG",
            help="Log folder. Default: `voicecheck/log` among the user's state files.",
            show_default=False,
        ),
    ] = None
    database: Url = None

    @property
    def folder(self) -> Path:
        """The log folder."""
        return self.log or default_log()

    @property
    def there(self) -> bool:
        """Whether there can be a logbook: looking must not make one."""
        return self.database is not None or self.folder.exists()

    def require(self) -> None:
        """Raise VoicecheckError where there is nothing to ask: silence is no answer."""
        if not self.there:
            raise VoicecheckError(
                f"{self.folder}: no log there yet; run a session, or name one with --log"
            )

    @contextmanager
    def opened(self) -> Iterator[Database]:
        """The logbook, after filing what lies in the log folder and is not in it yet."""
        from voicecheck.logbook.store.database import open_database
        from voicecheck.logbook.store.delivery import deliver

        database = open_database(self.database, self.folder)
        try:
            deliver(self.folder, database, signing(None), every=True)
            yield database
        finally:
            database.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The logbook's rows, once all that lies in the log folder is filed."""
        with self.opened() as database, database.reading() as connection:
            yield connection


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


def signing(key: Path | None) -> Sign | None:
    """How this machine signs, if it does. A named key must be there. Raises VoicecheckError."""
    signer = signer_from(key or default_key())
    if key is not None and signer is None:
        raise VoicecheckError(f"{key}: no such key; make it with `voicecheck log key --key {key}`")
    return None if signer is None else signer.sign_entry


def moment_of(text: str | None) -> datetime:
    """An RFC 3339 time as given by the user; now where none was. Raises VoicecheckError."""
    return parse(text) if text is not None else datetime.now(UTC)
