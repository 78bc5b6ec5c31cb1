"""Review in a real browser: time line, sound with the words marked, remarks."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from axe import violations
from cockpit import Cockpit
from stage import TABLET, Browser

from voicecheck.audio.source import RATE
from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.reviewing import page, review_routes
from voicecheck.display.server import Kneeboard
from voicecheck.errors import VoicecheckError
from voicecheck.logbook.annotations import read_annotations
from voicecheck.session.review import LONGEST_CLIP, Review

HOSTILE = '<img src=x onerror="document.title=1">"\'&'


def tone(path: Path, seconds: float) -> None:
    """A rising value per sample second, so that a clip tells where it was cut."""
    samples = np.repeat(np.arange(int(seconds), dtype=np.int16) * 100, RATE)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(samples.tobytes())


@pytest.fixture(scope="module")
def cockpit(tmp_path_factory: pytest.TempPathFactory) -> Cockpit:
    log = tmp_path_factory.mktemp("reviewed") / "log"
    made = Cockpit(log)
    for words in ("battery on", "affirm", "avionics on", "affirm", "going to gear"):
        made.say(words)
    for words in ("two green", "nose gear dark", "one red"):
        made.say(words)
    made.close()
    tone(made.folder / "recording.wav", 30)
    return made


@pytest.fixture(scope="module")
def review(cockpit: Cockpit) -> Review:
    return Review(cockpit.folder.parent)


@pytest.fixture(scope="module")
def url(review: Review) -> Iterator[str]:
    page = Kneeboard(Hub(Board()), routes=review_routes(review))
    page.start()
    yield page.url
    page.close()


def samples(clip: bytes | None) -> np.ndarray:  # type: ignore[type-arg]
    assert clip is not None
    with wave.open(io.BytesIO(clip)) as file:
        assert (file.getnchannels(), file.getframerate()) == (1, RATE)
        return np.frombuffer(file.readframes(file.getnframes()), np.int16)


def test_a_clip_is_cut_to_the_sample(review: Review, cockpit: Cockpit) -> None:
    clip = samples(review.clip(cockpit.folder.name, 4.5, 6.5))
    assert len(clip) == 2 * RATE
    assert set(clip[: RATE // 2]) == {400}
    assert set(clip[RATE // 2 : 3 * RATE // 2]) == {500}
    assert set(clip[3 * RATE // 2 :]) == {600}
    beyond = samples(review.clip(cockpit.folder.name, 29.0, 31.0))
    assert set(beyond[:RATE]) == {2900}
    assert set(beyond[RATE:]) == {0}, "silence where nothing was recorded"
    assert len(samples(review.clip(cockpit.folder.name, 0.0, 1e9))) == LONGEST_CLIP * RATE
    for start, end in ((5.0, 5.0), (5.0, 4.0), (float("nan"), 4.0), (1.0, float("nan"))):
        assert review.clip(cockpit.folder.name, start, end) is None


def test_a_recording_named_in_the_journal_is_found_beside_the_log(tmp_path: Path) -> None:
    made = Cockpit(tmp_path / "log")
    made.wait(2.0)
    remark = {"at": 2.0, "text": "recorded: part.wav"}
    made.record.write("remark", remark, 2.0)  # type: ignore[arg-type]
    made.close()
    (tmp_path / "recordings").mkdir()
    found = Review(tmp_path / "log")
    assert found.clip(made.folder.name, 2.0, 4.0) is None
    tone(tmp_path / "recordings" / "part.wav", 5)
    clip = samples(found.clip(made.folder.name, 1.5, 4.5))
    assert list(clip[:: RATE // 2]) == [0, 0, 0, 100, 100, 200], "stream time 2 is its beginning"


def test_a_session_that_ended_with_its_first_line_can_be_looked_at(tmp_path: Path) -> None:
    made = Cockpit(tmp_path / "log")
    made.close()
    journal = made.folder / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().partition(b"\n")[0] + b"\n")
    found = Review(tmp_path / "log").session(made.folder.name)
    assert (found["rows"], found["seconds"]) == ([], 1.0)
    page("review.html.j2", session=found)


def test_no_name_leads_out_of_the_recordings(tmp_path: Path) -> None:
    made = Cockpit(tmp_path / "log")
    made.record.write("remark", {"at": 0.0, "text": "recorded: ../secret.wav"}, 0.0)  # type: ignore[arg-type]
    made.close()
    (tmp_path / "recordings").mkdir()
    tone(tmp_path / "secret.wav", 2)
    assert Review(tmp_path / "log").clip(made.folder.name, 0.0, 1.0) is None


@pytest.mark.parametrize("wanted", ["..", "../x", "nothing", "a/b", ""])
def test_what_is_no_session_is_refused(review: Review, wanted: str) -> None:
    with pytest.raises(VoicecheckError):
        review.session(wanted)


def test_clicking_an_item_plays_its_sound_with_the_words_marked(
    url: str, cockpit: Cockpit, chromium: Browser
) -> None:
    chromium.resize(TABLET)
    chromium.open(f"{url}review")
    assert violations(chromium) == []
    chromium.driver.find_element("css selector", "td a").click()
    chromium.until("return !!document.getElementById('timeline')")
    assert violations(chromium) == []
    chromium.js("document.documentElement.dataset.theme = 'night'")
    assert violations(chromium) == []
    assert "chain whole" in chromium.text("main")
    assert "1 finding" in chromium.text("main")
    assert "Advisory only" in chromium.text("footer")
    bars = "return document.querySelectorAll('#timeline rect.pilot').length"
    assert chromium.js(bars) == 8
    button = chromium.driver.find_element("css selector", "[aria-label='Play three green']")
    chromium.js("arguments[0].scrollIntoView({block: 'center'})", button)
    button.click()
    chromium.until("return document.getElementById('audio').readyState >= 2")
    summary = next(
        item
        for item in cockpit.lines()[-1]["summary"]["items"]
        if item["called"] and item["id"] == "gear.greens"
    )
    span = chromium.js("const a = document.getElementById('audio'); return [a.src, a.duration]")
    assert f"from={summary['times']['start'] - 0.6:.3f}" in span[0]
    assert "nose gear dark" in chromium.text("#words")
    chromium.until("return document.getElementById('audio').currentTime > 0.7", seconds=15)
    chromium.until("return !!document.querySelector('#words [data-on]')", seconds=15)


def test_a_remark_is_added_in_the_page_and_is_inert(
    url: str, cockpit: Cockpit, chromium: Browser
) -> None:
    before = (cockpit.folder / "journal.jsonl").read_bytes()
    chromium.open(f"{url}review/{cockpit.folder.name}")
    form = "document.querySelector('tr.pilot form.remark')"
    chromium.js(
        f"const f = {form}; f.closest('details').open = true;"
        "f.elements.text.value = arguments[0]; f.elements.by.value = 'Ada'; f.requestSubmit()",
        HOSTILE,
    )
    chromium.until("return !!document.querySelector('p.note')")
    assert HOSTILE in chromium.text("p.note")
    assert chromium.js("return document.querySelectorAll('p.note img').length") == 0
    assert [a.text for a in read_annotations(cockpit.folder)] == [HOSTILE]
    assert (cockpit.folder / "journal.jsonl").read_bytes() == before
    assert violations(chromium) == []


def test_what_cannot_be_added_keeps_the_words_in_the_form(
    url: str, cockpit: Cockpit, chromium: Browser
) -> None:
    chromium.open(f"{url}review/{cockpit.folder.name}")
    form = "document.querySelector('tr.pilot form.remark')"
    chromium.js(
        f"const f = {form}; f.dataset.line = 9999; f.elements.text.value = 'kept';f.requestSubmit()"
    )
    chromium.until(f"return {form}.querySelector('[role=status]').textContent.includes('no line')")
    assert chromium.js(f"return {form}.elements.text.value") == "kept"


def test_a_record_that_was_changed_says_so(url: str, cockpit: Cockpit, chromium: Browser) -> None:
    journal = cockpit.folder / "journal.jsonl"
    whole = journal.read_bytes()
    journal.write_bytes(whole.replace(b"two green", b"six green"))
    try:
        chromium.open(f"{url}review/{cockpit.folder.name}")
        assert "not reliable" in chromium.text("main")
        assert "chain broken" in chromium.text("main")
    finally:
        journal.write_bytes(whole)
