"""Files and names that mean harm: each is refused at once, in one line, and nothing is touched."""

from __future__ import annotations

import os
import stat
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile
from command import call, refused

from voicecheck.checklist.blank import blank_airframe, blank_type
from voicecheck.yaml_source import MAX_BYTES

AT = ("--recorded-at", "2026-01-05")

TYPE = blank_type("Plover 12")


@pytest.fixture
def checklist(tmp_path: Path) -> Path:
    (tmp_path / "airframes").mkdir()
    (tmp_path / "plover-12.yaml").write_text(TYPE, "utf-8")
    (tmp_path / "airframes" / "zz-plv.yaml").write_text(
        blank_airframe("Plover 12", "plover-12", "ZZ-PLV", "Hollin"), "utf-8"
    )
    return tmp_path / "plover-12.yaml"


@pytest.fixture
def silence(tmp_path: Path) -> Path:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.zeros(16000, np.int16), 16000)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        # Each level names the one before nine times: nine to the ninth power, written out.
        ("a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
            f"{new}: &{new} [{', '.join(['*' + old] * 9)}]\n"
            for old, new in zip("abcdefgh", "bcdefghi", strict=True)
        ), "an alias"),
        ("a: &a\n  b: *a\n", "an alias"),
        ("a: {x: 1}\nb:\n  <<: {y: 2}\n", "merge keys are not allowed"),
        ("[" * 50_000, "nested deeper"),
        ("{a: " * 20_000, "nested deeper"),
        ("- " * 20_000 + "x", "nested deeper"),
        ("? " * 20_000 + "x", "nested deeper"),
        ("\n".join(" " * n + "a:" for n in range(500)), "nested deeper"),
        ("x: !!python/object/apply:os.system [echo]\n", "not allowed"),
        ("x: !!binary aGVsbG8=\n", "not allowed"),
        ("schema: " + "9" * 6000 + "\n", "cannot be read as int"),
        ("x" * (MAX_BYTES + 1), "over the limit"),
        # Beyond the last sign of Unicode, U+10FFFF, and past any number of the machine's.
        ('schema: 1\ntitle: "\\U00110000"\n', "yaml:2:9: not valid YAML: \\U00110000 names no"),
        ('title: "\\UFFFFFFFF"\n', "names no sign; write the sign itself"),
        ('title: "\\uD800"\n', "one half of a sign"),
        (f"%YAML 1.{'9' * 5000}\n---\na: 1\n", "remove the line that begins with %"),
        # A tag that is written out must not read a word as what it is not: this one as false.
        ("x: !!bool yes\n", "'yes' cannot be read as bool"),
        ("x: !!null text\n", "'text' cannot be read as null"),
        ("x: !mine:int 5\n", "the tag '!mine:int' is not allowed"),
    ],
)  # fmt: skip
def test_a_file_that_would_blow_up(
    content: str, words: str, checklist: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    checklist.write_text(content, "utf-8")
    began = time.process_time()
    status, out, _ = call("validate", checklist, capsys=capsys)
    assert time.process_time() - began < 10
    assert (status, out.count("\n")) == (2, 1), out
    assert words in out
    assert len(out) < 600


def test_a_file_that_never_ends(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    for path in (Path("/dev/zero"), tmp_path / "pipe.yaml"):
        status, out, _ = call("validate", path, capsys=capsys)
        assert (status, "is no regular file" in out) == (2, True), out


@pytest.mark.parametrize(
    "name", ["../../etc", "/etc/passwd", "..", "a/b", "%2e%2e", "\u2024\u2024"]
)
@pytest.mark.parametrize("command", ["log show", "log report", "resume"])
def test_a_session_that_leads_out_of_the_log(
    command: str, name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "log").mkdir()
    line = refused(*command.split(), name, "--log", tmp_path / "log", capsys=capsys)
    assert "is not a session id" in line or "no session" in line


def test_a_finding_that_leads_out_of_the_log(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("log", "defer", "../../x/1", "--by", "A", "--reference", "B", "--log", tmp_path)
    assert "does not name a finding" in refused(*words, capsys=capsys)


def test_a_language_that_leads_out_of_the_grammars(
    checklist: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    checklist.write_text(TYPE.replace("type: Plover 12", "type: P\nlanguage: ../en"), "utf-8")
    out = call("validate", checklist, capsys=capsys)[1]
    assert "the name of a folder of grammars" in out


def test_a_registration_with_a_path_stays_in_the_log(
    checklist: Path, silence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "airframes" / "zz-plv.yaml").write_text(
        blank_airframe("P", "plover-12", "ZZ-PLV", "H").replace("ZZ-PLV", '"../../x"'), "utf-8"
    )
    line = refused(
        "run", checklist, "--airframe", "../../x", "--from", silence, *AT, "--mute",
        "--second-listener", "off", "--log", tmp_path / "deep" / "log", capsys=capsys,
    )  # fmt: skip
    assert "use the letters A to Z, digits and hyphens" in line
    assert list(tmp_path.rglob("journal.jsonl")) == []


def test_everything_that_a_session_leaves_is_private(
    checklist: Path, silence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever the user's umask lets through."""
    log = tmp_path / "state" / "log"
    old = os.umask(0)
    try:
        status, _, err = call(
            "run", checklist, "--airframe", "ZZ-PLV", "--from", silence, *AT, "--log", log,
            "--second-listener", "off", "--mute", "--pilot", "Ada", capsys=capsys,
        )  # fmt: skip
        assert status == 3, err
        for kind in ("pdf", "text", "json", "vtt"):
            assert (
                call("log", "report", "latest", "--format", kind, "--log", log, capsys=capsys)[0]
                == 0
            )
    finally:
        os.umask(old)
    modes = {
        str(path.relative_to(log.parent)): stat.S_IMODE(path.stat().st_mode)
        for path in (log, *log.rglob("*"))
    }
    assert len(modes) > 8
    assert {name: oct(mode) for name, mode in modes.items() if mode & 0o077} == {}


def test_a_log_folder_that_is_a_link(
    checklist: Path, silence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One's own link to another disk is followed; one that leads nowhere is refused."""
    words = ("run", checklist, "--airframe", "ZZ-PLV", "--from", silence, *AT, "--mute",
             "--second-listener", "off", "--log")  # fmt: skip
    (tmp_path / "disk").mkdir()
    (tmp_path / "log").symlink_to(tmp_path / "disk")
    status, _, err = call(*words, tmp_path / "log", capsys=capsys)
    assert status == 3, err
    (folder,) = (path.parent for path in (tmp_path / "disk").glob("*/journal.jsonl"))

    (tmp_path / "log2").symlink_to(tmp_path / "nowhere")
    assert "--log" in refused(*words, tmp_path / "log2", capsys=capsys)
    assert not (tmp_path / "nowhere").exists()

    # A session that is a link leads out of the log, and is not one of its sessions.
    other = tmp_path / "other"
    other.mkdir()
    (other / folder.name).symlink_to(folder)
    line = refused("log", "show", folder.name, "--log", other, capsys=capsys)
    assert "link" in line or "no session" in line


@pytest.mark.parametrize("place", ["/proc/voicecheck", "/dev/null", "/dev/null/log"])
def test_a_place_where_nobody_may_write(
    place: str, checklist: Path, silence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Even root cannot: these are no folders of a disk."""
    line = refused(
        "run", checklist, "--airframe", "ZZ-PLV", "--from", silence, *AT, "--mute",
        "--second-listener", "off", "--log", place, capsys=capsys,
    )  # fmt: skip
    assert "choose another folder with --log" in line
    line = refused("new", "type", "One", "--into", place, capsys=capsys)
    assert "--into" in line


def test_a_file_without_the_right_to_read(
    checklist: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Root may read everything, so the refusal is played."""
    real = os.open

    def denied(path: object, flags: int, mode: int = 0o777, **named: int) -> int:
        if str(path) == str(checklist):
            raise PermissionError(13, "Permission denied")
        return real(path, flags, mode, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(os, "open", denied)
    out = call("validate", checklist, capsys=capsys)[1]
    assert "cannot be read (Permission denied); check its rights" in out


def test_a_journal_that_is_too_large(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "journal.jsonl"
    with path.open("wb") as file:
        file.truncate(300 * 2**20)  # holes: it takes no room
    assert "at most 256 MiB" in refused("replay", path, capsys=capsys)


def test_a_recording_that_promises_more_than_it_holds(
    checklist: Path, silence: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    content = bytearray(silence.read_bytes())
    content[40:44] = (0x6FFF_FFFF).to_bytes(4, "little")
    silence.write_bytes(content)
    line = refused(
        "run", checklist, "--airframe", "ZZ-PLV", "--from", silence, *AT, "--log", tmp_path / "log",
        capsys=capsys,
    )  # fmt: skip
    assert "silence.wav" in line


@pytest.mark.parametrize(
    "words", [("validate",), ("replay",), ("log", "deliver", "--key"), ("log", "list", "--log")]
)
def test_a_name_that_no_file_can_have(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """Longer than a name in a folder may be, 255 bytes (limits.h, NAME_MAX on Linux)."""
    status, out, err = call(*words, "x" * 5000, capsys=capsys)
    assert status == 2
    assert "Traceback" not in out + err
    assert "too long" in out + err
