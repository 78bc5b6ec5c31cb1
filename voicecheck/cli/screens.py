"""The screens of a session as options: the kneeboard page and the terminal view."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from voicecheck.display.board import Board
from voicecheck.errors import VoicecheckError
from voicecheck.session.display import Display, Several
from voicecheck.session.run import Finished
from voicecheck.session.touches import Marks, Touches

if TYPE_CHECKING:
    from voicecheck.display.server import Kneeboard, Pressing

DEFAULT_PORT = 7342


@dataclass(frozen=True, slots=True)
class Reach:
    """Who can reach the page."""

    address: Annotated[
        str | None,
        typer.Option(
            metavar="IP",
            help="This machine's own address in the network, for a tablet; it is paired by a code. "
            "Default: this machine alone.",
        ),
    ] = None
    port: Annotated[int, typer.Option(help="Port of the page; 0 takes a free one.")] = DEFAULT_PORT
    pair: Annotated[
        bool,
        typer.Option("--pair", help="Ask for the code on this machine too, when others share it."),
    ] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Screens:
    """Which screens a session has."""

    page: Annotated[
        bool,
        typer.Option("--kneeboard", help="Show the session as a page on this machine, with touch."),
    ] = False
    terminal: Annotated[
        bool,
        typer.Option("--screen", help="Show the session on the whole terminal, with keys to call."),
    ] = False
    reach: Reach
    stay: Annotated[
        bool,
        typer.Option("--stay", help="Keep the page after the session, for review, until Ctrl-C."),
    ] = False

    def check(self) -> None:
        """Raise VoicecheckError for what goes with a page, where there is none."""
        if self.page:
            return
        if self.stay:
            raise VoicecheckError("--stay goes with --kneeboard; add it or leave it out")
        if self.reach.address is not None:
            raise VoicecheckError(
                "--address goes with --kneeboard; add it or leave the address out"
            )
        if self.reach.pair or self.reach.port != DEFAULT_PORT:
            raise VoicecheckError("--pair and --port go with --kneeboard; add it or leave them out")


def run_on(
    screens: Screens,
    console: Display,
    log: Path,
    work: Callable[[Display, Touches], Finished],
    board: Board | None = None,
) -> Finished:
    """Do a session's work with its screens; `console` shows what it shows without them.

    log: whose sessions the page can show for review. board: where somebody else draws, too.
    """
    if not screens.page and not screens.terminal:
        return work(console, Touches())
    board, touches = board or Board(), Touches()
    private: list[str] = []
    tell = private.append if screens.terminal else console.notice
    with _page(screens, board, touches, tell, log):
        if not screens.terminal:
            finished = work(Several(console, board), touches)
        else:
            from voicecheck.display.terminal import show

            finished = show(
                board,
                lambda: work(board, touches),
                press=lambda callout, change, ground: touches.press(
                    callout, "key", Marks(change, ground)
                ),
                stop=lambda: touches.stop(board.words("ended-keyboard")),
                private=private,
            )
        if screens.stay:
            board.filed(finished.folder.name)
            console.notice("the page stays for review; Ctrl-C ends it")
            with contextlib.suppress(KeyboardInterrupt):
                threading.Event().wait()
    return finished


@contextlib.contextmanager
def _page(
    screens: Screens, board: Board, touches: Touches, tell: Callable[[str], None], log: Path
) -> Iterator[None]:
    if not screens.page:
        yield
        return
    page = open_page(
        board,
        screens.reach,
        tell,
        log,
        press=lambda callout, change, ground: touches.press(
            callout, "touch", Marks(change, ground)
        ),
    )
    tell(f"kneeboard page: {page.url}")
    try:
        yield
    finally:
        page.close()


def open_page(
    board: Board,
    reach: Reach,
    tell: Callable[[str], None],
    log: Path,
    recordings: Path | None = None,
    *,
    watch: Sequence[Path] = (),
    press: Pressing | None = None,
) -> Kneeboard:
    """Serve a board's picture, the sessions of a log for review, and checklists as cards.

    watch: type files that are being written. Raises VoicecheckError.
    """
    # Late, so that a session without a page starts without a web server in memory.
    from voicecheck.display.hub import Hub
    from voicecheck.display.proofs import card_routes
    from voicecheck.display.reviewing import review_routes
    from voicecheck.display.server import LOOPBACK, Kneeboard
    from voicecheck.proofreading.cards import Cards
    from voicecheck.session.review import Review

    page = Kneeboard(
        Hub(board),
        press=press,
        address=reach.address or LOOPBACK,
        port=reach.port,
        pair=reach.pair,
        routes=[*review_routes(Review(log, recordings)), *card_routes(Cards(watch))],
        show_code=lambda code: tell(f"pairing code for one device: {code}"),
    )
    page.start()
    return page
