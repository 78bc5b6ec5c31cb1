from __future__ import annotations

import copy
import itertools
import json
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import postgres
import pytest
import sqlalchemy as sa

from voicecheck.caution import CAUTION
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.journal.writer import JournalWriter
from voicecheck.logbook.store.database import Database, open_database

SESSION = "20261125T061500Z-ZZ-HAA-4f2a"
STARTED = "2026-11-25T06:15:00.000Z"
POWER = {"battery": "on", "avionics": "off"}


def utc(seconds: float) -> str:
    """UTC of a stream time in the sample session."""
    start = parse(STARTED)
    return format_utc(start.fromtimestamp(start.timestamp() + seconds, start.tzinfo))


def item(name: str, position: str, outcome: str, **more: object) -> dict[str, object]:
    start = more.pop("start", None)
    times = None
    if isinstance(start, float):
        times = {"start": start, "end": start + 0.9, "utc": utc(start)}
    return {
        "id": name,
        "position": name.split(".")[0],
        "position_name": position,
        "outcome": outcome,
        "expected": "three green",
        "called": "three green" if times else None,
        "times": times,
        "reason": None,
        "power": POWER,
        "history": [],
        **more,
    }


def finding(name: str, **more: object) -> dict[str, object]:
    return {
        "item": name,
        "position_name": "Engine fire",
        "what": "FIRE R dark",
        "expected": "both fire lights",
        "called": "one fire light, right dark",
        "lamp": "FIRE R",
        "at": 42.3,
        "utc": utc(42.3),
        "power": POWER,
        "consequence": "A fire in the right engine would not be shown by this light.",
        "caution": None,
        "chapter": "26",
        "mel": {"item": "26-11-1", "category": "B", "remark": "one light may be out by day"},
        "timing": None,
        "superseded": False,
        **more,
    }


def _summary() -> dict[str, Any]:
    return {
        "schema": 1,
        "caution": CAUTION,
        "voicecheck": "0.1.0",
        "session": SESSION,
        "checklist": {"id": "tarn-40", "title": "Tarn 40 warning systems", "sha256": "ab" * 32},
        "airframe": "ZZ-HAA",
        "type": "Tarn 40",
        "operator": "Hollin Air Ambulance",
        "crew": {"pilot": "A. Wren", "second": "B. Lapwing"},
        "started": STARTED,
        "ended": utc(131.5),
        "duration_s": 131.5,
        "source": {"kind": "file", "name": "morning.wav"},
        "listeners": ["pocketsphinx"],
        "complete": False,
        "reason": "the recording ended before every item was called",
        "items": [
            item("gear.greens", "Landing gear", "satisfactory", start=12.3),
            item(
                "gear.horn",
                "Landing gear",
                "satisfactory",
                start=64.0,
                expected="gear horn",
                called="gear horn",
                history=[
                    {
                        "outcome": "unsatisfactory",
                        "called": "no horn",
                        "start": 17.0,
                        "end": 17.6,
                        "reason": None,
                    }
                ],
            ),
            item(
                "fire.lights",
                "Engine fire",
                "unsatisfactory",
                start=42.3,
                expected="both fire lights",
                called="one fire light, right dark",
            ),
            item(
                "fire.out",
                "Engine fire",
                "unsatisfactory",
                start=53.0,
                expected="fire lights out",
                called="lights out",
            ),
            item(
                "stall.shaker",
                "Stall warning",
                "void",
                expected="shaker left and right",
                reason="avionics went off while it was tested",
            ),
            item(
                "overspeed.clacker",
                "Overspeed",
                "not tested",
                expected="clacker",
                reason="not reached",
            ),
            item(
                "reverser.lights",
                "Reversers",
                "not fitted",
                start=80.0,
                expected="reverser unlocked",
                called="not fitted",
                reason="removed from this airframe",
            ),
        ],
        "findings": [
            finding("fire.lights"),
            finding(
                "fire.out",
                what="fire lights went out late",
                expected="fire lights out",
                called="lights out",
                lamp=None,
                at=53.0,
                utc=utc(53.0),
                mel=None,
                caution="Do not hold the test switch for more than ten seconds.",
                timing={"lower": 3.0, "upper": 5.0, "low": 5.6, "high": 6.2},
            ),
            finding(
                "gear.horn",
                position_name="Landing gear",
                what="no gear horn",
                expected="gear horn",
                called="no horn",
                lamp=None,
                at=17.0,
                utc=utc(17.0),
                chapter="32",
                mel=None,
                superseded=True,
            ),
        ],
        "void": ["stall.shaker"],
        "not_tested": [{"id": "overspeed.clacker", "reason": "not reached"}],
        "timings": [
            {
                "item": "fire.out",
                "lower": 3.0,
                "upper": 5.0,
                "low": 5.6,
                "high": 6.2,
                "verdict": "late",
                "at": 53.0,
            },
            {
                "item": "gear.horn",
                "lower": None,
                "upper": 4.0,
                "low": 1.1,
                "high": 1.7,
                "verdict": "within",
            },
        ],
        "power": [
            {"bus": "battery", "state": "on", "at": 3.0, "utc": utc(3.0)},
            {"bus": "avionics", "state": "off", "at": 70.0, "utc": utc(70.0)},
        ],
        "counts": {"heard": 9, "unclear": 1, "ignored": 1},
    }


@pytest.fixture
def summary() -> dict[str, Any]:
    """A summary with two findings, a re-test, a void and an untested item."""
    return copy.deepcopy(_summary())


def _heard(words: str, start: float, *said: str, channel: int = 0, notes: object = ()) -> Any:
    return start + 0.9, {
        "event": {
            "type": "heard",
            "callout": "k",
            "words": words,
            "start": start,
            "end": start + 0.9,
            "confidence": 0.9,
            "channel": channel,
        },
        "effects": list(notes) if isinstance(notes, list | tuple) else [],
        "said": list(said),
        "digest": "0" * 64,
    }


def _note(kind: str, at: float, **facts: object) -> dict[str, object]:
    return {"type": "note", "kind": kind, "at": at, "facts": facts}


def _prompted(start: float, end: float) -> Any:
    event = {"type": "prompted", "start": start, "end": end}
    return end, {"event": event, "effects": [], "said": [], "digest": "0" * 64}


COURSE: list[Any] = [
    (0.0, {"event": {"type": "began", "now": 0.0}, "effects": [], "said": ["Power?"]}),
    _prompted(0.4, 1.9),
    _heard("battery on", 3.0, "Landing gear."),
    _prompted(4.2, 5.6),
    _heard(
        "three green",
        12.3,
        "Horn?",
        notes=[_note("result", 12.3, item="gear.greens", outcome="satisfactory")],
    ),
    _heard("no horn", 17.0, notes=[_note("finding", 17.0, item="gear.horn", what="no gear horn")]),
    _heard("one fire light right dark", 42.3, "Right fire light dark. Confirm.", channel=1),
    (50.0, {"event": {"type": "unclear", "start": 48.0, "end": 49.1, "guess": ["fire.out"]}}),
    _heard("lights out", 53.0),
    _heard("gear horn", 64.0),
    (80.0, {"event": {"type": "keypressed", "callout": "not fitted", "at": 80.0}}),
    (131.5, {"event": {"type": "ended", "at": 131.5, "reason": "end of the recording"}}),
]


@pytest.fixture
def write_session(tmp_path: Path) -> Callable[..., Path]:
    """Write a session folder into tmp_path/log; returns the folder."""

    def write(
        summary: dict[str, Any] | None,
        session: str = SESSION,
        course: list[Any] = COURSE,
        **header_changes: object,
    ) -> Path:
        source = _summary() if summary is None else summary
        folder = tmp_path / "log" / session
        header = {
            key: source[key]
            for key in ("schema", "voicecheck", "started", "airframe", "operator", "crew")
        } | {
            "session": session,
            "checklist": {**source["checklist"], "resolved": {}},
            "source": source["source"],
            "listeners": source["listeners"],
            "language": "en",
            "rate": 16000,
            "settings": {},
            "caution": CAUTION,
            **header_changes,
        }
        with closing(JournalWriter.create(folder, header)) as writer:
            for at, fields in course:
                writer.append("event", fields, utc(at))
            writer.append(
                "speech", {"start": 90.0, "end": 91.4, "reason": "chatter", "text": ""}, utc(91.4)
            )
            if summary is not None:
                stated = {**summary, "session": session}
                writer.append("summary", {"summary": stated}, utc(131.5))
                (folder / "summary.json").write_text(json.dumps(stated, indent=1))
        return folder

    return write


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    with postgres.server() as url:
        yield url


_numbers = itertools.count()


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """The URL of an empty database, on each of the two that are supported."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'book.sqlite'}"
    server: str = request.getfixturevalue("postgres_server")
    name = f"book{next(_numbers)}"
    admin = server.replace("postgresql:", "postgresql+psycopg:").replace("NAME", "postgres")
    engine = sa.create_engine(admin, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name}"))
    engine.dispose()
    return server.replace("NAME", name)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    folder = tmp_path / "log"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture
def book(url: str, log: Path) -> Iterator[Database]:
    """An open logbook, empty, on each database."""
    database = open_database(url, log)
    yield database
    database.close()


@pytest.fixture
def lite(log: Path) -> Iterator[Database]:
    """An open logbook on SQLite alone, where the database makes no difference."""
    database = open_database(None, log)
    yield database
    database.close()
