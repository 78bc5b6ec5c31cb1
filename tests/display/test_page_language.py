"""The page in an invented language: opened before its session begins, and after."""

from __future__ import annotations

from pathlib import Path

from stage import Browser
from toy import ToySession, everything, morning

from voicecheck.display.board import Board
from voicecheck.display.hub import Hub
from voicecheck.display.server import Kneeboard
from voicecheck.words import english

SHOWN = """
const text = [document.body.innerText, document.title];
for (const node of document.querySelectorAll("*"))
  for (const name of ["aria-label", "title"]) text.push(node.getAttribute(name) ?? "");
return text.join("\\n").toLowerCase();
"""


def labels() -> set[str]:
    """Longer texts of the page without slots, but for those that a record has as well."""
    words = english()
    record = "\n".join(words.record.values()).lower()
    texts = {text.lower() for text in words.page.values() if "{" not in text and len(text) > 9}
    return {text for text in texts if text not in record}


def test_a_page_takes_over_the_language_of_its_session(chromium: Browser, tmp_path: Path) -> None:
    board = Board()
    page = Kneeboard(Hub(board))
    page.start()
    try:
        chromium.open(page.url)
        before = chromium.js(SHOWN)
        assert "what was heard" in before
        session = ToySession(tmp_path, morning(), board=board)
        for pass_ in ("power:qarz:on", "command:affirm", "select:zorb", "zorb.grix:1"):
            session.press(pass_)
            chromium.shown(board)
        chromium.until("return document.documentElement.lang === 'x-zul'")
        first = chromium.js(SHOWN)
        assert not [label for label in labels() if label in first]
        assert session.words.page["page-hearing"].lower() in first
        everything(session)
        session.end()
        chromium.shown(board)
        chromium.open(page.url)
        chromium.shown(board)
        last = chromium.js(SHOWN)
        assert not [label for label in labels() if label in last]
        assert session.words.page["not-complete"].lower() in last
        assert chromium.js("return document.documentElement.lang") == "x-zul"
    finally:
        page.close()
