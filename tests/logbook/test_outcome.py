from __future__ import annotations

import re
from typing import Any

import pytest

from voicecheck.errors import Place
from voicecheck.logbook.discrepancy import discrepancy, mel_data
from voicecheck.logbook.outcome import contradictions, result_line
from voicecheck.logbook.summary import Mel, Summary, summary_from
from voicecheck.logbook.wording import allowed, clean, duration, measured, moment, stream

FORBIDDEN = re.compile(r"\b(safe|serviceable|airworthy|ok|go|fit|pass(ed)?|ready)\b", re.IGNORECASE)


def read(fields: dict[str, Any]) -> Summary:
    return summary_from(fields, Place("test"))


def test_the_sample_result(summary: dict[str, Any]) -> None:
    line = result_line(read(summary))
    assert line == "2 findings, 1 more re-tested, 1 not tested, 1 void, incomplete"


def test_a_session_without_findings_claims_no_more_than_it_heard(summary: dict[str, Any]) -> None:
    summary |= {"findings": [], "void": [], "not_tested": [], "complete": True}
    summary["items"] = [i for i in summary["items"] if i["outcome"] in {"satisfactory"}]
    assert result_line(read(summary)) == "no findings, 2 called as expected, complete"


def test_a_session_without_summary_is_incomplete() -> None:
    assert result_line(None).startswith("incomplete")


@pytest.mark.parametrize("complete", [True, False])
@pytest.mark.parametrize("findings", [0, 1, 3])
@pytest.mark.parametrize(
    "outcome", ["satisfactory", "unsatisfactory", "not fitted", "not tested", "void", None]
)
def test_no_result_ever_says_that_all_is_well(
    summary: dict[str, Any], outcome: str | None, findings: int, complete: bool
) -> None:
    for entry in summary["items"]:
        entry["outcome"] = outcome or entry["outcome"]
    summary |= {"findings": summary["findings"][:findings], "complete": complete}
    line = result_line(read(summary))
    assert not FORBIDDEN.search(line)
    assert line.endswith(", complete" if complete else "incomplete")


def test_the_larger_count_of_open_items_is_told(summary: dict[str, Any]) -> None:
    """Two lists that differ must not hide an item."""
    summary |= {"void": [], "not_tested": [{"id": f"x.{k}", "reason": None} for k in range(3)]}
    assert "3 not tested, 1 void" in result_line(read(summary))


def test_the_sample_does_not_contradict_itself(summary: dict[str, Any]) -> None:
    assert contradictions(read(summary)) == []


def _good_despite_finding(s: dict[str, Any]) -> None:
    s["items"][2]["outcome"] = "satisfactory"


def _good_without_callout(s: dict[str, Any]) -> None:
    s["items"][0]["called"] = None


def _bad_without_finding(s: dict[str, Any]) -> None:
    s["findings"] = s["findings"][1:]


def _void_unlisted(s: dict[str, Any]) -> None:
    s["void"] = []


def _listed_but_good(s: dict[str, Any]) -> None:
    s["not_tested"].append({"id": "gear.greens", "reason": None})


def _finding_of_nothing(s: dict[str, Any]) -> None:
    s["findings"][0]["item"] = "ghost.item"


def _complete_with_gaps(s: dict[str, Any]) -> None:
    s["complete"] = True


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (_good_despite_finding, "fire.lights is recorded as satisfactory, but a finding"),
        (_good_without_callout, "gear.greens is recorded as satisfactory, but no callout"),
        (_bad_without_finding, "fire.lights is recorded as unsatisfactory, but no finding"),
        (_void_unlisted, "stall.shaker is void in one list"),
        (_listed_but_good, "gear.greens is not tested in one list"),
        (_finding_of_nothing, "ghost.item, which is not among"),
        (_complete_with_gaps, "marked complete, but stall.shaker, overspeed.clacker stand open"),
    ],
)
def test_contradictions_are_told(summary: dict[str, Any], spoil: Any, sentence: str) -> None:
    spoil(summary)
    assert any(sentence in told for told in contradictions(read(summary)))


def test_a_finding_as_a_ready_text(summary: dict[str, Any]) -> None:
    found = read(summary)
    assert discrepancy(found.findings[1], found) == (
        "ZZ-HAA (Tarn 40), warning-system test. Engine fire selected, power avionics off, "
        "battery on: fire lights went out late. Expected “fire lights out”, “lights out” was "
        "called at 2026-11-25T06:15:53Z (00:53.0 into the session). Time measured 5.60 to "
        "6.20 s (5.90 ± 0.30 s), allowed 3.00 to 5.00 s. Consequence: A fire in the right "
        "engine would not be shown by this light. System chapter 26. "
        "Session 20261125T061500Z-ZZ-HAA-4f2a."
    ).replace("power avionics off, battery on", "power battery on, avionics off")


def test_a_finding_with_little_in_it(summary: dict[str, Any]) -> None:
    summary["findings"][0] |= {
        "what": None,
        "called": None,
        "lamp": None,
        "consequence": None,
        "chapter": None,
        "power": {},
    }
    found = read(summary)
    text = discrepancy(found.findings[0], found)
    assert "power none stated: called otherwise than expected." in text
    assert "nothing was called at" in text
    assert "Consequence: not stated. System chapter not stated." in text


def test_mel_data_in_words() -> None:
    mel = Mel(item="26-11-1", category="B", title="Fire lights", remark="by day")
    assert mel_data(mel) == "item 26-11-1 Fire lights, category B, by day"


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (stream(0.0), "00:00.0"),
        (stream(59.99), "00:59.9"),
        (stream(12.3), "00:12.3"),
        (stream(3723.4), "62:03.4"),
        (duration(59.9), "59 s"),
        (duration(131.5), "2 min 11 s"),
        (allowed(None, None), "no limit"),
        (allowed(3.0, None), "at least 3.00 s"),
        (allowed(None, 5.0), "at most 5.00 s"),
        (measured(5.6, None), "more than 5.60 s"),
        (measured(None, 2.0), "less than 2.00 s"),
        (measured(None, None), "not measured"),
        (clean("a\nb\t\x1b[31m  c\u202egnorw\u2028"), "a b [31m c gnorw"),
    ],
)
def test_wording(shown: str, expected: str) -> None:
    assert shown == expected


@pytest.mark.parametrize(
    ("utc", "zone", "shown"),
    [
        ("2026-11-25T06:15:53.812Z", "UTC", "2026-11-25T06:15:53Z"),
        ("2026-11-25T06:15:53Z", "Atlantic/Azores", "2026-11-25T06:15:53Z (05:15 Atlantic/Azores)"),
        # another day there: midnight is what due dates hang on
        (
            "2026-11-25T23:30:00Z",
            "Pacific/Auckland",
            "2026-11-25T23:30:00Z (2026-11-26 12:30 Pacific/Auckland)",
        ),
        ("2026-11-25T23:30:00Z", "No/Such", "2026-11-25T23:30:00Z"),
        ("yesterday", "UTC", "yesterday"),
    ],
)
def test_times_are_utc_with_local_time_beside(utc: str, zone: str, shown: str) -> None:
    assert moment(utc, zone) == shown
