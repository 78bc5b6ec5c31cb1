"""How the logbook's answers take longer as it grows: the same questions at three sizes."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter, process_time
from typing import Final

from sqlalchemy import select, text

from voicecheck.errors import VoicecheckError
from voicecheck.logbook.pages import fleet_page, history_page
from voicecheck.logbook.report import report
from voicecheck.logbook.session_pdf import session_pdf
from voicecheck.logbook.store.database import FILE, Database, open_database
from voicecheck.logbook.store.ledger import follow
from voicecheck.logbook.store.looking import context_of, fleet, history
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import find_session, listed, of_airframe, session_from
from voicecheck.logbook.store.tables import head
from voicecheck.logbook.transcript import transcript
from voicecheck.measure.invented_log import Invented, journal_of
from voicecheck.measure.logbook_fill import fill, registration
from voicecheck.measure.table import Cell, Table

SIZES: Final = (1_000, 10_000, 100_000)
REPEATS: Final = 3
QUESTIONS: Final = (
    "open file",
    "list",
    "show",
    "trend",
    "report",
    "PDF",
    "open",
    "fleet",
    "file one",
    "follow chain",
)


def measure_logbook(sizes: tuple[int, ...] = SIZES, url: str | None = None) -> Table:
    """Fill a logbook to each size in turn and ask it everything.

    sizes: sessions, ascending, 4 or more. url: an empty database; None: SQLite in a folder that
    goes again. Raises VoicecheckError, before anything is written, for other sizes and for a
    database that holds something.
    """
    if list(sizes) != sorted({*sizes}):
        raise VoicecheckError(f"sizes {', '.join(map(str, sizes))}: give the smallest first")
    rows: list[tuple[Cell, ...]] = []
    with ExitStack() as stack:
        log = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="voicecheck-log-")))
        database = open_database(url, log)
        stack.callback(database.close)
        _check_empty(database)
        last = 0
        for size in sizes:
            began = perf_counter()
            fill(database, last, size)
            filled, last = perf_counter() - began, size
            rows.append(_row(database, log, url, size, filled))
    return Table(
        "Logbook: seconds for one answer, by how many sessions are filed",
        ("sessions", "MB", "filled", *QUESTIONS),
        tuple(rows),
        (
            "Each is the best of three, in a running program with the database open: wall clock, "
            "then processor time in brackets. 'open file' is the time to open the database; one "
            "airframe has a hundredth of all sessions; 'fleet' asks about all of them.",
            "Sessions are invented: 30 items, one timed window, a finding in every twentieth. "
            "'filled' is a bulk load and no measure of filing; 'file one' is.",
            f"Database: {'PostgreSQL or other by URL' if url else 'SQLite'}.",
        ),
    )


def _check_empty(database: Database) -> None:
    """Invented sessions must never stand beside real ones."""
    with database.reading() as connection:
        filed = connection.execute(select(head.c.n)).scalar_one()
    if filed:
        raise VoicecheckError(
            f"{database.name}: a logbook with {filed} entries; name an empty database to measure in"
        )


def _row(
    database: Database, log: Path, url: str | None, size: int, filled: float
) -> tuple[Cell, ...]:
    airframe = registration(3)
    now = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(days=size // 100)
    one = Invented(airframe, now, bad=(4,), suffix=f"{size:x}")
    _place(log, one)
    post(database, copy_of(log / one.id))
    number = iter(range(1, 1000))

    def file_one() -> None:
        new = Invented(airframe, now + timedelta(minutes=next(number)), suffix=f"{size:x}")
        _place(log, new)
        post(database, copy_of(log / new.id))

    def asked(question: Callable[[], object]) -> str:
        best = min((_timed(question) for _ in range(REPEATS)), key=lambda pair: pair[0])
        return f"{best[0]:.3f} ({best[1]:.3f})"

    def reading(question: Callable[..., object]) -> Callable[[], object]:
        def ask() -> object:
            with database.reading() as connection:
                return question(connection)

        return ask

    def session(connection: object) -> object:
        row = find_session(connection, one.id)  # type: ignore[arg-type]
        return session_from(connection, row)  # type: ignore[arg-type]

    answers = {
        "open file": lambda: open_database(url, log).close(),
        "list": reading(lambda c: listed(c, airframe)),
        "show": reading(lambda c: transcript(session(c))),  # type: ignore[arg-type]
        "trend": reading(lambda c: history_page(history(c, airframe, now))),
        "report": reading(
            lambda c: report(session(c), context_of(c, airframe, now, one.id))  # type: ignore[arg-type]
        ),
        "PDF": reading(
            lambda c: session_pdf(session(c), context_of(c, airframe, now, one.id))  # type: ignore[arg-type]
        ),
        "open": reading(lambda c: of_airframe(c, airframe)),
        "fleet": reading(lambda c: fleet_page(fleet(c, now), now)),
        "file one": file_one,
        "follow chain": reading(follow),
    }
    megabytes = _size(database, log) / 1e6
    return (size, round(megabytes), round(filled, 1), *(asked(answers[name]) for name in QUESTIONS))


def _place(log: Path, one: Invented) -> None:
    data, _ = journal_of(one)
    (log / one.id).mkdir()
    (log / one.id / "journal.jsonl").write_bytes(data)


def _timed(question: Callable[[], object]) -> tuple[float, float]:
    wall, cpu = perf_counter(), process_time()
    question()
    return perf_counter() - wall, process_time() - cpu


def _size(database: Database, log: Path) -> int:
    if database.engine.dialect.name == "sqlite":
        file = Path(database.engine.url.database or log / FILE)
        return file.stat().st_size
    with database.reading() as connection:
        return int(
            connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one()
        )
