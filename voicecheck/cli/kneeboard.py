"""``voicecheck kneeboard``: past sessions to review, and checklists as cards."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.caution import CAUTION
from voicecheck.cli.log_options import default_log
from voicecheck.cli.screens import DEFAULT_PORT, Address, Pair, Port
from voicecheck.errors import VoicecheckError


def kneeboard(
    log: Annotated[
        Path | None,
        typer.Option(envvar="VOICECHECK_LOG", help="Log folder; default: the user's state files."),
    ] = None,
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
    address: Address = None,
    port: Port = DEFAULT_PORT,
    pair: Pair = False,
) -> None:
    """Serve the kneeboard page without a session of its own, until Ctrl-C.

    It follows the newest session of the log while that runs, shows past ones with their time
    line and sound, and draws checklists as cards to print. A session that takes touches is
    started with `voicecheck run --kneeboard`.
    """
    # Late, so that other commands start without a web server in memory.
    from voicecheck.display.board import Board
    from voicecheck.display.hub import Hub
    from voicecheck.display.proofs import card_routes
    from voicecheck.display.reviewing import review_routes
    from voicecheck.display.server import LOOPBACK, Kneeboard
    from voicecheck.proofreading.cards import Cards
    from voicecheck.session.follow import follow
    from voicecheck.session.review import Review

    folder = log or default_log()
    if recordings is not None and not recordings.is_dir():
        raise VoicecheckError(f"{recordings}: is no folder; name the one with the recordings")
    console = Console(highlight=False, stderr=True)
    console.print(Text(CAUTION), soft_wrap=True)
    cards = Cards(watch or [])
    board, stop = Board(), threading.Event()
    page = Kneeboard(
        Hub(board),
        address=address or LOOPBACK,
        port=port,
        pair=pair,
        show_code=lambda code: console.print(Text(f"pairing code for one device: {code}")),
        routes=[*review_routes(Review(folder, recordings)), *card_routes(cards)],
    )
    page.start()
    for name in ("", "review", "card"):
        console.print(Text(f"{page.url}{name}"))
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
