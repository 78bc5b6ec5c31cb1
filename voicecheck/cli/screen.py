"""Where a session is shown."""

from __future__ import annotations

import os

from rich.console import Console


def session_screen(*, as_json: bool, live: bool) -> Console:
    """Standard output or, where that holds the JSON result, standard error.

    Live, the sound libraries have descriptor 2 shut for moments at a time, so that their chatter
    stays out of the screen (audio.portaudio); what the crew is told goes round that.
    """
    if as_json and live:
        way_round = os.fdopen(os.dup(2), "w", encoding="utf-8", buffering=1)
        return Console(file=way_round, highlight=False)
    return Console(stderr=as_json, highlight=False)
