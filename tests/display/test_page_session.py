"""The page in a real browser, from the first call to the end of a session."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe import too_faint, violations
from stage import CLIPPED, SMALL_TABLET, SMALL_TARGETS, TABLET, Browser, Stage, theme

from voicecheck.audio.source import SourceLost, SourceRestored

CURRENT = ("#name", "#count", "#asked", ".item.current", "#heard-words")


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Stage(tmp_path) as opened:
        yield opened


@pytest.fixture
def page(stage: Stage, chromium: Browser) -> Browser:
    chromium.resize(TABLET)
    chromium.open(stage.page.url)
    chromium.shown(stage.board)
    return chromium


# Each step: its name, what the crew says, and what a glance must then tell.
STEPS: list[tuple[str, tuple[str, ...], dict[str, str]]] = [
    ("begin", (), {"#name": "Call power", "#heard-words": "Nothing heard yet"}),
    (
        "question",
        ("battery on",),
        {"#asked": "battery powered up. Is that so?", "#heard-words": "battery on"},
    ),
    (
        "captions",
        ("affirm", "avionics on", "affirm", "going to captions"),
        {"#name": "All captions", "#count": "Position 1 of 11"},
    ),
    (
        "which is dark",
        ("panel complete", "both master lights", "master stays lit", "five mode lights"),
        {".item.current .word": "which one is dark?", "#finding-count": "✗ 1 finding"},
    ),
    (
        "gear",
        ("yaw mode dark", "going to gear"),
        {"#name": "Landing gear indication and horn", "#left": "10 of 11 positions left"},
    ),
    (
        "horn",
        ("three green", "one red", "horn sounding"),
        {".item.current .pick span:nth-child(2)": "horn silenced"},
    ),
    (
        "window",
        ("going to anti skid", "anti skid illuminated", "going to overspeed"),
        {"#window-call": "“anti skid out”, 1.5 to 5.5 s"},
    ),
    ("power against need", ("avionics off", "affirm"), {"#power .unmet": "✗ needs ON"}),
    ("held", ("stand by",), {"#phase": "HOLDING", "#asked": "Holding: stand by"}),
]


def test_every_state_is_whole_readable_and_without_violations(
    stage: Stage, page: Browser, tmp_path: Path
) -> None:
    for number, (name, calls, expected) in enumerate(STEPS):
        stage.say(*calls)
        page.shown(stage.board)
        for selector, text in expected.items():
            assert page.text(selector) == text, name
        theme(page, "night" if number % 2 else "day")
        page.until("return !document.querySelector('.call[aria-disabled]')")
        for size in (SMALL_TABLET, TABLET):
            page.resize(size)
            assert page.js(CLIPPED) == [], f"{name} at {size}"
            assert page.js(SMALL_TARGETS) == [], f"{name} at {size}"
            page.shot(tmp_path / "screens" / f"{number}-{name}-{size[0]}.png")
        assert violations(page) == [], name
        assert too_faint(page, *CURRENT) == [], name
        theme(page, "day" if number % 2 else "night")
        assert too_faint(page, *CURRENT) == [], name
    stage.cockpit.conductor.end("the script ended")
    page.shown(stage.board)
    assert page.text("#name") == "Session ended"
    assert "1 finding(s). Advisory only." in page.text("#remark")
    assert "YAW dark" in page.text("#items")
    assert page.js(CLIPPED) == []
    assert violations(page) == []
    assert len(list((tmp_path / "screens").iterdir())) == 2 * len(STEPS)


@pytest.mark.parametrize("registration", ["ZZ-HAC", "ZZ-HJD"])
def test_no_position_of_an_airframe_needs_scrolling(
    registration: str, chromium: Browser, tmp_path: Path
) -> None:
    with Stage(tmp_path, registration) as stage:
        chromium.open(stage.page.url)
        for position in stage.cockpit.loaded.checklist.positions:
            stage.say(position.select[0])
            chromium.shown(stage.board)
            for size in (TABLET, SMALL_TABLET):
                chromium.resize(size)
                for pane in ("here", "go-to", "power", "say"):
                    chromium.js(
                        "document.querySelector(`#panes [data-callout='pane ${arguments[0]}']`)"
                        "?.click()",
                        pane,
                    )
                    assert chromium.js(CLIPPED) == [], f"{position.name}, {pane}, {size}"


def drive_by(page: Browser, stage: Stage, enter: Callable[[str], None], calls: list[str]) -> None:
    for callout in calls:
        stage.wait(0.5)  # a question is seen before it is answered
        count = stage.cockpit.engine.state.heard_count
        enter(callout)
        stage.press_due(lambda count=count: stage.cockpit.engine.state.heard_count > count)  # type: ignore[misc]
        page.shown(stage.board)


CALLS = [
    "power:battery:on",
    "command:affirm",
    "power:avionics:on",
    "command:affirm",
    "select:gear",
    "gear.greens:3",
    "gear.unsafe:0",
    "gear.horn:good",
]


def test_a_session_by_touch_alone(stage: Stage, page: Browser) -> None:
    def touch(callout: str) -> None:
        pane = {"power": "power", "select": "go-to"}.get(callout.split(":")[0])
        if pane:
            page.driver.find_element("css selector", f"[data-callout='pane {pane}']").click()
        page.click(callout)

    drive_by(page, stage, touch, CALLS)
    assert page.text("#heard-how") == "✓ touched"
    assert page.text("#finding-count") == "✗ 1 finding"
    lines = [line["event"] for line in stage.cockpit.lines() if "event" in line]
    entered = [(e["callout"], e["by"]) for e in lines if e["type"] == "keypressed"]
    assert entered == [(callout, "touch") for callout in CALLS]


def test_a_session_by_keyboard_alone(stage: Stage, page: Browser) -> None:
    def type_(callout: str) -> None:
        offers = {offer["callout"]: offer["keys"] for offer in stage.board.picture()["offers"]}
        page.keys(offers[callout])

    drive_by(page, stage, type_, CALLS)
    assert page.text("#finding-count") == "✗ 1 finding"
    # And without codes: everything can be reached with Tab and pressed with Enter.
    reach = page.js(
        "return [...document.querySelectorAll('button')].filter(b => b.offsetHeight)"
        ".every(b => b.tabIndex === 0)"
    )
    assert reach
    page.js("document.querySelector('.call').focus()")
    page.until("return !document.activeElement.hasAttribute('aria-disabled')")
    callout = page.js("return document.activeElement.dataset.callout")
    assert callout == "gear.horn-silence:good"
    page.keys("\ue007")
    stage.press_due(lambda: "gear.horn-silence" in stage.cockpit.engine.state.records)


def test_keys_can_be_switched_off(stage: Stage, page: Browser) -> None:
    """WCAG 2.1.4: single letters may be typed by a voice, or by a sleeve."""
    stage.say("battery on")
    page.shown(stage.board)
    page.driver.find_element("id", "keys").click()
    page.keys("a")
    stage.wait(0.2)
    assert stage.touches.due(1e9) == []
    page.open(stage.page.url)
    page.shown(stage.board)
    assert page.js("return document.querySelector('.call kbd').offsetHeight") == 0
    page.driver.find_element("id", "keys").click()
    page.keys("a")
    stage.press_due(lambda: stage.cockpit.engine.state.power["battery"] == "on")


def test_a_key_that_is_held_down_does_not_answer_the_next_question(
    stage: Stage, page: Browser
) -> None:
    stage.say("battery on")
    page.shown(stage.board)
    affirm = "document.querySelector('.call[data-callout=\"command:affirm\"]')"
    page.until(f"return {affirm} && !{affirm}.hasAttribute('aria-disabled')")
    page.js("document.dispatchEvent(new KeyboardEvent('keydown', {key: 'a', repeat: true}))")
    stage.wait(0.2)
    assert stage.touches.due(1e9) == []
    page.js("document.dispatchEvent(new KeyboardEvent('keydown', {key: 'a'}))")
    stage.press_due(lambda: stage.cockpit.engine.state.power["battery"] == "on")


def test_after_a_drop_the_page_tells_its_age_and_comes_back_whole(
    stage: Stage, page: Browser
) -> None:
    stage.say("battery on", "affirm")
    page.shown(stage.board)
    port = stage.lose()
    page.until("return !document.getElementById('lost').hidden")
    assert "NO CONNECTION" in page.text("#lost")
    assert page.js("return document.body.classList.contains('stale')")
    stage.say("avionics on", "affirm", "going to gear", "three green")
    assert page.text("#name") != "Landing gear indication and horn"
    stage.restore(port)
    page.shown(stage.board)
    page.until("return document.getElementById('lost').hidden")
    assert page.text("#name") == "Landing gear indication and horn"
    assert page.text(".item[data-outcome=satisfactory] .pick") == "✓three greenas expected"


def test_two_viewers_and_a_stuck_one(stage: Stage, page: Browser) -> None:
    import socket

    stuck = socket.create_connection(("127.0.0.1", stage.page.port))
    stuck.sendall(
        f"GET /live HTTP/1.1\r\nHost: 127.0.0.1:{stage.page.port}\r\n"
        f"Origin: http://127.0.0.1:{stage.page.port}\r\nUpgrade: websocket\r\n"
        "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n".encode()  # key of RFC 6455 1.3
    )
    first = page.driver.current_window_handle
    page.driver.switch_to.new_window("tab")
    page.open(stage.page.url)
    while stage.hub.viewers < 3:
        time.sleep(0.01)
    for _ in range(3000):  # megabytes that the stuck one never takes
        stage.board.notice("x" * 1000)
    stage.say("battery on", "affirm")
    for window in (first, page.driver.current_window_handle):
        page.driver.switch_to.window(window)
        page.shown(stage.board)
        assert page.text("#power b").startswith("ON")
    page.driver.switch_to.window(page.driver.window_handles[1])
    page.driver.close()
    page.driver.switch_to.window(first)
    stuck.close()


def test_what_went_wrong_is_seen_at_a_glance(stage: Stage, page: Browser) -> None:
    stage.say("battery on", "affirm")
    stage.board.not_understood(9.0, "too faint")
    page.shown(stage.board)
    assert page.text("#heard-words") == "not understood"
    assert page.text("#heard-how") == "✗ say again"
    stage.cockpit.conductor.take(SourceLost("unplugged"))
    page.shown(stage.board)
    assert page.text("#asked") == "LOST: microphone. Holding: microphone lost"
    assert too_faint(page, "#heard", "#asked") == []
    stage.wait(61.0)
    stage.cockpit.conductor.take(SourceRestored(61.0))
    page.shown(stage.board)
    assert "LOST" not in page.text("#asked")
    assert "1/10 min" in page.text("#power")
    assert page.js(CLIPPED) == []


def test_the_theme_is_kept(stage: Stage, page: Browser) -> None:
    theme(page, "night")
    page.open(stage.page.url)
    assert page.js("return document.documentElement.dataset.theme") == "night"
    theme(page, "day")


def test_nothing_is_fetched_from_elsewhere_and_the_policy_is_not_broken(
    stage: Stage, page: Browser
) -> None:
    page.driver.get_log("performance")
    page.driver.get_log("browser")
    page.open(stage.page.url)
    page.shown(stage.board)
    messages = [json.loads(e["message"])["message"] for e in page.driver.get_log("performance")]
    params: dict[str, list[Any]] = {}
    for message in messages:
        params.setdefault(message["method"], []).append(message["params"])
    asked = [sent["request"]["url"] for sent in params["Network.requestWillBeSent"]]
    assert len(asked) >= 5
    assert all(url.startswith(stage.page.url) for url in asked)
    loaded = sum(done["encodedDataLength"] for done in params["Network.loadingFinished"])
    assert 10_000 < loaded < 100_000
    assert page.driver.get_log("browser") == []


def test_a_page_of_another_site_cannot_open_the_socket(stage: Stage, page: Browser) -> None:
    page.open("about:blank")
    opened = page.driver.execute_async_script(
        "const done = arguments[1]; const s = new WebSocket(arguments[0]);"
        "s.onopen = () => done(true); s.onerror = () => done(false);",
        stage.page.url.replace("http", "ws") + "live",
    )
    assert opened is False


def test_pairing_in_the_browser(chromium: Browser, tmp_path: Path) -> None:
    codes: list[str] = []
    with Stage(tmp_path, pair=True, show_code=codes.append) as stage:
        chromium.open(stage.page.url)
        assert chromium.driver.current_url.endswith("/pair")
        assert violations(chromium) == []
        chromium.keys(codes[-1] + "\ue007")
        chromium.until("return location.pathname === '/'")
        chromium.shown(stage.board)
        assert chromium.text("#registration") == "ZZ-HJC"
