"""How the tests are shared out between two processes (`make test` runs pytest-xdist)."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

REAL_TIME = {
    "audio/test_live_sound.py",
    "measure/test_sound_measures.py",
    "rehearsal/test_live.py",
    "session/test_keyboard.py",
    "session/test_live.py",
    "session/test_live_faults.py",
}
"""Tests that talk through a sound card: one after another, so that a core is theirs."""
APART = {"session/test_recordings.py", "engine/test_exploration.py"}
"""Files whose tests are long and share nothing: each goes wherever there is room."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """A file stays in one process, for its fixtures; sound-card tests are all in the same one."""
    here = Path(__file__).parent
    for item in items:
        file = item.path.relative_to(here).as_posix()
        if file not in APART:
            name = "real time" if file in REAL_TIME else file
            item.add_marker(pytest.mark.xdist_group(name))


def pytest_configure() -> None:
    """A background job of a shell ignores Ctrl-C, and so would every program started from here."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
