"""``voicecheck kneeboard``: past sessions to review, and checklists as cards."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.cli.groups import grouped
from voicecheck.cli.log_options import default_log
from voicecheck.cli.screen import print_line
from voicecheck.cli.screens import Reach, open_page
from voicecheck.cli.whole_session import LogFolder
from voicecheck.errors import VoicecheckError


@grouped
def kneeboard(
    log: LogFolder = None,
    recordings: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR",
            help="Where the sessions' sound is.",
            show_default="`recordings` beside the log",
        ),
    ] = None,
    watch: Annotated[
        list[Path] | None,
        typer.Option(
            "--watch",
            metavar="FILE.yaml",
            help="A type file that is being written: its cards are checked at every save.",
        ),
    ] = None,
    *,
    reach: Reach,
) -> None:
    """Serve the kneeboard page without a session of its own, until Ctrl-C.

    It follows the newest session of the log while that runs, shows past ones with their time
    line and sound, and draws checklists as cards to print. A session that takes touches is
    started with `voicecheck run --kneeboard`.
    """
    # Late, so that other commands start without an engine in memory.
    from voicecheck.display.board import Board
    from voicecheck.session.follow import follow

    folder = log or default_log()
    if recordings is not None and not recordings.is_dir():
        raise VoicecheckError(f"{recordings}: is no folder; name the one with the recordings")
    console = Console(highlight=False, stderr=True)
    print_line(CAUTION, console)
    board, stop = Board(), threading.Event()
    page = open_page(
        board, reach, lambda text: print_line(text, console), folder, recordings, watch=watch or ()
    )
    for name in ("", "review", "card"):
        print_line(f"{page.url}{name}", console)
    follower = threading.Thread(target=follow, args=(folder, board, stop), daemon=True)
    follower.start()
    try:
        stop.wait()
    except KeyboardInterrupt:
        console.print("voicecheck: stopped")
    finally:
        stop.set()
        page.close()
        follower.join(2)
