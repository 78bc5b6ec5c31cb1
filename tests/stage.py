"""A scripted session with its kneeboard page, and a real browser in front of it."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from cockpit import Cockpit
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.action_chains import ActionChains

from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.server import Kneeboard
from voicecheck.session.touches import Marks, Touches

TABLET = (1280, 800)
SMALL_TABLET = (1024, 768)


# What is cut off, and what would have to be scrolled to. Only the last findings and what we said
# (four lines of it; it is spoken in full) may end in "...".
CLIPPED = """
const box = document.scrollingElement;
const found = box.scrollHeight > innerHeight || box.scrollWidth > innerWidth ? ["the page"] : [];
for (const e of document.querySelectorAll("body *")) {
  if (!e.clientHeight || e.closest("#findings, #said, svg, #bar")) continue;
  if (e.scrollHeight > e.clientHeight + 1 && getComputedStyle(e).overflow !== "visible"
      || e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).display !== "inline")
    found.push(`${e.tagName}#${e.id}.${e.className}: ${e.textContent.slice(0, 60)}`);
  const r = e.getBoundingClientRect();
  if (r.bottom > innerHeight + 1 || r.right > innerWidth + 1)
    found.push(`outside: ${e.outerHTML.slice(0, 90)}`);
}
return found;
"""
SMALL_TARGETS = """
return [...document.querySelectorAll(".call, #panes button, #theme")]
  .filter(b => b.offsetHeight && (b.offsetHeight < 44 || b.offsetWidth < 44)).map(b => b.outerHTML)
"""


class Stage:
    """The session is driven by the test's own thread: `say`, `wait`, `press_due`."""

    def __init__(self, folder: Path, registration: str = "ZZ-HJC", **options: Any) -> None:
        self.board = Board()
        self.hub = Hub(self.board)
        self.touches = Touches()
        self._options = options
        self.page = self._open(0)
        self.cockpit = Cockpit(folder, screen=self.board, registration=registration)
        self.touches.clock = lambda: self.cockpit.conductor.now

    def _open(self, port: int) -> Kneeboard:
        page = Kneeboard(self.hub, press=self._press, port=port, **self._options)
        page.start()
        return page

    def lose(self) -> int:
        """The page's server dies; returns the port that it had."""
        port = self.page.port
        self.page.close()
        self.hub = Hub(self.board)
        return port

    def restore(self, port: int) -> None:
        """A server is back at that port."""
        self.page = self._open(port)

    def _press(self, callout: str, change: int, ground: int) -> bool:
        return self.touches.press(callout, "touch", Marks(change, ground))

    def say(self, *calls: str) -> None:
        for words in calls:
            self.cockpit.say(words)

    def wait(self, seconds: float) -> None:
        self.cockpit.wait(seconds)

    def press_due(self, until: Callable[[], bool], seconds: float = 5.0) -> None:
        """Let real time pass with silence in it until what was touched has come through."""
        end = time.monotonic() + seconds
        while not until():
            assert time.monotonic() < end, "nothing came of it"
            self.cockpit.wait(0.02)
            for press in self.touches.due(self.cockpit.conductor.now):
                self.cockpit.conductor.press(press)
            time.sleep(0.01)

    def close(self) -> None:
        self.page.close()
        self.cockpit.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()


class Browser:
    """Debian's Chromium without a window."""

    def __init__(self, size: tuple[int, int] = TABLET) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        for argument in (
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--disable-gpu",
            "--disable-background-networking",
            "--hide-scrollbars",
            f"--window-size={size[0]},{size[1]}",
        ):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        self.driver = webdriver.Chrome(options, Service("/usr/bin/chromedriver"))
        self.resize(size)

    def resize(self, size: tuple[int, int]) -> None:
        self.driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": False},
        )

    def open(self, url: str) -> None:
        self.driver.get(url)

    def js(self, script: str, *arguments: Any) -> Any:
        return self.driver.execute_script(script, *arguments)

    def until(self, script: str, *arguments: Any, seconds: float = 8.0) -> Any:
        """The first true value of a script."""
        end = time.monotonic() + seconds
        while not (found := self.js(script, *arguments)):
            assert time.monotonic() < end, f"never true in the page: {script}"
            time.sleep(0.02)
        return found

    def shown(self, board: Board) -> None:
        """Wait until the page shows the board's newest picture and takes touches again."""
        self.until("return document.documentElement.dataset.seq == arguments[0]", board.seq)

    def click(self, callout: str) -> None:
        """Touch a callout once it can be touched."""
        self.until(
            "const b = document.querySelector(`.call[data-callout='${arguments[0]}']`);"
            "return b && !b.hasAttribute('aria-disabled')",
            callout,
        )
        self.driver.find_element("css selector", f".call[data-callout='{callout}']").click()

    def keys(self, text: str) -> None:
        """Press keys one after another, on whatever has the focus."""
        self.until("return !document.querySelector('.call[aria-disabled]')")
        ActionChains(self.driver).send_keys(text).perform()

    def text(self, selector: str) -> str:
        return str(self.js("return document.querySelector(arguments[0]).textContent", selector))

    def shot(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self.driver.save_screenshot(str(path))

    def close(self) -> None:
        self.driver.quit()


@contextlib.contextmanager
def browser(size: tuple[int, int] = TABLET) -> Iterator[Browser]:
    opened = Browser(size)
    try:
        yield opened
    finally:
        opened.close()


def theme(page: Browser, name: str) -> None:
    """Switch the page to "day" or "night"."""
    if page.js("return document.documentElement.dataset.theme") != name:
        page.driver.find_element("id", "theme").click()
    assert page.js("return document.documentElement.dataset.theme") == name
