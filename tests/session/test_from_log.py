"""What is read out before a session, and what happens at its end."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from fleet import loaded
from invented import place, series

from voicecheck.journal.reader import read
from voicecheck.logbook.spool import expect, expected
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import open_database
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.measure.invented_log import Invented
from voicecheck.session.display import Quiet
from voicecheck.session.filing import file_outputs, file_session
from voicecheck.session.from_log import MOST, FromLog, Told, look, tell

START = datetime(2026, 1, 26, 10, 0, tzinfo=UTC)


class Notices(Quiet):
    def __init__(self) -> None:
        self.texts: list[str] = []

    def notice(self, text: str) -> None:
        self.texts.append(text)


@pytest.fixture
def log(tmp_path: Path) -> Path:
    folder = tmp_path / "log"
    folder.mkdir()
    return folder


def told(log: Path, now: datetime) -> list[str]:
    """The sentences that would be shown."""
    context = look(log, None, "ZZ-HAA", now)
    assert context is not None
    language = loaded("ZZ-HJC").language
    return [language.render(one.prompt, one.values) for one in tell(context, language)]


def test_nothing_to_say_of_a_new_airframe(log: Path) -> None:
    assert look(log, None, "ZZ-NEW", START) is None
    assert look(log / "none", None, "ZZ-NEW", START) is None
    assert not (log / "none").exists()
    assert FromLog(log, None, "ZZ-NEW", loaded("ZZ-HAA").language).told() == []


def test_the_heaviest_comes_first(log: Path) -> None:
    one = Invented("ZZ-HAA", START, bad=(2, 3, 4))
    expect(log, place(log, one).name)
    book = open_database(None, log)
    post(book, copy_of(log / one.id))
    for number in (2, 3):
        at = START + timedelta(hours=number)
        act(book, f"{one.id}/{number}", Deed(Act.DEFERRED, who="M", reference="T", at=at))
    book.close()
    early, late = START + timedelta(days=2), START + timedelta(days=11)
    assert told(log, early) == [
        "From the log: Position 3, lamp 3 dark. Deferred, due by the end of 5 February.",
        "From the log: Position 4, lamp 4 dark. Deferred, due by the end of 5 February.",
        "From the log: Position 2, lamp 2 dark. Open 2 days.",
    ]
    assert told(log, late)[0] == "From the log: Position 3, lamp 3 dark. Deferral ended 5 February."
    # A clock that is behind the deferrals is told first.
    assert told(log, START)[0] == "Check the date. The log has a later entry of this aircraft."
    assert told(log, START)[3].endswith("Open since today.")


def test_a_window_that_drifts_is_announced_before_it_is_a_finding(log: Path) -> None:
    for one in series("ZZ-HAA", 18, rise=0.03, noise=0.05):
        place(log, one)
        expect(log, one.id)
    said = told(log, datetime(2026, 1, 23, tzinfo=UTC))
    assert len(said) == 1
    assert re.fullmatch(
        r"From the log: anti skid out, rising, now 4\.5 seconds, limit 5\. "
        r"At this rate 1\d days to the limit\.",
        said[0],
    )


def test_a_repeat_and_many_are_told(log: Path) -> None:
    first = Invented("ZZ-HAA", START, bad=tuple(range(1, MOST + 4)))
    again = Invented("ZZ-HAA", START + timedelta(days=3), bad=(1,))
    book = open_database(None, log)
    post(book, copy_of(place(log, first)))
    act(
        book,
        f"{first.id}/1",
        Deed(Act.CLEARED, who="M", reference="T", at=START + timedelta(days=1)),
    )
    post(book, copy_of(place(log, again)))
    book.close()
    said = told(log, START + timedelta(days=4))
    assert said[-1] == "And 3 more in the log."
    assert len(said) == MOST + 1


def test_no_answer_is_told_as_such(log: Path) -> None:
    away = FromLog(log, "postgresql://nobody@127.0.0.1:9/none", "ZZ-HAA", loaded("ZZ-HAA").language)
    assert away.told() == [Told("log-away")]
    assert away.problem is not None
    language = loaded("ZZ-HJC").language
    assert language.render("log-away", {}) == ("The log does not answer. Open items are not known.")


def test_no_prompt_says_that_anything_is_safe() -> None:
    prompts = loaded("ZZ-HJC").language.prompts
    spoken = " ".join(text for name, text in prompts.items() if name.startswith("log-")).lower()
    for word in ("safe", "may go", "airworthy", "serviceable", "ok", "fit to", "permitted"):
        assert not re.search(rf"\b{word}\b", spoken)


def summary_of(folder: Path) -> dict[str, object]:
    line = read(folder / "journal.jsonl").summary
    assert line is not None
    found: dict[str, object] = json.loads(json.dumps(line.fields["summary"]))
    return found


def test_the_end_of_a_session_files_it(log: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START, bad=(3,), pilot="A. Wren"))
    expect(log, folder.name)
    display = Notices()
    file_outputs(folder, summary_of(folder), b"", display)
    file_session(folder, None, None, display)
    assert display.texts == []
    assert expected(log) == []
    assert "Position 3: lamp 3 dark; open since 2026-01-26" in (folder / "report.html").read_text()
    assert (folder / "transcript.vtt").read_text().startswith("WEBVTT\n\n")


def test_an_absent_logbook_costs_nothing_but_a_notice(log: Path) -> None:
    folder = place(log, Invented("ZZ-HAA", START))
    expect(log, folder.name)
    display = Notices()
    file_outputs(folder, summary_of(folder), b"", display)
    file_session(folder, "postgresql://nobody@127.0.0.1:9/none", None, display)
    assert len(display.texts) == 1
    assert "not filed in the logbook yet" in display.texts[0]
    assert expected(log) == [folder.name]
    assert (folder / "report.html").exists()
    file_session(folder, None, None, display)
    assert expected(log) == []
