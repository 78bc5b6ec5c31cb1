"""How the tests are shared out: a file to one process, what talks in real time first and alone."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import conftest

HERE = Path(__file__).parent
ONE, OTHER = "engine/test_windows.py", "session/test_settings.py"


def test_the_files_that_are_shared_out_by_name_are_there() -> None:
    named = conftest.REAL_TIME | conftest.APART | conftest.LONG
    assert [file for file in sorted(named) if not (HERE / file).is_file()] == []


def test_a_file_stays_in_one_process() -> None:
    """In a run of its own: a plugin that no longer asks us would spread the tests, unseen."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    command = ("-n", "2", "--dist", "loadscope", "--no-loadscope-reorder", "-v")
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *command, "-p", "no:cacheprovider",
         *(f"tests/{file}" for file in (ONE, OTHER))],
        cwd=HERE.parent, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    ran = re.findall(r"^\[(gw\d)\] .* tests/(\S+?)::", done.stdout, re.MULTILINE)
    assert {file for _, file in ran} == {ONE, OTHER}
    assert len(set(ran)) == 2, "each file in one process"
