"""A discrepancy is one lamp: what is new never stands behind what was deferred or signed off."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from cockpit import Cockpit
from fleet import loaded
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from voicecheck.cli.log import app
from voicecheck.errors import VoicecheckError
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.discrepancies import Discrepancy, Done, Found, Status, discrepancies
from voicecheck.logbook.export import discrepancy_row
from voicecheck.logbook.open_items import line_of, text_of
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import audit
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.looking import context_of
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.reading import of_airframe
from voicecheck.session.from_log import tell

FIRST = datetime(2026, 11, 1, 10, 0, tzinfo=UTC)
REG = "ZZ-HJC"


def session(log: Path, started: datetime, *calls: str) -> str:
    """A session in which the left reverser lamps are called so; returns its id."""
    cockpit = Cockpit(log, started=started)
    for words in ("battery on and avionics on", "affirm", "going to reversers", *calls):
        cockpit.say(words)
        cockpit.quiet()
    cockpit.close()
    return cockpit.folder.name


def file(book: Database, log: Path, day: int, *calls: str) -> str:
    return file_at(book, log, FIRST + timedelta(days=day), *calls)


def file_at(book: Database, log: Path, started: datetime, *calls: str) -> str:
    name = session(log, started, *calls)
    post(book, copy_of(log / name))
    return name


def found(book: Database) -> list[Discrepancy]:
    with book.reading() as connection:
        assert audit(connection).problems == ()
        return of_airframe(connection, REG)


def told(entries: list[Discrepancy]) -> list[tuple[str, str | None, str, int]]:
    return [(e.name, e.lamp, e.status.value, len(e.findings)) for e in entries]


def do(kind: Act, day: int, **more: object) -> Deed:
    facts: dict[str, object] = {"who": "M. Dipper", "reference": "TL 17", **more}
    return Deed(kind, at=FIRST + timedelta(days=day, hours=1), **facts)  # type: ignore[arg-type]


ARMED = ("left side two", "left armed dark")
BOTH = ("left side one", "left armed dark", "left unlocked dark")


def test_a_new_dark_lamp_beside_a_deferred_one_is_open(book: Database, log: Path) -> None:
    one = file(book, log, 0, *ARMED)
    assert told(found(book)) == [(f"{one}/1", "L ARM", "open", 1)]
    first = act(book, f"{one}/1", do(Act.DEFERRED, 0))
    two = file(book, log, 4, *BOTH)
    assert told(found(book)) == [
        (f"{one}/1", "L ARM", "deferred", 2),
        (f"{two}/1.2", "L UNLOCK", "open", 1),
    ]
    now = FIRST + timedelta(days=5)
    lines = [line_of(entry, now) for entry in found(book)]
    assert "Thrust reversers: L ARM dark; deferred" in lines[0]
    assert "Thrust reversers: L UNLOCK dark; open since 2026-11-05" in lines[1]
    assert text_of(found(book)[1]).endswith("This entry is about: L UNLOCK dark.")
    rows = [discrepancy_row(entry, now) for entry in found(book)]
    assert [(row["lamp"], row["what"], row["status"]) for row in rows] == [
        ("L ARM", "L ARM dark", "deferred"),
        ("L UNLOCK", "L UNLOCK dark", "open"),
    ]
    language = loaded(REG).language
    with book.reading() as connection:
        context = context_of(connection, REG, now, two)
    said = [language.render(one.prompt, one.values) for one in tell(context, language)]
    assert "From the log: Thrust reversers, L UNLOCK dark. Open 1 days." in said
    assert any("L ARM dark. Deferred" in text for text in said)

    # What names both is not deferred in one go: each lamp has its own entry, and its own days.
    with pytest.raises(VoicecheckError, match=r"is of 2 lamps.*/1\.1 L ARM, .*/1\.2 L UNLOCK"):
        act(book, f"{two}/1", do(Act.DEFERRED, 5))
    with pytest.raises(VoicecheckError, match="has no such lamp"):
        act(book, f"{two}/1.3", do(Act.DEFERRED, 5))
    second = act(book, f"{two}/1.2", do(Act.DEFERRED, 5, reference="TL 18"))
    assert second["finding"] == f"{two}/1.2"
    days = [datetime.fromisoformat(str(done["due"])) for done in (first, second)]
    assert days[1] - days[0] == timedelta(days=4)
    act(book, f"{one}/1", do(Act.CLEARED, 5, reference="TL 19"))
    assert [(e.lamp, e.status.value) for e in found(book)] == [
        ("L ARM", "cleared"),
        ("L UNLOCK", "deferred"),
    ]
    with book.reading() as connection:
        actions = context_of(connection, REG, now, two).actions
    assert [done.lamp for done in actions[1]] == ["L UNLOCK"]


def test_a_lamp_that_nobody_named_may_be_another_each_time(book: Database, log: Path) -> None:
    one = file(book, log, 0, "left side two")
    act(book, f"{one}/1", do(Act.DEFERRED, 0))
    two = file(book, log, 1, "left side two")
    three = file(book, log, 2, *ARMED)
    assert told(found(book)) == [
        (f"{one}/1", None, "deferred", 1),
        (f"{two}/1", None, "open", 1),
        (f"{three}/1", "L ARM", "open", 1),
    ]
    act(book, f"{two}/1", do(Act.CLEARED, 2))
    four = file(book, log, 3, "left side two")
    again = found(book)[-1]
    assert (again.name, again.status) == (f"{four}/1", Status.OPEN)
    assert again.repeats is not None  # in the same words as what was signed off


def test_two_dark_and_one_named_leaves_one_that_is_not_known(book: Database, log: Path) -> None:
    """The named one is deferred already; the other may be any."""
    one = file(book, log, 0, *ARMED)
    act(book, f"{one}/1", do(Act.DEFERRED, 0))
    two = file(book, log, 1, "left side one", "left armed dark")
    assert told(found(book)) == [
        (f"{one}/1", "L ARM", "deferred", 2),
        (f"{two}/1.2", None, "open", 1),
    ]
    assert "L ARM dark, and more that was not named; open" in line_of(found(book)[1], FIRST)
    act(book, f"{two}/1.2", do(Act.CLEARED, 1))
    assert [e.status.value for e in found(book)] == ["deferred", "cleared"]


def call(*words: object) -> Result:
    result = CliRunner().invoke(app, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def test_the_commands_name_one_lamp(log: Path) -> None:
    name = session(log, FIRST, *BOTH)
    listed = call("open", "--log", log).stdout
    assert f"{name}/1.1" in listed
    assert f"{name}/1.2" in listed
    who = ("--by", "M. Dipper", "--reference", "TL 3", "--log", log)
    refused = call("clear", f"{name}/1", *who)
    assert refused.exit_code == 2
    assert "each a discrepancy of its own" in refused.stderr
    assert call("clear", f"{name}/1.1", *who).exit_code == 0
    rows = json.loads(call("open", "--json", "--log", log).stdout)["rows"]
    assert [row["lamp"] for row in rows] == ["L UNLOCK"]
    page = call("report", name, "--log", log)
    assert page.exit_code == 0
    html = (log / name / "report.html").read_text("utf-8")
    assert "of L ARM" in html
    assert f"({name}/1.2)" in html
    assert call("report", name, "--format", "pdf", "--log", log).exit_code == 0


@pytest.mark.parametrize(
    ("stamp", "behind"),
    [
        (datetime(2026, 11, 5, 14, 0, tzinfo=UTC), False),
        (datetime(2026, 11, 4, 14, 0, tzinfo=UTC), True),  # a day behind
        (datetime(2026, 11, 5, 9, 55, tzinfo=UTC), True),  # minutes behind
        (datetime(2026, 10, 20, 9, 0, tzinfo=UTC), True),  # before the first finding, too
    ],
)
def test_a_defect_seen_again_after_sign_off_is_open_whatever_a_clock_says(
    book: Database, log: Path, stamp: datetime, behind: bool
) -> None:
    one = file(book, log, 0, *ARMED)
    cleared = Deed(Act.CLEARED, "M. Dipper", datetime(2026, 11, 5, 10, 0, tzinfo=UTC), "TL 19")
    act(book, f"{one}/1", cleared)
    again = file_at(book, log, stamp, *ARMED)
    standing = [e for e in found(book) if e.status is Status.OPEN]
    assert any(f.name == f"{again}/1" for e in standing for f in e.findings)
    assert all(e.repeats is not None and e.repeats.reference == "TL 19" for e in standing)
    with book.reading() as connection:
        context = context_of(connection, REG, FIRST, again)
    assert (context.behind is not None) is behind


def _moment(day: int) -> str:
    return format_utc(FIRST + timedelta(days=day))


LAMPS = st.sampled_from([("A",), ("B",), ("A", "B"), ("A", None), (None,), ()])


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[Found], list[Done]]:
    """Findings and actions of one item in any order of filing, under any clocks."""
    found: list[Found] = []
    done: list[Done] = []
    for filed in range(1, draw(st.integers(2, 12))):
        day = draw(st.integers(0, 6))
        if not found or draw(st.booleans()):
            lamps = draw(LAMPS)
            found.append(
                Found(len(found) + 1, f"S{filed}/1", REG, "x.left", "X", "dark", _moment(day),
                      None, "C", None, "", "UTC", lamps, filed)
            )  # fmt: skip
        else:
            on = draw(st.sampled_from(found))
            lamp = draw(st.sampled_from([None, *(name or "" for name in on.lamps)]))
            kind = draw(
                st.sampled_from(["deferred", "cleared", "cleared", "reopened", "corrected"])
            )
            at = max(_moment(day), on.utc)  # never before its finding, as `act` asks
            done.append(
                Done(len(done) + 1, on.id, kind, at, "M", "T", "", None, None, None, lamp, filed)
            )
    return found, done


@given(histories())
def test_nothing_hides_whatever_was_filed_in_whatever_order(
    history: tuple[list[Found], list[Done]],
) -> None:
    found, done = history
    made = discrepancies(found, done)
    placed = [(f.id, e.lamp) for e in made for f in e.findings]
    assert sorted(placed, key=str) == sorted(
        ((f.id, lamp) for f in found for lamp in (f.lamps or (None,))), key=str
    )
    acts = {d.id: d for d in done}
    for entry in made:
        kinds = [d for d in entry.actions if d.kind != "corrected"]
        if entry.status is Status.CLEARED:
            last = acts[kinds[-1].id]
            for f in entry.findings:
                named = f.id == last.finding_id
                assert named or (f.filed < last.filed and parse(f.utc) < parse(last.at))
        elif entry.status is Status.DEFERRED:
            # One lamp with a name, or one finding alone: nothing else is behind the deferral.
            assert entry.lamp is not None or len({f.lamps for f in entry.findings}) == 1
            assert all(entry.lamp in (f.lamps or (None,)) for f in entry.findings)
            if entry.lamp is None and entry.first.lamps:
                assert len(entry.findings) == 1


def test_what_goes_on_to_another_lamp_is_not_what_was_acted_on(book: Database, log: Path) -> None:
    """Deferred while its session was unfinished; then the crew named a second lamp."""
    calls = ("left side two", "left armed dark", "left unlocked dark")
    name = session(log, FIRST, *calls)
    journal = log / name / "journal.jsonl"
    whole = journal.read_bytes()
    lines = whole.splitlines(keepends=True)
    second = next(n for n, line in enumerate(lines) if b'"words":"left unlocked dark"' in line)
    journal.write_bytes(b"".join(lines[:second]))
    post(book, copy_of(log / name))
    assert told(found(book)) == [(f"{name}/1", "L ARM", "open", 1)]
    act(book, f"{name}/1", do(Act.DEFERRED, 0, category="C"))
    journal.write_bytes(whole)
    post(book, copy_of(log / name))
    assert told(found(book)) == [
        (f"{name}/1.1", "L ARM", "open", 1),
        (f"{name}/1.2", "L UNLOCK", "open", 1),
    ]
