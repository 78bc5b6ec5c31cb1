from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from html.parser import HTMLParser
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicecheck.caution import CAUTION
from voicecheck.journal.reader import verify
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load
from voicecheck.logbook.transcript import transcript

Write = Callable[..., Path]
VOID = {"meta", "br", "link", "img", "input", "hr"}
EVIL = "\"'></title></style><script>alert(1)</script><img src=x onerror=y>{{ 7*7 }}&lt;"


class Page(HTMLParser):
    """The page as a browser's parser would cut it up: tags, attributes, text."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.tables: list[list[str]] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "table":
            self.tables.append([])
        elif self.tables and "table" in self.open:
            self.tables[-1].append(tag)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, name: str) -> list[dict[str, str | None]]:
        return [attrs for tag, attrs in self.tags if tag == name]


def page_of(folder: Path) -> Page:
    return Page(report(load(folder)))


def test_order_caution_result_findings_gaps_items_record(
    write_session: Write, summary: dict[str, Any]
) -> None:
    folder = write_session(summary)
    page = page_of(folder)
    assert page.open == []  # every element is closed
    steps = [
        CAUTION,
        "Warning-system test, ZZ-HAA",
        "Hollin Air Ambulance",
        "2 min 11 s",
        "Result 2 findings, 1 more re-tested, 1 not tested, 1 void, incomplete",
        "Incomplete. the recording ended",
        "1. Engine fire: FIRE R dark",
        "MEL reference data, not a decision item 26-11-1, category B, one light may be out by day",
        "2. Engine fire: fire lights went out late",
        "Do not hold the test switch",
        "Re-tested: Landing gear: no gear horn",
        "Not tested and void",
        "Overspeed: overspeed.clacker not tested not reached",
        "Stall warning: stall.shaker void avionics went off",
        "Item by item",
        "gear.horn gear horn gear horn satisfactory",
        "earlier as above no horn unsatisfactory",
        "Timings",
        "3.00 to 5.00 s 5.60 to 6.20 s (5.90 ± 0.30 s) late",
        "Power as the crew called it",
        "Transcript",
        "right dark",
        "Record and signatures",
        "journal.jsonl, 15 lines",
        verify(folder / "journal.jsonl").head,
        "Crew: name",
        "Maintenance: name",
        CAUTION,
    ]
    text = page.text.partition("Caution.")[2]  # past the title
    for step in steps:
        _, found, text = text.partition(step)
        assert found, f"{step!r} is missing or too early"


def test_it_needs_nothing_from_outside(write_session: Write, summary: dict[str, Any]) -> None:
    source = report(load(write_session(summary)))
    page = Page(source)
    assert not {"script", "link", "img", "iframe", "object", "form", "base"} & {
        tag for tag, _ in page.tags
    }
    for _, attrs in page.tags:
        assert not {"src", "href", "action", "style"} & attrs.keys()
        assert not any(name.startswith("on") for name in attrs)
    assert not re.search(r"url\(|@import|https?:", source)
    policy = [attrs["content"] for attrs in page.all("meta") if "http-equiv" in attrs]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_it_can_be_read_by_ear_and_without_colour(
    write_session: Write, summary: dict[str, Any]
) -> None:
    page = page_of(write_session(summary))
    assert page.all("html") == [{"lang": "en"}]
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert len(page.tables) == 5
    assert all(tags[0] == "caption" for tags in page.tables)
    assert all("scope" in attrs for attrs in page.all("th"))
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    (picture,) = page.all("svg")
    assert picture["role"] == "img"
    assert set(str(picture["aria-labelledby"]).split()) == set(ids)
    for outcome in ("satisfactory", "unsatisfactory", "void", "not tested", "not fitted"):
        assert outcome in page.text


# WCAG 2.1 success criterion 1.4.3: 4.5 to 1; relative luminance as defined there.
@pytest.mark.parametrize("scheme", [0, 1])
def test_contrast_in_light_and_dark(scheme: int) -> None:
    css = (files("voicecheck.logbook") / "templates" / "report.css").read_text()
    blocks = re.findall(r":root \{(.*?)\}", css, re.DOTALL)
    colours = dict(re.findall(r"--([a-z-]+): #([0-9a-f]+)", blocks[scheme]))

    def luminance(name: str) -> float:
        hexes = colours[name]
        full = "".join(c * 2 for c in hexes) if len(hexes) == 3 else hexes
        parts = [int(full[k : k + 2], 16) / 255 for k in (0, 2, 4)]
        r, g, b = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    for ink, paper in [
        ("ink", "paper"),
        ("ink", "wash"),
        ("soft", "paper"),
        ("alarm", "paper"),
        ("alarm", "alarm-wash"),
    ]:
        dark, light = sorted((luminance(ink), luminance(paper)))
        assert (light + 0.05) / (dark + 0.05) >= 4.5, (ink, paper)


def test_injected_markup_is_inert(write_session: Write, summary: dict[str, Any]) -> None:
    """Names, registrations and callouts from outside come out as the text they are."""
    plain = page_of(write_session(summary))

    def spoil(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: spoil(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [spoil(inner) for inner in value]
        return value

    evil = spoil(summary)
    evil |= {"airframe": EVIL, "type": EVIL, "operator": EVIL, "reason": EVIL}
    evil["crew"] = {"pilot": EVIL, "second": EVIL}
    evil["source"] = {"kind": EVIL, "name": EVIL}
    evil["checklist"] = {**evil["checklist"], "title": EVIL, "id": EVIL}
    evil["listeners"] = [EVIL]
    for entry in evil["items"]:
        entry |= {"position_name": EVIL, "expected": EVIL, "reason": EVIL, "power": {EVIL: EVIL}}
        entry["called"] = entry["called"] and EVIL
    for entry in evil["findings"]:
        entry |= {"what": EVIL, "called": EVIL, "consequence": EVIL, "lamp": EVIL, "chapter": EVIL}
        entry["mel"] = entry["mel"] and {"item": EVIL, "category": EVIL, "remark": EVIL}
    for entry in evil["power"]:
        entry |= {"bus": EVIL, "state": EVIL}
    for entry in evil["timings"]:
        entry["verdict"] = EVIL
    course = [
        (1.0, {"event": {"type": "heard", "words": EVIL, "start": 1.0, "end": 2.0}, "said": [EVIL]})
    ]
    page = page_of(write_session(evil, "20261125T061500Z-ZZ-HAA-evil", course=course))
    assert {tag for tag, _ in page.tags} <= {tag for tag, _ in plain.tags}
    assert {name for _, attrs in page.tags for name in attrs} <= {
        name for _, attrs in plain.tags for name in attrs
    }
    assert page.open == []
    assert page.text.count(EVIL) > 60
    assert "49" not in page.text.replace(EVIL, "").split("Record and signatures")[0]


def test_direction_marks_cannot_turn_a_word_round(
    write_session: Write, summary: dict[str, Any]
) -> None:
    summary["findings"][0]["what"] = "FIRE R \u202ekrad\u202c\x00\x1b"
    source = report(load(write_session(summary)))
    assert all(c.isprintable() or c == "\n" for c in source)


def test_a_session_without_summary(write_session: Write) -> None:
    text = page_of(write_session(None)).text
    assert "Result incomplete: the session ended without a summary" in text
    assert "Noted until the session broke off" in text
    assert "finding: item gear.horn; what no gear horn" in text
    assert "State of the record unfinished" in text
    assert "Item by item" not in text


def test_a_changed_record_has_no_result(write_session: Write, summary: dict[str, Any]) -> None:
    folder = write_session(summary)
    journal = folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b'"no horn"', b'"on horn"', 1))
    text = page_of(folder).text
    assert "Result not reliable: the record was changed after it was written" in text
    assert "Do not rely on this record." in text
    assert "2 findings" not in text


def test_a_record_that_contradicts_itself_is_not_read_as_good(
    write_session: Write, summary: dict[str, Any]
) -> None:
    summary["items"][2]["outcome"] = "satisfactory"
    text = page_of(write_session(summary)).text
    assert "The record contradicts itself. Treat the items named here as not tested." in text


def test_a_session_without_anything(write_session: Write, summary: dict[str, Any]) -> None:
    for name in ("items", "findings", "void", "not_tested", "timings", "power"):
        summary[name] = []
    page = page_of(write_session(summary, course=[]))
    assert "No finding stands recorded." in page.text
    assert page.open == []


def test_the_same_journal_gives_the_same_page(
    write_session: Write, summary: dict[str, Any]
) -> None:
    folder = write_session(summary)
    assert report(load(folder)) == report(load(folder))


def test_the_picture_shows_what_was_timed_and_found(
    write_session: Write, summary: dict[str, Any]
) -> None:
    source = report(load(write_session(summary)))
    picture = source[source.index("<svg") : source.index("</svg>")]
    lanes = re.findall(r'<text class="lane"[^>]*>(\w+)<', picture)
    assert lanes == [
        "Positions", "Crew", "Voice", "Unclear", "Ignored", "Timed", "Findings",
    ]  # fmt: skip
    # 131.5 s fill 664 units right of 96: the interval that 53.0 s closed is 6.2 s long
    assert (
        f'<rect x="{96 + 46.8 * 664 / 131.5:.1f}" y="5" width="{6.2 * 664 / 131.5:.1f}"' in picture
    )
    assert picture.count("<path") == 3
    assert "00:17.0 Landing gear: no gear horn (re-tested)" in picture


def test_position_names_in_the_picture_do_not_collide(
    write_session: Write, summary: dict[str, Any]
) -> None:
    for entry in summary["items"]:
        if entry["times"]:
            entry["times"] |= {"start": 12.0, "end": 12.5}
            entry["position_name"] = f"{entry['id']} with a long name"
    source = report(load(write_session(summary)))
    picture = source[source.index("<svg") : source.index("</svg>")]
    shown = re.findall(r"<text x=[^>]*>([^<]*)</text>", picture)
    assert len(shown) == 1  # only the last has room to its right


_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(st.characters(exclude_categories=["Cs"]))
    | st.floats(allow_nan=False, allow_infinity=False),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
        st.sampled_from(["type", "kind", "at", "start", "end", "facts", "words", "guess", "x"]),
        inner, max_size=4,
    ),
    max_leaves=8,
)  # fmt: skip
_types = st.sampled_from(
    ["began", "heard", "unclear", "keypressed", "prompted", "lost", "ended", "new-kind"]
)


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60
)
@given(
    st.lists(st.tuples(_types, st.dictionaries(st.text("astendr", max_size=5), _json)), max_size=4),
    _json,
    _json,
)
def test_odd_events_are_told_not_stumbled_over(
    write_session: Write, tmp_path: Path, events: list[Any], effects: Any, said: Any
) -> None:
    course = [
        (float(k), {"event": {**more, "type": kind}, "effects": [effects], "said": said})
        for k, (kind, more) in enumerate(events)
    ]
    shutil.rmtree(tmp_path / "log", ignore_errors=True)  # left by the example before
    session = load(write_session(None, course=course))
    assert Page(report(session)).open == []
    assert transcript(session).count(CAUTION[:40]) == 2
