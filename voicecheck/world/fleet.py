"""Airframes by the names of their checklists, of the shipped ones or of a file."""

from __future__ import annotations

from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.shipped import checklists_dir, grammars_dir


def airframe(checklist: str, registration: str) -> Loaded:
    """One airframe. Raises VoicecheckError or InputError."""
    return load_checklist(
        checklist, registration, shipped=checklists_dir(), grammars=grammars_dir()
    )
