"""The session on the whole terminal, usable over ssh, with keys for every callout."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any, ClassVar, Final, Generic, TypeVar

from rich.text import Text
from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal
from textual.events import Key
from textual.widgets import Static

from voicecheck.display import telling
from voicecheck.display.board import Board
from voicecheck.display.keys import typed_so_far
from voicecheck.words import say, speaking

SETTLE: Final = 0.6
"""Seconds in which a hand may still be aiming at what was asked before."""
_EVERY: Final = 0.08
_Result = TypeVar("_Result")

Press = Callable[[str, int, int], bool]


class TerminalView(App[None], Generic[_Result]):
    """Mirrors a board; `work` is the session, in a thread of its own.

    press: takes a callout and the marks of the picture. stop: the wish to end. private: notices
    for this terminal alone, newest last.
    """

    CSS = """
    Screen { layout: vertical; }
    #head { height: 1; }
    #cockpit { height: auto; border-bottom: solid; display: none; }
    #middle { height: 1fr; }
    #here { width: 3fr; padding: 0 1; }
    #side { width: 2fr; padding: 0 1; border-left: solid; }
    #calls { height: auto; max-height: 7; border-top: solid; }
    #foot { height: auto; }
    """
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c", "stop", "end", priority=True),
        Binding("ctrl+q", "stop", "end", priority=True),
    ]

    def __init__(
        self,
        board: Board,
        work: Callable[[], _Result],
        *,
        press: Press,
        stop: Callable[[], None],
        private: Sequence[str] = (),
    ) -> None:
        super().__init__(ansi_color=True)
        self._board = board
        self._work = work
        self._press = press
        self._stop = stop
        self._private = private
        self._typed = ""
        self._told = ""
        self._seen: dict[str, Any] = board.picture()
        self._settled = 0.0
        self._stopping = False
        self._drawn: dict[str, Text] = {}
        self.result: list[_Result] = []
        self.failure: BaseException | None = None

    def compose(self) -> ComposeResult:
        """Head, a simulated aircraft if any, the two columns, the callouts, the caution."""
        yield Static(id="head")
        yield Static(id="cockpit")
        with Horizontal(id="middle"):
            yield Static(id="here")
            yield Static(id="side")
        yield Static(id="calls")
        yield Static(id="foot")

    def on_mount(self) -> None:
        """Begin the session once there is something to see it on."""
        self.set_interval(_EVERY, self._look)
        threading.Thread(target=self._session, name="session", daemon=True).start()

    def on_key(self, event: Key) -> None:
        """A callout is complete with its last key; Escape drops what was typed."""
        if event.key == "escape":
            self._typed = ""
        elif event.character is not None and event.character.isprintable():
            codes = {offer["keys"]: offer for offer in self._seen["offers"]}
            self._typed, found = typed_so_far(codes, self._typed + event.character)
            if found is not None:
                self._enter(found)
        self._draw()

    def action_stop(self) -> None:
        """End the session; its record is closed. Asked twice, leave even a session that hangs."""
        if self._stopping:
            self.exit()
        self._stopping = True
        self._told = self._board.words("ending")
        self._stop()

    def _enter(self, offer: dict[str, str]) -> None:
        state = self._seen["state"]
        if time.monotonic() < self._settled:
            self._told = self._board.words("just-changed-screen")
        elif self._press(offer["callout"], state.get("change", 0), state.get("ground", 0)):
            self._told = offer["words"]
            self._settled = time.monotonic() + SETTLE
        else:
            self._told = self._board.words("not-taken-screen")

    def _session(self) -> None:
        try:
            self.result.append(self._work())
        except BaseException as error:  # told by whoever started us
            self.failure = error
        with contextlib.suppress(RuntimeError):  # the view is gone already
            self.call_from_thread(self._leave)

    def _leave(self) -> None:
        """Not before the last picture was painted: a short session shows something, too."""
        self._look()
        self.call_after_refresh(self.exit)

    def _look(self) -> None:
        if self._board.seq != self._seen["seq"]:
            before, self._seen = self._seen["state"], self._board.picture()
            if before.get("ground") != self._seen["state"].get("ground"):
                self._typed = ""
                self._settled = time.monotonic() + SETTLE
        self._draw()

    def _draw(self) -> None:
        """In the words of the session: this is another thread than its own."""
        with speaking(self._board.words):
            self._paint()

    def _paint(self) -> None:
        level = self._board.level
        now = max(self._seen["now"], level.at)
        calls = telling.calls(self._seen, self._typed)
        last = self._typed + "…" if self._typed else self._told
        notes = [text for text in (last, *self._private[-1:]) if text]
        if notes:
            calls.append("\n" + "   ".join(notes), telling.BOLD)
        self._put("#head", telling.head(self._seen))
        aircraft = telling.cockpit(self._seen)
        self.query_one("#cockpit").display = bool(aircraft)
        self._put("#cockpit", aircraft)
        self._put("#here", telling.here(self._seen))
        side = telling.side(self._seen, now, level.level, speaking=level.speaking)
        self._put("#side", side)
        self._put("#calls", calls)
        self._put("#foot", Text(say("caution")))

    def _put(self, widget: str, text: Text) -> None:
        """Only what changed: a line over ssh is narrow."""
        if self._drawn.get(widget) != text:
            self._drawn[widget] = text
            self.query_one(widget, Static).update(text)


def show(
    board: Board,
    work: Callable[[], _Result],
    *,
    press: Press,
    stop: Callable[[], None],
    private: Sequence[str] = (),
) -> _Result:
    """Run `work` with the view in front of it; returns or raises what it does."""
    view = TerminalView(board, work, press=press, stop=stop, private=private)
    view.run()
    if view.failure is not None:
        raise view.failure
    if not view.result:
        raise KeyboardInterrupt
    return view.result[0]
