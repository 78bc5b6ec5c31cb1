"""Distributions built from this tree."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def build(hook: str, into: Path) -> Path:
    """Call one build-backend hook on this tree (PEP 517 and PEP 660) and return what it made."""
    program = f"from hatchling.build import {hook} as make; print(make({str(into)!r}))"
    made = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert made.returncode == 0, made.stderr
    return into / made.stdout.split()[-1]
