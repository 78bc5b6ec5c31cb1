"""A session in real time through an open speaker, with a crew that talks over a prompt."""

from __future__ import annotations

from pathlib import Path

from voicecheck.measure.open_speaker import fly


def test_a_session_through_the_echo_is_recorded_as_it_was_called(tmp_path: Path) -> None:
    flown = fly(2, tmp_path)
    assert flown.never == []
    assert flown.over == 1, "nobody spoke over a prompt"
    assert flown.over_acted_on == 0
    assert len(flown.truth) == 7
    assert flown.differences() == []
    found = [i for i in flown.summary["items"] if i["outcome"] == "unsatisfactory"]
    assert [item["id"] for item in found] == ["fire-alfa.lights"]
    assert flown.summary["ended"] == "completed with items missing", flown.summary["ended"]
