"""Whatever is typed after `voicecheck`: it is done, or told in words; never a trace of the code."""

from __future__ import annotations

import contextlib
import io
import shlex
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import typer
from fuzzing import ODD, for_long, quick, watched
from hypothesis import given
from hypothesis import strategies as st
from invented import place

from voicecheck.checklist.blank import blank_airframe, blank_type
from voicecheck.cli import app, main
from voicecheck.cli.examples import EXAMPLES
from voicecheck.measure.invented_log import Invented

LONG_RUNNING = {"kneeboard", "demo", "rehearse", "audio"}
"""They serve, play or simulate; what they refuse is tested beside each."""


def leaves(command: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    inner = getattr(command, "commands", None)
    if inner is None:
        yield path, command
        return
    for name, found in inner.items():
        if name not in LONG_RUNNING and path[:1] != ("measure",):
            yield from leaves(found, (*path, name))


COMMANDS = dict(leaves(typer.main.get_command(app)))
OPTIONS = {
    path: sorted({name for p in command.params for name in p.opts if name.startswith("-")})
    for path, command in COMMANDS.items()
    if path != ("measure",)
}
VALUES = (
    "checklists", "plover-12.yaml", "airframes/zz-plv.yaml", "log", "latest", "ZZ-PLV", "ZZ-HAA",
    "none.wav", "short.wav", "latest/1", "latest/999999999999", "2026", "timings", "sessions",
    "csv", "json", "pdf", "text", "vtt", "type", "airframe", "A", "C", "2026-11-26T06:15:00Z",
    "sqlite:///other.sqlite", "sqlite:////", "postgresql://nobody@127.0.0.1:1/none", "mysql://x",
    "/dev/null", "/dev/full", "/proc/self/mem", ".", "..", "out/new.html", "--", "-h", "1", "-1",
    "1e9", "\udcff", "off", "auto", "vosk", "nobody", *(text for text in ODD if "\0" not in text),
)  # fmt: skip


@pytest.fixture(scope="module")
def here() -> Iterator[Path]:
    """A folder with a checklist, a log and a recording to go wrong with."""
    with tempfile.TemporaryDirectory() as name, pytest.MonkeyPatch.context() as patch:
        # Deep enough for the paths that lead upwards.
        folder = Path(name) / "a" / "b" / "c"
        folder.mkdir(parents=True)
        patch.chdir(folder)
        for variable in ("XDG_STATE_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "HOME"):
            patch.setenv(variable, str(folder / "home"))
        patch.setenv("VOICECHECK_LOG", str(folder / "log"))
        # No sound server: a session that gets so far finds no microphone.
        patch.setenv("PULSE_SERVER", "unix:none")
        patch.setenv("XDG_RUNTIME_DIR", str(folder))
        (folder / "airframes").mkdir()
        (folder / "plover-12.yaml").write_text(blank_type("Plover 12"), "utf-8")
        (folder / "airframes" / "zz-plv.yaml").write_text(
            blank_airframe("Plover 12", "plover-12", "ZZ-PLV", "Hollin"), "utf-8"
        )
        (folder / "short.wav").write_bytes(b"RIFF\x24\0\0\0WAVEfmt ")
        place(folder / "log", Invented("ZZ-HAA", datetime(2026, 11, 25, 6, 15, tzinfo=UTC)))
        yield folder


@st.composite
def lines(draw: st.DrawFn) -> list[str]:
    """An example with a word changed, or a command with options and values of any kind."""
    path = draw(st.sampled_from(sorted(OPTIONS)))
    examples = EXAMPLES.get(" ".join(path), ())
    if examples and draw(st.booleans()):
        words = shlex.split(draw(st.sampled_from(examples))[0])
        at = draw(st.integers(0, len(words) - 1))
        match draw(st.integers(0, 2)):
            case 0:
                words[at] = draw(st.sampled_from(VALUES))
            case 1:
                del words[at]
            case _:
                words.insert(at, draw(st.one_of(st.sampled_from(VALUES), st.text(max_size=5))))
    else:
        word = st.one_of(st.sampled_from(OPTIONS[path]), st.sampled_from(VALUES))
        words = [*path, *draw(st.lists(word, max_size=7))]
    return [word.replace("\0", "") for word in words if word not in LONG_RUNNING]


def typed(words: list[str]) -> tuple[int, str]:
    told = io.TextIOWrapper(io.BytesIO(), "utf-8", errors="backslashreplace")
    old = sys.argv
    sys.argv = ["voicecheck", *words]
    try:
        with contextlib.redirect_stdout(told), contextlib.redirect_stderr(told):
            main()
    except SystemExit as ended:
        status = ended.code
    else:
        status = 0
    finally:
        sys.argv = old
    told.flush()
    text = told.buffer.getvalue().decode("utf-8")  # type: ignore[attr-defined]
    return (status or 0) if isinstance(status, int | None) else 1, text


@for_long
@quick
@given(lines())
def test_any_words(here: Path, words: list[str]) -> None:
    if "measure" in words[:1]:
        return
    with watched(words):
        status, text = typed(words)
    assert "Traceback" not in text, text
    assert status in (0, 1, 2, 3), text
    if status == 2:
        assert text.strip(), "a refusal says why"
    assert (here / "plover-12.yaml").exists()
