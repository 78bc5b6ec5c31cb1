"""A recording has the date that it had, or none at all; never that of the day when it is played."""

from __future__ import annotations

import json
import struct
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicecheck.errors import VoicecheckError
from voicecheck.journal.reader import read
from voicecheck.journal.rfc3339 import format_utc, parse
from voicecheck.logbook.sessions import load
from voicecheck.logbook.store.database import open_database
from voicecheck.logbook.store.reading import listed
from voicecheck.session.assembly import Wanted
from voicecheck.session.dating import Dated, date_of
from voicecheck.session.display import Quiet
from voicecheck.session.options import (
    CockpitOptions,
    HearingOptions,
    LogOptions,
    RunOptions,
    VoiceOptions,
)
from voicecheck.session.places import cache_dir
from voicecheck.session.resume import resume
from voicecheck.session.run import Finished, run
from voicecheck.shipped import recordings_dir

ZONE = "Pacific/Auckland"
DEAF = CockpitOptions(hear=False)
MUTE = VoiceOptions(speak=False, tones=False)


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    path = tmp_path / "morning.wav"
    soundfile.write(path, np.zeros(16000, np.int16), 16000)
    return path


def test_without_a_date_there_is_no_session(wav: Path, tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="nothing tells when it was recorded; add --recorded"):
        played(wav, tmp_path)
    assert not (tmp_path / "log").exists()


def played(wav: Path, folder: Path, told: str | None = None) -> Finished:
    options = RunOptions(
        "tarn-40", "ZZ-HAA", folder / "log", wav=wav, recorded_at=told, cockpit=DEAF, voice=MUTE
    )
    return run(options, cache_dir(), Quiet())


def test_the_session_has_the_date_of_its_recording(wav: Path, tmp_path: Path) -> None:
    finished = played(wav, tmp_path, "2026-01-26T12:30:00Z")
    header = read(finished.folder / "journal.jsonl").header
    assert header.started == "2026-01-26T12:30:00.000Z"
    assert finished.folder.name.startswith("20260126T123000Z-ZZ-HAA-")
    assert header.dated is not None
    assert header.dated.by == "told"
    age = datetime.now(UTC) - parse(header.dated.played)
    assert timedelta() <= age < timedelta(minutes=5)
    page = (finished.folder / "report.html").read_text("utf-8")
    assert "as was said with it; played 2" in page
    database = open_database(None, tmp_path / "log")
    with database.reading() as connection:
        assert [entry.started for entry in listed(connection, "ZZ-HAA")] == [header.started]
    database.close()
    again = played(wav, tmp_path, "2026-01-26T12:30:00Z")
    assert again.folder != finished.folder
    assert load(again.folder).summary is not None


@pytest.mark.parametrize(
    ("told", "moment"),
    [
        ("2026-01-26T12:30:00Z", "2026-01-26T12:30:00.000Z"),
        ("2026-01-26T12:30:00+13:00", "2026-01-25T23:30:00.000Z"),
        ("2026-01-26", "2026-01-25T11:00:00.000Z"),  # the operator's midnight
        ("2026-01-26 06:15", "2026-01-25T17:15:00.000Z"),
    ],
)
def test_what_the_user_says(wav: Path, told: str, moment: str) -> None:
    wav.with_suffix(".json").write_text('{"recorded": "2025-01-01"}')
    assert date_of(wav, told, ZONE) == Dated(parse(moment), "told")


@pytest.mark.parametrize("told", ["yesterday", "2026-13-01", "2026", "26.1.2026", ""])
def test_what_is_no_date_is_refused(wav: Path, told: str) -> None:
    with pytest.raises(VoicecheckError, match=r"--recorded-at '.*': no time and no day; write"):
        date_of(wav, told, ZONE)


def test_what_has_not_come_yet_is_refused(wav: Path) -> None:
    ahead = format_utc(datetime.now(UTC) + timedelta(hours=1))
    with pytest.raises(VoicecheckError, match="has not come yet"):
        date_of(wav, ahead, ZONE)
    wav.with_suffix(".json").write_text(json.dumps({"recorded": ahead}))
    with pytest.raises(VoicecheckError, match=r"morning\.json: recorded .* has not come yet"):
        date_of(wav, None, ZONE)


def test_the_file_beside_it(wav: Path) -> None:
    side = wav.with_suffix(".json")
    side.write_text('{"recorded": "2025-03-05T06:15:00Z", "title": "x"}')
    assert date_of(wav, None, ZONE) == Dated(datetime(2025, 3, 5, 6, 15, tzinfo=UTC), "beside")
    side.write_text('{"recorded": 5}')
    with pytest.raises(VoicecheckError, match=r"morning\.json: recorded '5': no time and no day"):
        date_of(wav, None, ZONE)
    for other in ("[1]", "not json", '{"title": "of another program"}'):
        side.write_text(other)
        with pytest.raises(VoicecheckError, match="nothing tells"):
            date_of(wav, None, ZONE)


def test_the_name_of_a_recording_of_ours(wav: Path) -> None:
    ours = wav.with_name("20260126T123000Z-ZZ-HAA-4f2a.wav")
    wav.rename(ours)
    assert date_of(ours, None, ZONE) == Dated(parse("2026-01-26T12:30:00Z"), "name")
    # A later part began some time after, perhaps on another day.
    part = ours.rename(ours.with_name("20260126T123000Z-ZZ-HAA-4f2a.part2.wav"))
    with pytest.raises(VoicecheckError, match="nothing tells"):
        date_of(part, None, ZONE)


@pytest.mark.parametrize("kind", ["wav", "flac"])
@pytest.mark.parametrize(("text", "known"), [("2026-01-26", True), ("2026", False)])
def test_the_tags_of_the_sound(tmp_path: Path, kind: str, text: str, known: bool) -> None:
    path = tmp_path / f"x.{kind}"
    with soundfile.SoundFile(path, "w", 16000, 1) as file:
        file.date = text
        file.write(np.zeros(1600))
    if known:
        assert date_of(path, None, "UTC") == Dated(datetime(2026, 1, 26, tzinfo=UTC), "sound")
    else:
        with pytest.raises(VoicecheckError, match="nothing tells"):
            date_of(path, None, "UTC")


def test_a_broadcast_wave(wav: Path) -> None:
    """A recorder's own clock, which names no zone: it is taken for the operator's."""
    body = (
        b"desc".ljust(256, b"\0")
        + b"rec".ljust(32, b"\0")
        + bytes(32)
        + b"2026-01-26"
        + b"06:15:00"
    )
    body = body.ljust(602, b"\0")
    plain = wav.read_bytes()
    chunk = b"bext" + struct.pack("<I", len(body)) + body
    size = struct.unpack("<I", plain[4:8])[0] + len(chunk)
    wav.write_bytes(plain[:4] + struct.pack("<I", size) + plain[8:12] + chunk + plain[12:])
    assert date_of(wav, None, ZONE) == Dated(parse("2026-01-25T17:15:00Z"), "sound")
    wav.write_bytes(wav.read_bytes().replace(b"2026-01-26", b"\0" * 10))
    with pytest.raises(VoicecheckError, match="nothing tells"):
        date_of(wav, None, ZONE)


def test_the_shipped_recordings_are_dated() -> None:
    found = [date_of(path, None, "UTC") for path in sorted(recordings_dir().glob("*.wav"))]
    assert {dated.by for dated in found} == {"beside"}
    assert {dated.started.date() for dated in found} == {date(2025, 3, day) for day in range(4, 8)}


def test_what_is_said_now_does_not_go_on_with_a_recording(
    wav: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would be dated in the time of the recording."""
    finished = played(wav, tmp_path, "2026-01-26")
    journal = finished.folder / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    ends = [n for n, line in enumerate(lines) if b'"type":"ended"' in line]
    journal.write_bytes(b"".join(lines[: ends[0]]))
    live = Wanted(None, None, DEAF, HearingOptions(), MUTE)
    with pytest.raises(VoicecheckError, match=r"is of a recording; go on .* --from FILE\.wav"):
        resume(LogOptions(tmp_path / "log"), "latest", live, cache_dir(), Quiet())
    rest = Wanted(wav, None, DEAF, HearingOptions(), MUTE)
    resumed = resume(LogOptions(tmp_path / "log"), "latest", rest, cache_dir(), Quiet())
    assert str(resumed.summary["ended"]).startswith("2026-01-26")
