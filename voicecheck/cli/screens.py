"""The screens of a session as options: the kneeboard page and the terminal view."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated, TypeVar

import typer

from voicecheck.display.board import Board
from voicecheck.errors import VoicecheckError
from voicecheck.session.display import Display, Several
from voicecheck.session.touches import Marks, Touches

DEFAULT_PORT = 7342

OnPage = Annotated[
    bool,
    typer.Option("--kneeboard", help="Show the session as a page on this machine, with touch."),
]
OnScreen = Annotated[
    bool,
    typer.Option("--screen", help="Show the session on the whole terminal, with keys to call."),
]
Address = Annotated[
    str | None,
    typer.Option(
        metavar="IP",
        help="This machine's own address in the network, for a tablet; it is paired by a code. "
        "Default: this machine alone.",
    ),
]
Pair = Annotated[
    bool,
    typer.Option("--pair", help="Ask for the code on this machine too, when others share it."),
]
Port = Annotated[int, typer.Option(help="Port of the page; 0 takes a free one.")]

_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True)
class Screens:
    """Which screens a session has."""

    page: bool = False
    terminal: bool = False
    address: str | None = None
    port: int = DEFAULT_PORT
    pair: bool = False

    def __post_init__(self) -> None:
        if self.address is not None and not self.page:
            raise VoicecheckError(
                "--address goes with --kneeboard; add it or leave the address out"
            )


def run_on(
    screens: Screens, console: Display, work: Callable[[Display, Touches], _Result]
) -> _Result:
    """Do a session's work with its screens; `console` shows what it shows without them."""
    if not screens.page and not screens.terminal:
        return work(console, Touches())
    board, touches = Board(), Touches()
    private: list[str] = []
    with _page(screens, board, touches, private.append if screens.terminal else console.notice):
        if not screens.terminal:
            return work(Several(console, board), touches)
        from voicecheck.display.terminal import show

        return show(
            board,
            lambda: work(board, touches),
            press=lambda callout, change, ground: touches.press(
                callout, "key", Marks(change, ground)
            ),
            stop=lambda: touches.stop("stopped at the keyboard"),
            private=private,
        )


@contextlib.contextmanager
def _page(
    screens: Screens, board: Board, touches: Touches, tell: Callable[[str], None]
) -> Iterator[None]:
    if not screens.page:
        yield
        return
    # Not before it is wanted: a session without a page starts as fast as ever.
    from voicecheck.display.hub import Hub
    from voicecheck.display.server import LOOPBACK, Kneeboard

    page = Kneeboard(
        Hub(board),
        press=lambda callout, change, ground: touches.press(
            callout, "touch", Marks(change, ground)
        ),
        address=screens.address or LOOPBACK,
        port=screens.port,
        pair=screens.pair,
        show_code=lambda code: tell(f"pairing code for one device: {code}"),
    )
    page.start()
    tell(f"kneeboard page: {page.url}")
    try:
        yield
    finally:
        page.close()
