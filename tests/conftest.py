"""How the tests are shared out between processes (`make test` runs pytest-xdist).

Sessions in real time mostly wait. They have a process of their own, and all others give way to it
(`nice`), so a core is theirs whenever they want it and the others' whenever they do not.
"""

from __future__ import annotations

import os
import signal
from pathlib import Path
from typing import Any

import pytest
from xdist.scheduler import LoadScopeScheduling

HERE = Path(__file__).parent
REAL_TIME = {
    "audio/test_live_sound.py",
    "measure/test_sound_measures.py",
    "rehearsal/test_live.py",
    "session/test_keyboard.py",
    "session/test_live.py",
    "session/test_live_faults.py",
}
"""Tests that talk through a sound card: one after another, the first of all."""
APART = {"session/test_recordings.py", "engine/test_exploration.py"}
"""Files whose tests are long and share nothing: each goes wherever there is room."""
LONG = {
    "cli/test_bad_input.py",
    "cli/test_validate_advice.py",
    "measure/test_corpus.py",
    "proofreading/test_collisions.py",
    "rehearsal/test_fast.py",
    "rehearsal/test_second.py",
    "rehearsal/test_sound.py",
    "rehearsal/test_training.py",
    "session/test_killed.py",
    "shipped/test_outside_the_tree.py",
}
"""Files of more than twenty seconds: early, so that none is left to one process at the end."""
GIVING_WAY = 10
"""The niceness of all that is not in real time: a tenth of a core where both want it."""


def file_of(item: pytest.Item) -> str:
    return item.path.relative_to(HERE).as_posix()


class Shares(LoadScopeScheduling):
    """A file stays in one process, for its fixtures; sound-card tests are all in the same one.

    By the names of the tests: groups that pytest-xdist 3.8 writes into them are lost in pytest 9.2.
    """

    def _split_scope(self, nodeid: str) -> str:
        file = nodeid.partition("::")[0].removeprefix("tests/")
        if file in APART:
            return nodeid
        return "real time" if file in REAL_TIME else file


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Shares:
    return Shares(config, log)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One for real time, and one for each of two cores."""
    return 1 + min(2, os.cpu_count() or 1)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The order in which they are given out, with --no-loadscope-reorder."""
    items.sort(key=lambda item: (file_of(item) not in REAL_TIME, file_of(item) not in LONG | APART))


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Beside a session in real time, everything else gives way, with all that it starts."""
    if "PYTEST_XDIST_WORKER" in os.environ and file_of(item) not in REAL_TIME:
        os.nice(max(0, GIVING_WAY - os.nice(0)))


def pytest_configure() -> None:
    """A background job of a shell ignores Ctrl-C, and so would every program started from here."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
