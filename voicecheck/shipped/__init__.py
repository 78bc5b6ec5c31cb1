"""Where the grammars, checklists and recordings that come with voicecheck lie on disk.

In a wheel they are package data beside this file; in a source tree (and in an
editable install, which points at one) they are the repository's top-level folders.
"""

from __future__ import annotations

from pathlib import Path

from voicecheck.errors import VoicecheckError

_HERE = Path(__file__).resolve().parent


def grammars_dir() -> Path:
    """Folder with one sub-folder per language. Raises VoicecheckError when it is missing."""
    return _find("grammars", _HERE)


def checklists_dir() -> Path:
    """Folder of checklists and airframes. Raises VoicecheckError when it is missing."""
    return _find("checklists", _HERE)


def recordings_dir() -> Path:
    """Folder of the demo's crew recordings. Raises VoicecheckError when it is missing."""
    return _find("recordings", _HERE)


def _find(name: str, here: Path) -> Path:
    """The data folder ``name`` for a copy of this package that lies in ``here``."""
    installed = here / name
    if installed.is_dir():
        return installed
    repository = here.parents[1]
    # A stray "grammars" folder in site-packages is not ours: only a source tree has this file.
    in_source = repository / name
    if (repository / "pyproject.toml").is_file() and in_source.is_dir():
        return in_source
    raise VoicecheckError(
        f"voicecheck's own {name} folder is missing (looked for {installed} and {in_source}); "
        "install voicecheck again"
    )
