"""What is open, deferred, cleared or repeated, and what was done about it."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from invented import place
from typer.testing import CliRunner

from voicecheck.cli.log import app
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.discrepancies import Discrepancy, Status
from voicecheck.logbook.open_items import line_of
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import audit
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import of_airframe
from voicecheck.measure.invented_log import Invented

START = datetime(2026, 1, 26, 10, 0, tzinfo=UTC)
BAD = 3
"""Number of the item that is bad; its MEL category is C."""


def day(number: int, **more: object) -> Invented:
    facts: dict[str, object] = {"bad": (BAD,), "suffix": f"{number:04d}", **more}
    return Invented("ZZ-HAA", START + timedelta(days=number), **facts)  # type: ignore[arg-type]


def file(book: Database, log: Path, *sessions: Invented) -> None:
    for one in sessions:
        post(book, copy_of(place(log, one)))


def found(book: Database) -> list[Discrepancy]:
    with book.reading() as connection:
        return of_airframe(connection, "ZZ-HAA")


def test_findings_of_one_item_belong_together_until_it_is_cleared(
    book: Database, log: Path
) -> None:
    file(book, log, day(0), day(1), day(5))
    act(book, f"{day(1).id}/1", Deed(Act.CLEARED, who="M. Dipper", reference="TL 4",
        at=START + timedelta(days=2)))  # fmt: skip
    told = found(book)
    assert [(len(d.findings), d.status) for d in told] == [(2, Status.CLEARED), (1, Status.OPEN)]
    assert told[1].repeats is not None
    assert told[1].repeats.reference == "TL 4"
    assert "came up again after sign-off TL 4" in line_of(told[1], START + timedelta(days=5))


def test_the_order_of_delivery_does_not_matter_before_a_sign_off(book: Database, log: Path) -> None:
    sessions = [day(number) for number in (0, 1, 5, 6)]
    random.Random(4).shuffle(sessions)
    file(book, log, *sessions)
    act(book, f"{day(1).id}/1", Deed(Act.CLEARED, who="M. Dipper", reference="TL 4",
        at=START + timedelta(days=2)))  # fmt: skip
    assert [(d.first.name, len(d.findings), d.status.value) for d in found(book)] == [
        (f"{day(0).id}/1", 2, "cleared"),
        (f"{day(5).id}/1", 2, "open"),
    ]


def test_what_is_delivered_after_a_sign_off_was_not_signed_off(book: Database, log: Path) -> None:
    """Nobody who signed off had seen it: late, or of a clock that is behind, which it may be."""
    file(book, log, day(1))
    act(book, f"{day(1).id}/1", Deed(Act.CLEARED, who="M. Dipper", reference="TL 4",
        at=START + timedelta(days=2)))  # fmt: skip
    file(book, log, day(0))
    told = {d.name: d for d in found(book)}
    assert told[f"{day(1).id}/1"].status is Status.CLEARED
    late = told[f"{day(0).id}/1"]
    assert late.status is Status.OPEN
    assert "came up again after sign-off TL 4" in line_of(late, START)


def test_a_deferral_counts_from_the_first_finding(book: Database, log: Path) -> None:
    file(book, log, day(0), day(4))
    done = act(book, f"{day(4).id}/1", Deed(Act.DEFERRED, who="M. Dipper", reference="TL 5",
               at=START + timedelta(days=5)))  # fmt: skip
    # category C, ten days, day of discovery 26 January not counted
    assert (done["category"], done["due"]) == ("C", "2026-02-05")
    entry = found(book)[0]
    assert entry.status is Status.DEFERRED
    assert not entry.overdue(datetime(2026, 2, 5, 23, 59, tzinfo=UTC))
    assert entry.overdue(datetime(2026, 2, 6, tzinfo=UTC))
    assert "due by the end of 2026-02-05 (UTC), which has passed" in line_of(
        entry, datetime(2026, 2, 6, tzinfo=UTC)
    )


def test_the_operators_calendar_decides_the_day(book: Database, log: Path) -> None:
    one = Invented("ZZ-HAA", datetime(2026, 1, 26, 12, 30, tzinfo=UTC), bad=(BAD,),
                   zone="Pacific/Auckland")  # fmt: skip
    file(book, log, one)
    done = act(
        book, f"{one.id}/1", Deed(Act.DEFERRED, who="M", reference="T", at=datetime.now(UTC))
    )
    assert (done["due"], done["zone"]) == ("2026-02-06", "Pacific/Auckland")


def test_reopened_and_corrected(book: Database, log: Path) -> None:
    file(book, log, day(0))
    name, at = f"{day(0).id}/1", START + timedelta(hours=1)
    act(book, name, Deed(Act.CLEARED, who="M", reference="T", at=at))
    act(book, name, Deed(Act.CORRECTED, who="A. Wren", note="it was lamp 4", at=at))
    assert found(book)[0].status is Status.CLEARED
    act(book, name, Deed(Act.REOPENED, who="M", at=at))
    entry = found(book)[0]
    assert entry.status is Status.OPEN
    assert entry.last.what == "lamp 3 dark"  # what was recorded stays
    assert "corrected: it was lamp 4" in line_of(entry, START)
    with book.reading() as connection:
        assert audit(connection).problems == ()


@pytest.mark.parametrize(
    ("kind", "more", "words"),
    [
        (Act.CLEARED, {"reference": ""}, "name the entry of the technical log"),
        (Act.CLEARED, {"who": " "}, "needs who did it"),
        (Act.CORRECTED, {"note": ""}, "needs its text"),
        (Act.CLEARED, {"at": START - timedelta(days=1)}, "before the finding"),
        # dated ahead, it would sign off what is found from now until then
        (Act.CLEARED, {"at": datetime.now(UTC) + timedelta(days=1)}, "has not come yet"),
        (Act.DEFERRED, {"category": "B"}, "category B differs from C"),
        (Act.DEFERRED, {"category": "X"}, "category X differs from C"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_filed(
    lite: Database, log: Path, kind: Act, more: dict[str, object], words: str
) -> None:
    file(lite, log, day(0))
    facts: dict[str, object] = {"who": "M", "reference": "T", "at": START + timedelta(days=1)}
    with pytest.raises(VoicecheckError, match=words):
        act(lite, f"{day(0).id}/1", Deed(kind, **{**facts, **more}))  # type: ignore[arg-type]
    with lite.reading() as connection:
        assert audit(connection).entries == 1
    assert found(lite)[0].actions == []


def call(*words: object) -> Result:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert "Traceback" not in result.output
    return result


def test_the_commands(log: Path) -> None:
    place(log, day(0, pilot="Łucja Wren"))
    opened = call("open", "ZZ-HAA", "--log", log, "--text")
    assert opened.exit_code == 1
    name = f"{day(0).id}/1"
    assert name in opened.stdout
    text = " ".join(opened.stdout.split())
    for part in (
        "Position 3 selected, power avionics on, battery on: lamp 3 dark.",
        "Expected “both lights”, “one light” was called at 2026-01-26T10:00:12Z",
        "System chapter 32.",
        "Crew: pilot Łucja Wren.",
        "Advisory only, not approved equipment.",
    ):
        assert part in text
    who = ("--by", "M. Dipper 123", "--log", log)
    deferred = call("defer", name, "--reference", "TL 1", *who)
    assert deferred.exit_code == 0
    assert "due by the end of 2026-02-05 (UTC)" in deferred.stdout
    told = json.loads(call("open", "--json", "--log", log).stdout)["rows"]
    assert [(row["status"], row["due"], row["overdue"]) for row in told] == [
        ("deferred", "2026-02-05", True)
    ]
    assert call("correct", name, "--note", "lamp 4", *who).exit_code == 0
    assert call("clear", name, "--reference", "TL 2", *who).exit_code == 0
    assert call("open", "--log", log).exit_code == 0
    assert "cleared" in call("open", "--all", "--log", log).stdout
    assert call("reopen", name, *who).exit_code == 0
    fleet = call("fleet", "--log", log)
    assert "ZZ-HAA 1 open, 0 deferred" in fleet.stdout
    assert call("verify", "--all", "--log", log).exit_code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("clear", "x", "--by", "M", "--reference", "T"), "does not name a finding"),
        (("clear", "1999/1", "--by", "M", "--reference", "T"), "no finding 1999/1 is filed"),
        (("clear", "{id}/1", "--by", "M", "--reference", "T", "--at", "noon"), "not an RFC 3339"),
        (("trend", "ZZ-NIX"), "no session of ZZ-NIX is filed"),
        (("export", "everything"), "choose sessions, discrepancies"),
        (("export", "items", "--format", "xls"), "choose csv or json"),
        (("report", "latest", "--format", "doc"), "choose html, pdf"),
        (("purge",), "name sessions, or say --older-than"),
        (("purge", "x", "--yes"), "x: is not filed"),
        (("open", "--database", "mysql://x/y"), "not a database for a logbook"),
    ],
)
def test_bad_input_is_one_line_with_a_remedy(log: Path, words: tuple[str, ...], told: str) -> None:
    place(log, day(0))
    result = call(*(word.format(id=day(0).id) for word in words), "--log", log)
    assert result.exit_code == 2
    assert told in result.stderr
    assert result.stderr.count("\n") == 1
