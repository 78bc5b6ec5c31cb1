"""docs/phases.md is what the code says today, and the picture shows the whole table."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fleet import Crew, loaded

import phase_picture
from phase_picture import EXAMPLE, mermaid, on_offer, page, write
from voicecheck.engine.events import Lost
from voicecheck.engine.phases import TABLE, Phase
from voicecheck.errors import VoicecheckError

PAGE = Path(__file__).resolve().parents[2] / "docs" / "phases.md"
ARROW = re.compile(r"^ *(\w+) --> (\w+): (.+)$", re.MULTILINE)


def test_the_page_is_current() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "out of date; run: make docs"


def test_the_page_follows_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    before = page()
    monkeypatch.setattr(phase_picture, "TABLE", TABLE[:-1])
    assert page() != before


def test_every_transition_is_an_arrow_and_no_other() -> None:
    drawn = set(ARROW.findall(mermaid()))
    table = {
        (source.name.lower(), dest.name.lower(), trigger.replace("_", " "))
        for trigger, sources, dest in TABLE
        for source in sources
    }
    assert drawn == table


def test_state_names_are_plain_words() -> None:
    """A hyphen ends a name in Mermaid's state diagrams (its grammar, version 11)."""
    names = re.findall(r'^ *state "([^"]+)" as (\S+)$', mermaid(), re.MULTILINE)
    assert [shown for shown, _ in names] == [phase.value for phase in Phase]
    assert all(re.fullmatch(r"[a-z_]+", name) for _, name in names)


def test_the_kinds_are_those_of_a_session_that_really_stands_there() -> None:
    shown = {row.phase: row for row in on_offer(loaded(EXAMPLE[1]).checklist)}
    crew = Crew(EXAMPLE[1])

    def here() -> set[str]:
        return set(phase_picture._kinds(crew.engine.offers()))

    assert here() == set(shown[crew.engine.phase].always)
    crew.say("going to gear")
    assert here() == set(shown[Phase.TESTING].always)
    crew.say("stand by")
    assert here() == set(shown[Phase.HELD].always)
    crew.say("resume checklist", "selector off")
    assert here() == set(shown[Phase.AT_REST].always)
    crew.say("abandon the test")
    assert here() == {*shown[Phase.AT_REST].always, *shown[Phase.AT_REST].abandoning}
    crew.say("negative")
    crew.feed(Lost("microphone", crew.now))
    assert here() == set(shown[Phase.HELD].always)


def test_nothing_is_on_offer_before_and_after() -> None:
    rows = {row.phase: row for row in on_offer(loaded(EXAMPLE[1]).checklist)}
    for phase in (Phase.STARTING, Phase.FINISHED):
        assert rows[phase].always == rows[phase].timed == rows[phase].asked == ()


def test_every_phase_is_explained() -> None:
    for phase in Phase:
        assert f"- **{phase.value}**: " in page()


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "docs").write_text("in the way")
    with pytest.raises(VoicecheckError, match="cannot be written"):
        write(tmp_path / "docs" / "phases.md")
