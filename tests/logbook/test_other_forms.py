"""The same record as paper, captions, rows and plain text."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from invented import place, series
from pypdf import PdfReader
from typer.testing import CliRunner

from voicecheck.caution import CAUTION
from voicecheck.cli.log import app
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.captions import captions, stamp
from voicecheck.logbook.export import as_csv
from voicecheck.logbook.fonts import spelled
from voicecheck.logbook.paper import Paper
from voicecheck.logbook.report import report
from voicecheck.logbook.session_pdf import session_pdf
from voicecheck.logbook.sessions import load
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.derive import derive
from voicecheck.logbook.store.exporting import rows_of
from voicecheck.logbook.store.looking import context_of
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.measure.invented_log import Invented

Write = Callable[..., Path]
NOW = datetime(2026, 2, 20, tzinfo=UTC)


def printed(data: bytes) -> str:
    reader = PdfReader(io.BytesIO(data))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_paper_has_what_the_page_has(write_session: Write, summary: dict[str, Any]) -> None:
    data = session_pdf(load(write_session(summary)))
    text = printed(data)
    for part in (
        "Warning-system test, ZZ-HAA",
        "Result: 2 findings, 1 more re-tested, 1 not tested, 1 void, incomplete",
        "FIRE R dark",
        "Time measured 5.60 to 6.20 s",
        "Re-tested: Landing gear: no gear horn",
        "overspeed.clacker",
        "MEL reference data, not a decision: item 26-11-1",
        "A. Wren",
        "Licence no.",
        "earlier as above no horn unsatisfactory",
        "Power as the crew called it",
        "Asked again: ",
        "Written by voicecheck",
        "one fire light right dark",
        "Course of the session",
    ):
        assert part in text, part
    pages = [page.extract_text() for page in PdfReader(io.BytesIO(data)).pages]
    assert all(CAUTION[:40] in " ".join(page.split()) for page in pages)
    assert session_pdf(load(write_session(summary, "20261125T061500Z-ZZ-HAA-same"))) != b""


def test_a_finding_has_the_number_by_which_the_logbook_names_it(
    write_session: Write, summary: dict[str, Any]
) -> None:
    """It is typed into `log clear SESSION/NUMBER`: no other finding may have it."""
    summary["findings"].reverse()  # the one that was tested again comes first
    session = load(write_session(summary))
    named = [f"{row['ordinal']}. " for row in derive(session).findings]
    assert named == ["1. ", "2. ", "3. "]
    for text in (printed(session_pdf(session)), re.sub("<[^>]+>", "", report(session))):
        assert "1. Re-tested: Landing gear: no gear horn" in text
        assert "2. Engine fire: fire lights went out late" in text
        assert "3. Engine fire: FIRE R dark" in text


def test_the_same_session_gives_the_same_paper(
    write_session: Write, summary: dict[str, Any]
) -> None:
    session = load(write_session(summary))
    assert session_pdf(session) == session_pdf(session)


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Łucja Þórsdóttir", "Łucja Þórsdóttir"),
        ("Ελένη Παπαδοπούλου", "Ελένη Παπαδοπούλου"),
        ("Олександра Шевченко", "Олександра Шевченко"),
        ("山田 太郎", "山田 太郎"),  # by the second font
        ("wren \U0001f9ff", "wren [U+1F9FF]"),  # by none: spelled out, not lost
    ],
)
def test_any_name_can_be_printed(
    write_session: Write, summary: dict[str, Any], name: str, shown: str
) -> None:
    summary["crew"] = {"pilot": name, "second": None}
    text = printed(session_pdf(load(write_session(summary))))
    assert shown in text or shown.replace(" ", "") in text.replace(" ", "")


def test_paper_of_an_unfinished_and_of_a_changed_session(
    write_session: Write, summary: dict[str, Any]
) -> None:
    assert "has no summary" in printed(session_pdf(load(write_session(None))))
    folder = write_session(summary, "20261125T061500Z-ZZ-HAA-0002")
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"no horn"', b'"on horn"', 1))
    assert "Do not rely on this record" in printed(session_pdf(load(folder)))


def test_paper_with_trends(lite: Database, log: Path) -> None:
    folders = [place(log, one) for one in series("ZZ-HAA", 30, rise=0.02)]
    for folder in folders:
        post(lite, copy_of(folder))
    with lite.reading() as connection:
        context = context_of(connection, "ZZ-HAA", NOW)
    text = printed(session_pdf(load(folders[-1]), context))
    assert "anti-skid.out: seconds from session to session" in text
    assert "upper control" in text


def test_paper_tells_what_was_done_about_a_finding(lite: Database, log: Path) -> None:
    one = Invented("ZZ-HAA", NOW - timedelta(days=1), bad=(3,))
    post(lite, copy_of(place(log, one)))
    act(lite, f"{one.id}/1", Deed(Act.CORRECTED, who="Łucja Wren", note="it was 漢 4", at=NOW))
    with lite.reading() as connection:
        context = context_of(connection, "ZZ-HAA", NOW, one.id)
    text = printed(session_pdf(load(log / one.id), context))
    assert "Filed: corrected 2026-02-20T00:00:00.000Z by Łucja Wren" in text


def test_a_cell_that_no_page_can_hold_says_that_it_was_cut() -> None:
    paper = Paper("Long", NOW, CAUTION, ["…"])
    paper.table(("What", ""), [("word " * 4000, "x")], (30, 70))
    assert "… (the page has the rest)" in printed(paper.finished())


def test_no_font_is_told(
    write_session: Write, summary: dict[str, Any], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("VOICECHECK_FONTS", str(tmp_path / "none"))
    with pytest.raises(VoicecheckError, match="no font for a PDF is installed; install DejaVu"):
        session_pdf(load(write_session(summary)))
    assert spelled("a漢b", frozenset("漢")) == "a[U+6F22]b"


# The grammar of WebVTT (W3C): a cue's timing line, with hours, and text without "-->".
TIMING = re.compile(
    r"(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3}) --> (\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})"
)


def test_captions_follow_the_grammar(write_session: Write, summary: dict[str, Any]) -> None:
    told = captions(load(write_session(summary)))
    blocks = told.rstrip("\n").split("\n\n")
    assert blocks[0] == "WEBVTT"
    assert blocks[1].startswith("NOTE ")
    last = 0.0
    for number, block in enumerate(blocks[2:], 1):
        name, timing, text = block.split("\n")
        assert name == str(number)
        match = TIMING.fullmatch(timing)
        assert match is not None
        h, m, s, ms, h2, m2, s2, ms2 = map(int, match.groups())
        begin, end = h * 3600 + m * 60 + s + ms / 1000, h2 * 3600 + m2 * 60 + s2 + ms2 / 1000
        assert last <= begin < end
        last = begin  # in the order of their beginnings (WebVTT 4.1, from memory)
        assert "-->" not in text
    assert "<v SECOND>one fire light right dark" in told


def test_a_touch_and_a_call_between_two_prompts_are_captions(write_session: Write) -> None:
    touch = {"type": "keypressed", "callout": "gear.horn:good", "at": 3.0, "by": "touch"}
    heard = {"type": "heard", "words": "three green", "start": 2.0, "end": 2.4}
    prompts = ["One two three four five six seven eight.", "Landing gear."]
    course = [
        (1.0, {"event": {"type": "began", "now": 1.0}, "said": prompts}),
        (2.4, {"event": heard}),
        (3.0, {"event": touch}),
    ]
    told = captions(load(write_session(None, course=course)))
    assert re.findall(r"<v (\w+)>", told) == ["VOICE", "PILOT", "TOUCH", "VOICE"]
    begins = [match[:4] for match in TIMING.findall(told)]
    assert begins == sorted(begins)


def test_captions_cannot_be_forged(write_session: Write) -> None:
    evil = "</v><v PILOT>--> \n\n00:00:01.000 --> 00:00:09.000\nall good & done"
    course = [(1.0, {"event": {"type": "heard", "words": evil, "start": 1.0, "end": 2.0}})]
    told = captions(load(write_session(None, course=course)))
    assert len(TIMING.findall(told)) == 1
    assert "&lt;/v&gt;&lt;v PILOT&gt;--&gt;" in told


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(0, "00:00:00.000"), (59.9996, "00:01:00.000"), (3723.4, "01:02:03.400")],
)
def test_stamps(seconds: float, shown: str) -> None:
    assert stamp(seconds) == shown


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_csv_is_read_back_and_runs_nowhere(text: str) -> None:
    back = list(csv.DictReader(io.StringIO(as_csv([{"who": text, "n": -1.5}]), newline="")))
    assert back[0]["who"].removeprefix("'") == text.removeprefix("'")
    assert not back[0]["who"].startswith(("=", "+", "-", "@", "\t", "\r"))
    assert back[0]["n"] == "-1.5"


@pytest.mark.parametrize("what", ["sessions", "discrepancies", "timings", "items"])
def test_exports(lite: Database, log: Path, what: str) -> None:
    for one in (
        Invented("ZZ-Ω", datetime(2026, 1, 5, tzinfo=UTC), bad=(2,)),
        Invented("ZZ-HAB", datetime(2026, 1, 6, tzinfo=UTC), bad=(2,)),
    ):
        post(lite, copy_of(place(log, one)))
    lite.close()
    words = ["export", what, "--log", str(log)]
    rows = list(csv.DictReader(io.StringIO(CliRunner().invoke(app, words).stdout)))
    assert {row["registration"] for row in rows} == {"ZZ-Ω", "ZZ-HAB"}
    told = json.loads(
        CliRunner().invoke(app, [*words, "--format", "json", "--airframe", "ZZ-Ω"]).stdout
    )
    assert told["caution"] == CAUTION
    assert {row["registration"] for row in told["rows"]} == {"ZZ-Ω"}
    with lite.reading() as connection:
        assert len(rows) == len(rows_of(connection, what, None, NOW))


@pytest.mark.parametrize("kind", ["html", "pdf", "text", "json", "vtt"])
def test_every_form_by_the_command(
    write_session: Write, summary: dict[str, Any], kind: str, tmp_path: Path
) -> None:
    log = write_session(summary).parent
    out = tmp_path / f"made.{kind}"
    words = ["report", "latest", "--log", str(log), "--format", kind, "--out", str(out)]
    result = CliRunner().invoke(app, words)
    assert (result.exit_code, result.stdout.strip()) == (0, str(out))
    if kind == "pdf":
        assert out.read_bytes().startswith(b"%PDF-")
        assert "FIRE R dark" in printed(out.read_bytes())
    else:
        assert "one fire light" in out.read_text()


def test_a_session_that_only_the_database_has(lite: Database, log: Path, tmp_path: Path) -> None:
    one = Invented("ZZ-HAA", datetime(2026, 1, 5, tzinfo=UTC), bad=(2,), pilot="A. Wren")
    elsewhere = tmp_path / "elsewhere"
    post(lite, copy_of(place(elsewhere, one)))
    lite.close()
    shown = CliRunner().invoke(app, ["show", one.id, "--log", str(log)])
    assert "pilot A. Wren" in shown.stdout
    refused = CliRunner().invoke(app, ["report", one.id, "--log", str(log)])
    assert refused.exit_code == 2
    assert "name a file with --out" in refused.stderr
    out = tmp_path / "x.html"
    done = CliRunner().invoke(app, ["report", one.id, "--log", str(log), "--out", str(out)])
    assert done.exit_code == 0
    assert "lamp 2 dark" in out.read_text()
