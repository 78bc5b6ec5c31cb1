"""From an effect of the engine to the pixels of the kneeboard page, in a real browser.

Needs Debian's chromium and chromium-driver and the package selenium: all are there where the
tests run, none is needed to use voicecheck.
"""

from __future__ import annotations

import json
import threading
import time
from contextlib import ExitStack
from itertools import cycle
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.server import Kneeboard
from voicecheck.engine import Engine
from voicecheck.engine.effects import Listen
from voicecheck.engine.events import Began, Event, KeyPressed
from voicecheck.errors import VoicecheckError
from voicecheck.measure.table import Table
from voicecheck.session.glance import glance
from voicecheck.session.touches import Pictures
from voicecheck.world.fleet import airframe

if TYPE_CHECKING:
    from selenium.webdriver import Chrome

CHANGES: Final = 150
APART: Final = 0.12
"""Seconds between changes: faster than any crew."""
_SIZE: Final = "1280,800"

# The frame that shows a change is on its way to the screen when the task after it runs.
_WATCH: Final = """
window.seen = [];
new MutationObserver(() => {
  const seq = Number(document.documentElement.dataset.seq);
  requestAnimationFrame(() => {
    const after = new MessageChannel();
    after.port1.onmessage = () => seen.push([seq, performance.timeOrigin + performance.now()]);
    after.port2.postMessage(null);
  });
}).observe(document.documentElement, { attributeFilter: ["data-seq"] });
"""


def measure_page(changes: int = CHANGES) -> Table:
    """Delays to a plain socket and to the page, side by side over the same changes.

    Raises VoicecheckError where there is no browser to measure with.
    """
    board = Board()
    with ExitStack() as opened:
        page = Kneeboard(Hub(board))
        opened.callback(page.close)
        page.start()
        driver = _browser()
        opened.callback(driver.quit)
        driver.get(page.url)
        driver.execute_script(_WATCH)
        socket = _Socket(page.url)
        time.sleep(0.5)
        sent: dict[int, float] = {}
        # The selector of a real checklist goes round, with everything that follows.
        checklist = airframe("skerry-j2", "ZZ-HJC").checklist
        engine, pictures = Engine(checklist), Pictures()
        engine.handle(Began(0.0))
        around = cycle(position.id for position in checklist.positions[:-1])
        for now in range(1, changes + 1):
            _change(board, engine, pictures, KeyPressed(f"select:{next(around)}", float(now)))
            picture = board.picture()
            sent[picture["seq"]] = picture["sent"]
            time.sleep(APART)
        time.sleep(0.5)
        seen = {int(seq): at for seq, at in driver.execute_script("return window.seen")}
        rows = tuple(
            _row(name, sent, arrived)
            for name, arrived in (("plain socket", socket.close()), ("page, drawn", seen))
        )
    return Table(
        "kneeboard: from effect to pixel",
        ("to", "changes", "arrived", "median ms", "95 % ms", "worst ms"),
        rows,
        ("plain socket: the same pictures received by a program, without a page",),
    )


def _row(name: str, sent: dict[int, float], arrived: dict[int, float]) -> tuple[Any, ...]:
    delays = np.array([arrived[seq] - at for seq, at in sent.items() if seq in arrived])
    if not len(delays):
        return (name, len(sent), 0, None, None, None)
    figures = (np.median(delays), np.percentile(delays, 95), delays.max())
    return (name, len(sent), len(delays), *(round(float(figure), 1) for figure in figures))


def _change(board: Board, engine: Engine, pictures: Pictures, event: Event) -> None:
    for effect in engine.handle(event):
        if isinstance(effect, Listen):
            board.offered(effect.callouts)
    board.state(pictures.mark(glance(engine)))


class _Socket:
    """Receives pictures as the page does, and only notes when."""

    def __init__(self, url: str) -> None:
        from websockets.sync.client import connect

        origin: Any = url.rstrip("/")
        self._line = connect(url.replace("http", "ws", 1) + "live", origin=origin, proxy=None)
        self._arrived: dict[int, float] = {}
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self) -> None:
        for text in self._line:
            at = time.time() * 1000
            message = json.loads(text)
            if message["kind"] == "picture":
                self._arrived[message["seq"]] = at

    def close(self) -> dict[int, float]:
        """When each picture arrived, in milliseconds."""
        self._line.close()
        self._thread.join(2)
        return self._arrived


def _browser() -> Chrome:
    try:
        from selenium.common.exceptions import WebDriverException
        from selenium.webdriver import Chrome, ChromeOptions
        from selenium.webdriver.chrome.service import Service
    except ImportError:
        raise VoicecheckError(
            "measuring the page needs the package selenium; run it where the tests run"
        ) from None
    options = ChromeOptions()
    options.binary_location = "/usr/bin/chromium"
    for argument in (
        "--headless=new",
        "--no-sandbox",
        "--disable-dev-shm-usage",
        "--disable-gpu",
        f"--window-size={_SIZE}",
    ):
        options.add_argument(argument)
    try:
        return Chrome(options, Service("/usr/bin/chromedriver"))
    except WebDriverException as error:
        raise VoicecheckError(
            f"no browser to measure with ({str(error).splitlines()[0]}); install chromium and "
            "chromium-driver"
        ) from None
