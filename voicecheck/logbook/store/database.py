"""Opening the logbook's database: SQLite in the log folder, or PostgreSQL by its URL.

Every write takes place in one transaction that first takes the one row of `head`: several
writers, on one machine or on many, come one after another and none loses a line.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event, inspect, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, SQLAlchemyError

from voicecheck.errors import VoicecheckError
from voicecheck.journal.storage import make_private

FILE: Final = "logbook.sqlite"
REVISION: Final = "0002"
"""The shape of the database that this program reads and writes."""
_PATIENCE_S: Final = 30
"""How long a writer waits for another one."""
_CONNECT_S: Final = 4
_MIGRATION_LOCK: Final = 0x766F6963
"""PostgreSQL advisory lock under which one machine alone migrates."""


class DatabaseAway(VoicecheckError):
    """The database cannot be reached or refuses now; what was to be filed waits in the spool."""


class Database:
    """An open logbook. `name` tells it to a user, without a password."""

    def __init__(self, engine: Engine, name: str) -> None:
        self.engine = engine
        self.name = name

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for one consistent look. Raises DatabaseAway."""
        with self._told(), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction, committed at the end or not at all. Raises DatabaseAway."""
        with self._told(), self.engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            raise DatabaseAway(
                f"{self.name}: the logbook cannot be used now ({_reason(error)}); nothing is "
                "lost, `voicecheck log deliver` files what waits"
            ) from error


def open_database(url: str | None, log: Path) -> Database:
    """The database at `url`, else the file `logbook.sqlite` in `log`; made or migrated if needed.

    url: sqlite:///FILE or postgresql://USER@HOST/NAME. Raises DatabaseAway when it cannot be
    reached, VoicecheckError for a URL or a database that is not for this program.
    """
    target = _url(url, log)
    name = target.render_as_string(hide_password=True)
    if target.get_backend_name() == "sqlite":
        _make_file(Path(target.database or ""))
    try:
        engine = create_engine(target, connect_args=_arguments(target), pool_pre_ping=True)
    except ModuleNotFoundError as error:
        raise VoicecheckError(
            f"{name}: the driver for PostgreSQL is not installed; "
            "install voicecheck with its extra, voicecheck[postgresql]"
        ) from error
    if target.get_backend_name() == "sqlite":
        _prepare_sqlite(engine)
    database = Database(engine, name)
    try:
        _migrate(database)
    except BaseException:
        database.close()
        raise
    return database


def _url(url: str | None, log: Path) -> URL:
    if url is None:
        return URL.create("sqlite", database=str(log / FILE))
    try:
        found = make_url(url)
        backend = found.get_backend_name()
    except (ArgumentError, NoSuchModuleError, ValueError) as error:  # a port that is none
        raise VoicecheckError(
            "the database URL cannot be read; write sqlite:///FILE or postgresql://USER@HOST/NAME"
        ) from error
    if backend == "postgresql":
        return found.set(drivername="postgresql+psycopg")
    if backend == "sqlite" and found.database:
        return found.set(drivername="sqlite")
    raise VoicecheckError(
        f"{found.render_as_string(hide_password=True)}: not a database for a logbook; "
        "write sqlite:///FILE or postgresql://USER@HOST/NAME"
    )


def _arguments(url: URL) -> dict[str, Any]:
    if url.get_backend_name() == "sqlite":
        return {"timeout": _PATIENCE_S}
    return {
        "connect_timeout": _CONNECT_S,
        "options": f"-c lock_timeout={_PATIENCE_S}s -c timezone=UTC",
        "keepalives_idle": 10,
        "tcp_user_timeout": 20_000,
    }


def _make_file(path: Path) -> None:
    """The file private from its first byte on. Raises DatabaseAway."""
    try:
        make_private(path.parent)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600))
    except OSError as error:
        raise DatabaseAway(
            f"{path}: the logbook cannot be opened ({error.strerror}); mend the folder, then "
            "`voicecheck log deliver`"
        ) from error


def _prepare_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _connected(connection: Any, _record: object) -> None:
        connection.isolation_level = None  # transactions are begun below, not by the driver
        cursor = connection.cursor()
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begun(connection: Connection) -> None:
        # A reader that turns into a writer half-way could be refused: writers say so at once.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _migrate(database: Database) -> None:
    """Bring the tables to REVISION. Raises VoicecheckError for a database of a later program."""
    with database.reading() as connection:
        found = _revision(connection)
    if found == REVISION:
        return
    with database.writing() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:k)"), {"k": _MIGRATION_LOCK})
        found = _revision(connection)  # another process may have been first
        if found != REVISION:
            upgrade(connection, found, database.name)


def upgrade(connection: Connection, found: str | None, name: str) -> None:
    """Take every step from `found` to REVISION within the caller's transaction."""
    from alembic import command  # late: needed once in the life of a database
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", "voicecheck.logbook.store:migrations")
    config.attributes["connection"] = connection
    known = {step.revision for step in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise VoicecheckError(
            f"{name}: was written by a later voicecheck (database {found}, this one knows "
            f"{REVISION}); update voicecheck"
        )
    others = set(inspect(connection).get_table_names()) - {"alembic_version"}
    if found is None and others:
        raise VoicecheckError(
            f"{name}: holds other tables ({', '.join(sorted(others)[:3])}) and no logbook; "
            "name an empty database"
        )
    command.upgrade(config, REVISION)


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return str(found) if found is not None else None


def _reason(error: SQLAlchemyError) -> str:
    cause = error.orig if isinstance(error, DBAPIError) else error
    return " ".join(str(cause).split())[:200]
