"""The pages in a real browser: light, dark, on paper, for screen readers, and inert."""

from __future__ import annotations

import base64
import io
import json
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import axe_playwright_python
import browser
import pytest
from invented import place, series
from PIL import Image
from pypdf import PdfReader
from selenium.webdriver import Chrome

from voicecheck.caution import CAUTION
from voicecheck.logbook.pages import fleet_page, history_page
from voicecheck.logbook.report import report
from voicecheck.logbook.sessions import load
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import Database, open_database
from voicecheck.logbook.store.looking import context_of, fleet, history
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.measure.invented_log import Invented

NOW = datetime(2026, 2, 20, tzinfo=UTC)
AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
EVIL = (
    '<script>window.harmed=1</script><img src="x" onerror="window.harmed=1">'
    "<svg onload='window.harmed=1'><a href='javascript:window.harmed=1'>x</a>"
    "'\"><style>*{display:none}</style>{{7*7}}"
)


@pytest.fixture(scope="module")
def chrome(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    with browser.browser(tmp_path_factory.mktemp("browser")) as driver:
        yield driver


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Session, airframe and fleet pages of a small invented fleet."""
    log = tmp_path_factory.mktemp("pages")
    lite = open_database(None, log)
    for one in series("ZZ-HAA", 40, rise=0.015):
        folder = place(log, one)
        post(lite, copy_of(folder))
    for one in series("ZZ-HÅB", 6):
        post(lite, copy_of(place(log, one)))
    late = Invented("ZZ-HAA", datetime(2026, 2, 15, 6, tzinfo=UTC), out=6.1, bad=(2, 3),
                    pilot="Łucja Wren")  # fmt: skip
    folder = place(log, late)
    post(lite, copy_of(folder))
    act(lite, f"{late.id}/1", Deed(Act.DEFERRED, who="M. Dipper", reference="TL 1", at=NOW))
    with lite.reading() as connection:
        return {
            "session": report(load(folder), context_of(connection, "ZZ-HAA", NOW, late.id)),
            "airframe": history_page(history(connection, "ZZ-HAA", NOW)),
            "fleet": fleet_page(fleet(connection, NOW), NOW),
        }


def open_page(chrome: Chrome, folder: Path, html: str, *, dark: bool = False) -> None:
    path = folder / "page.html"
    path.write_text(html, encoding="utf-8")
    scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    chrome.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": scheme})
    chrome.get(path.as_uri())


def seen(chrome: Chrome) -> Image.Image:
    return Image.open(io.BytesIO(chrome.get_screenshot_as_png())).convert("RGB")


def fetched(chrome: Chrome) -> list[str]:
    """Addresses that the page asked for, beside itself."""
    events = [json.loads(entry["message"])["message"] for entry in chrome.get_log("performance")]
    urls = [event["params"]["request"]["url"] for event in events
            if event["method"] == "Network.requestWillBeSent"]  # fmt: skip
    return [url for url in urls if url.startswith(("http:", "https:", "ws:", "wss:", "ftp:"))]


@pytest.mark.parametrize("name", ["session", "airframe", "fleet"])
def test_pages_in_light_and_dark_and_for_screen_readers(
    chrome: Chrome, pages: dict[str, str], name: str, tmp_path: Path
) -> None:
    brightness = {}
    for dark in (False, True):
        open_page(chrome, tmp_path, pages[name], dark=dark)
        picture = seen(chrome)
        brightness[dark] = sum(picture.resize((1, 1)).getpixel((0, 0))) / 3  # type: ignore[arg-type]
        assert len(picture.getcolors(1 << 20) or []) > 20  # something is drawn
        assert CAUTION[:40] in chrome.execute_script("return document.body.innerText")
        # The page's own policy forbids scripts; the checker is let in by the browser's driver.
        chrome.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
        chrome.execute_script(AXE)
        found: dict[str, Any] = chrome.execute_async_script(
            "const done = arguments[0]; axe.run().then(done, e => done({violations: [String(e)]}));"
        )
        assert found["violations"] == [], json.dumps(found["violations"])[:2000]
        wide = chrome.execute_script(
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        assert wide <= 0
    assert brightness[False] > 200
    assert brightness[True] < 80
    assert fetched(chrome) == []
    assert not [entry for entry in chrome.get_log("browser") if entry["level"] == "SEVERE"]


@pytest.mark.parametrize("name", ["session", "airframe", "fleet"])
def test_pages_on_paper(chrome: Chrome, pages: dict[str, str], name: str, tmp_path: Path) -> None:
    open_page(chrome, tmp_path, pages[name], dark=True)
    made = chrome.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    reader = PdfReader(io.BytesIO(base64.b64decode(made["data"])))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert CAUTION[:40] in text
    assert "anti-skid.out" in text
    assert round(float(reader.pages[0].mediabox.width) / 72 * 25.4) == 210
    if name == "session":
        assert "both lights" in text  # the folded transcript is printed, too
        assert len(reader.pages) < 20


def test_pictures_are_drawn(chrome: Chrome, pages: dict[str, str], tmp_path: Path) -> None:
    open_page(chrome, tmp_path, pages["airframe"])
    boxes = chrome.execute_script(
        "return [...document.querySelectorAll('svg.chart circle, svg.chart path')]"
        ".map(e => e.getBoundingClientRect()).map(b => [b.x, b.y, b.width, b.height])"
    )
    assert len(boxes) == 41 + 40
    assert all(width > 2 and height > 2 for _, _, width, height in boxes)
    xs = [x for x, *_ in boxes[:41]]
    assert xs == sorted(xs)


def test_what_others_wrote_is_inert(
    chrome: Chrome,
    lite: Database,
    log: Path,
    tmp_path: Path,
    write_session: Callable[..., Path],
    summary: dict[str, Any],
) -> None:
    shutil.rmtree(log, ignore_errors=True)
    evil = Invented(EVIL, datetime(2026, 2, 1, tzinfo=UTC), bad=(2,), pilot=EVIL, operator=EVIL)
    folder = place(log, evil)
    post(lite, copy_of(folder))
    for one in series(EVIL, 12):
        post(lite, copy_of(place(log, one)))
    act(lite, f"{evil.id}/1", Deed(Act.CORRECTED, who=EVIL, note=EVIL, at=NOW))
    summary["findings"][0] |= {"what": EVIL, "called": EVIL, "consequence": EVIL}
    course = [(1.0, {"event": {"type": "heard", "words": EVIL, "start": 1.0, "end": 2.0}})]
    heard = write_session(summary, "20261125T061500Z-ZZ-HAA-evil", course=course)
    with lite.reading() as connection:
        made = [
            report(load(folder), context_of(connection, EVIL, NOW, evil.id)),
            report(load(heard)),
            history_page(history(connection, EVIL, NOW)),
            fleet_page(fleet(connection, NOW), NOW),
        ]
    for html in made:
        # Without the page's own policy: escaping alone must do.
        bare = html.replace("Content-Security-Policy", "X-None")
        open_page(chrome, tmp_path, bare)
        assert chrome.execute_script("return window.harmed") is None
        assert "<script>window.harmed=1" in chrome.execute_script("return document.body.innerText")
        assert (
            chrome.execute_script(
                "return document.querySelectorAll('script, img, a, [onload], [onerror]').length"
            )
            == 0
        )
        assert "49" not in chrome.title
        assert chrome.execute_script("return getComputedStyle(document.body).display") == "block"
        assert fetched(chrome) == []
