"""Cards of every airframe, and a file that is checked in the browser at every save."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe import violations
from fleet import FLEET, loaded
from stage import TABLET, Browser
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.proofs import card_routes
from voicecheck.display.server import Kneeboard
from voicecheck.errors import VoicecheckError
from voicecheck.proofreading.cards import Cards
from voicecheck.shipped import checklists_dir


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("written")
    shutil.copy(checklists_dir() / "tarn-40.yaml", folder)
    (folder / "airframes").mkdir()
    shutil.copy(checklists_dir() / "airframes" / "zz-haa.yaml", folder / "airframes")
    return folder / "tarn-40.yaml"


@pytest.fixture(scope="module")
def url(file: Path) -> Iterator[str]:
    page = Kneeboard(Hub(Board()), routes=card_routes(Cards([file])))
    page.start()
    yield page.url
    page.close()


@pytest.mark.parametrize("registration", FLEET)
def test_a_card_holds_everything_that_can_be_called(registration: str) -> None:
    card = Cards().card(FLEET[registration], registration)
    checklist = loaded(registration).checklist
    assert len(card["positions"]) == len(checklist.positions)
    for told, position in zip(card["positions"], checklist.positions, strict=True):
        for item, expected in zip(told["items"], position.items, strict=True):
            phrases = {p for r in (*expected.readings, *expected.darks) for p in r.phrases}
            shown = " / ".join([*item["good"], *(bad["say"] for bad in item["bad"])])
            assert phrases == set(shown.split(" / "))
    lamps = [i["lamps"] for p in card["positions"] for i in p["items"] if i["lamps"]]
    assert sum(map(len, lamps)) > 5


def test_a_card_in_the_browser_reads_and_prints(url: str, chromium: Browser) -> None:
    chromium.resize(TABLET)
    chromium.open(f"{url}card")
    assert violations(chromium) == []
    chromium.open(f"{url}card/skerry-j2/ZZ-HJC")
    assert violations(chromium) == []
    chromium.js("document.documentElement.dataset.theme = 'night'")
    assert violations(chromium) == []
    assert "anti skid out 1.5 to 5.5 seconds after the selector leaves" in chromium.text("main")
    assert "Advisory only" in chromium.text("footer")
    chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        assert chromium.js("return document.querySelector('.topbar').offsetHeight") == 0
        wide = "return document.documentElement.scrollWidth <= innerWidth"
        assert chromium.js(wide)
    finally:
        chromium.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})


def headed(chromium: Browser, words: str, *, without: str = "nothing such") -> None:
    """Wait for a proof whose heading has these words and whose problems do not say `without`."""
    chromium.until(
        "return document.querySelector('h1')?.textContent.includes(arguments[0])"
        " && !document.querySelector('main').textContent.includes(arguments[1])",
        words,
        without,
        seconds=30,
    )


def test_every_save_is_checked(url: str, file: Path, chromium: Browser) -> None:
    good = file.read_text("utf-8")
    chromium.open(f"{url}card/file-1")
    chromium.until("return document.getElementById('watching').textContent.startsWith('checked')")
    headed(chromium, "Well formed")
    assert violations(chromium) == []
    line = next(n for n, text in enumerate(good.splitlines(), 1) if "caption: ICE DETECT" in text)
    try:
        call = "say: ice caption, colour: "
        file.write_text(good.replace(f"{call}amber", f"{call}red"), "utf-8")
        headed(chromium, "1 error")
        assert f"line {line}" in chromium.text(".problem")
        assert "caution lamp cannot be red" in chromium.text(".problem")
        assert "ICE DETECT" in chromium.text(".problem mark")
        assert violations(chromium) == []
        file.write_text("positions: [", "utf-8")
        headed(chromium, "1 error", without="caution lamp")
    finally:
        file.write_text(good, "utf-8")
    headed(chromium, "Well formed")


class Gone(Cards):
    """Cards of a folder that cannot be watched any more."""

    def watched(self, key: str) -> Path | None:
        return Path("/nonexistent") / key


def test_a_watch_that_ends_is_told_to_the_page() -> None:
    """The page says "no connection" when its line closes, never that it is still checked."""
    page = Kneeboard(Hub(Board()), routes=card_routes(Gone()))
    page.start()
    try:
        url = page.url.replace("http://", "ws://") + "changes/file-1"
        origin: Any = page.url.rstrip("/")
        with connect(url, origin=origin, proxy=None) as line:
            assert line.recv(timeout=5) == '{"kind":"watching"}'
            with pytest.raises(ConnectionClosed):
                line.recv(timeout=5)
    finally:
        page.close()


def test_what_is_not_there_is_told(url: str, chromium: Browser, tmp_path: Path) -> None:
    for path in ("card/nothing", "card/skerry-j2/ZZ-NONE", "card/..%2f..%2fetc/x"):
        chromium.open(url + path)
        assert "This cannot be shown" in chromium.text("main")
        assert violations(chromium) == []
    with pytest.raises(VoicecheckError, match="no such file"):
        Cards([tmp_path / "none.yaml"])
