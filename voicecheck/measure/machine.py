"""On what a measurement was made: figures mean nothing without it."""

from __future__ import annotations

import os
import platform
from dataclasses import dataclass
from pathlib import Path

from voicecheck import __version__


@dataclass(frozen=True, slots=True)
class Machine:
    """cores: those that this process may use."""

    cpu: str
    cores: int
    system: str
    python: str
    voicecheck: str

    def __str__(self) -> str:
        return (
            f"{self.cpu}, {self.cores} cores; {self.system}; Python {self.python}; "
            f"voicecheck {self.voicecheck}"
        )


def this_machine() -> Machine:
    """The machine and the Python that run now."""
    return Machine(
        cpu=_cpu_model() or platform.processor() or platform.machine() or "unknown processor",
        cores=_cores(),
        system=f"{platform.system()} {platform.release()}",
        python=f"{platform.python_implementation()} {platform.python_version()}",
        voicecheck=__version__,
    )


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):  # not on every system
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _cpu_model() -> str | None:
    """The processor's name as Linux tells it; None elsewhere, and on processors without one."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return None
    names = (line.split(":", 1)[1].strip() for line in lines if line.startswith("model name"))
    return next(names, None)
