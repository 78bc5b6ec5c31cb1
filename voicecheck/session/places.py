"""Where voicecheck keeps what it makes: the user's own folders, never the package."""

from __future__ import annotations

from pathlib import Path

import platformdirs


def cache_dir() -> Path:
    """Rendered prompts and joined model weights; may be deleted at any time."""
    return platformdirs.user_cache_path("voicecheck")
