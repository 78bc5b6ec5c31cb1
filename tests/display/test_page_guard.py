"""Who may look and touch: hosts, origins, pairing, headers, and what is never served."""

from __future__ import annotations

import http.client
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from stage import Stage
from websockets.exceptions import InvalidStatus
from websockets.sync.client import ClientConnection, connect

from voicecheck.display.hub import page_texts
from voicecheck.display.reviewing import page
from voicecheck.display.server import Kneeboard, is_near, static
from voicecheck.errors import VoicecheckError
from voicecheck.words import english


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Stage]:
    with Stage(tmp_path_factory.mktemp("near")) as opened:
        yield opened


@pytest.fixture(scope="module")
def far(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Stage, list[str]]]:
    codes: list[str] = []
    folder = tmp_path_factory.mktemp("far")
    with Stage(folder, pair=True, show_code=codes.append) as opened:
        yield opened, codes


def ask(
    page: Kneeboard, path: str, *, method: str = "GET", body: str | None = None, **headers: str
) -> tuple[int, dict[str, str], str]:
    host = page.url.removeprefix("http://").rstrip("/")
    line = http.client.HTTPConnection(host, timeout=5)
    given = {"Host": host, **{name.replace("_", "-"): value for name, value in headers.items()}}
    line.request(method, path, body, given)
    answer = line.getresponse()
    found = {name.lower(): value for name, value in answer.getheaders()}
    text = answer.read().decode()
    line.close()
    return answer.status, found, text


def live(page: Kneeboard, origin: str | None, **headers: str) -> ClientConnection:
    url = page.url.replace("http://", "ws://") + "live"
    given: Any = origin
    return connect(
        url, origin=given, additional_headers=headers, open_timeout=5, close_timeout=1, proxy=None
    )


def origin_of(page: Kneeboard) -> str:
    return page.url.rstrip("/")


def first(line: ClientConnection) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(line.recv(timeout=5))
    return found


def test_every_answer_carries_a_strict_policy_and_no_server_name(stage: Stage) -> None:
    for path in ("/", "/static/live.js", "/static/nothing", "/favicon.ico", "/nowhere"):
        _, headers, _ = ask(stage.page, path)
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "*" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert "server" not in headers


def test_another_host_name_is_refused(stage: Stage) -> None:
    """DNS rebinding: a foreign name that resolves to this machine."""
    status, _, text = ask(stage.page, "/", Host="evil.example")
    assert status == 403
    assert "open the address" in text
    assert ask(stage.page, "/", Host=f"localhost:{stage.page.port}")[0] == 200


@pytest.mark.parametrize(
    "origin",
    [None, "null", "http://evil.example", "https://127.0.0.1", "http://127.0.0.1:1"],
)
def test_a_cross_site_socket_is_refused(stage: Stage, origin: str | None) -> None:
    with pytest.raises(InvalidStatus) as refused:
        live(stage.page, origin)
    assert refused.value.response.status_code == 403


def test_the_page_itself_gets_the_picture_at_once(stage: Stage) -> None:
    with live(stage.page, origin_of(stage.page)) as line:
        picture = first(line)
    assert picture["kind"] == "picture"
    assert picture["state"]["registration"] == "ZZ-HJC"
    assert "Advisory only" in picture["caution"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[]",
        "null",
        '{"callout": 1, "change": 1, "ground": 1}',
        '{"callout": "a", "change": true, "ground": 1}',
        '{"callout": "a", "change": 1.5, "ground": 1}',
        '{"callout": "' + "a" * 600 + '", "change": 1, "ground": 1}',
        # half a surrogate pair: neither a picture nor a journal line can hold it
        '{"callout": "\\ud800", "change": 1, "ground": 1}',
        "[" * 400,
        "\x00",
    ],
)
def test_what_is_no_entry_is_told_so_and_does_nothing(stage: Stage, text: str) -> None:
    before = len(stage.cockpit.lines())
    with live(stage.page, origin_of(stage.page)) as line:
        line.send(text)
        while (answer := first(line))["kind"] != "entry":
            pass
    assert answer["taken"] is False
    assert stage.touches.due(1e9) == []
    assert len(stage.cockpit.lines()) == before


def test_a_flood_of_entries_is_cut(stage: Stage) -> None:
    with live(stage.page, origin_of(stage.page)) as line:
        for _ in range(200):
            line.send('{"callout": "command:say-again", "change": 0, "ground": 0}')
        taken = 0
        for _ in range(1000):
            answer = first(line)
            if answer["kind"] == "entry":
                taken += answer["taken"]
                if answer["taken"] is False:
                    break
    assert taken <= 40
    assert len(stage.touches.due(1e9)) <= 32


@pytest.mark.parametrize(
    "path",
    ["/static/..%2fserver.py", "/static/../server.py", "/static/server.py", "/static/live.html"],
)
def test_only_the_files_of_the_page_are_served(stage: Stage, path: str) -> None:
    assert ask(stage.page, path)[0] == 404


def test_an_unpaired_device_sees_nothing(far: tuple[Stage, list[str]]) -> None:
    page = far[0].page
    for path in ("/", "/static/live.js", "/review", "/card"):
        status, headers, text = ask(page, path)
        assert (status, headers["location"], text) == (303, "/pair", "")
    for cookie in ("", "voicecheck-device=guess", "voicecheck-device=", ";;=;"):
        with pytest.raises(InvalidStatus):
            live(page, origin_of(page), Cookie=cookie)
    status, _, text = ask(page, "/pair")
    assert status == 200
    assert "Pair this device" in text


def test_the_code_pairs_a_device_once_and_guesses_are_slowed(
    far: tuple[Stage, list[str]],
) -> None:
    page, codes = far[0].page, far[1]
    origin = origin_of(page)
    code = codes[-1]
    wrong = f"{(int(code) + 1) % 1_000_000:06d}"
    assert ask(page, "/pair", method="POST", body=code)[0] == 403, "no origin"
    status, headers, _ = ask(page, "/pair", method="POST", body=code, Origin=origin)
    assert status == 200
    cookie = headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    key = cookie.split(";")[0]
    assert ask(page, "/", Cookie=key)[0] == 200
    with live(page, origin, Cookie=key) as line:
        assert first(line)["kind"] == "picture"
    assert codes[-1] != code or len(codes) == 2
    status, headers, text = ask(page, "/pair", method="POST", body=wrong, Origin=origin)
    assert status == 403
    assert int(headers["retry-after"]) >= 1
    tries = [ask(page, "/pair", method="POST", body=codes[-1], Origin=origin) for _ in range(5)]
    assert [status for status, _, _ in tries] == [429] * 5, "not even looked at"
    assert key.split("=")[1] not in text


def test_an_address_in_the_network_is_always_paired(stage: Stage) -> None:
    """Only loopback is near; judged before anything listens, so no such address is needed."""
    assert is_near("127.0.0.1")
    assert is_near("::1")
    assert not any(map(is_near, ("192.0.2.7", "10.0.0.4", "fe80::1", "2001:db8::7")))
    assert stage.page.pairing is None


@pytest.mark.parametrize(
    ("address", "port", "problem"),
    [
        ("tablet", 0, "not an IP address"),
        ("0.0.0.0", 0, "would listen everywhere"),
        ("::", 0, "would listen everywhere"),
        ("192.0.2.7", 0, "cannot listen there"),
        ("127.0.0.1", 99999, "cannot listen there"),
    ],
)
def test_a_place_that_cannot_be_listened_on_is_told(
    stage: Stage, address: str, port: int, problem: str
) -> None:
    with pytest.raises(VoicecheckError, match=problem):
        Kneeboard(stage.hub, address=address, port=port)


def test_a_port_that_is_taken_is_told(stage: Stage) -> None:
    with pytest.raises(VoicecheckError, match="choose another"):
        Kneeboard(stage.hub, port=stage.page.port)


def test_a_page_load_is_under_100_kilobytes() -> None:
    parts = ("kneeboard.css", "live.css", "theme.js", "live.js", "lamps.js", "words.js")
    words = english()
    html = page("live.html.j2", words=words, all=json.dumps(page_texts(words))).body
    assert sum(len(static(name)) for name in parts) + len(bytes(html)) < 100_000


def test_files_of_the_page_ship_with_the_package() -> None:
    folder = Path(__file__).parents[2] / "voicecheck" / "display" / "static"
    for file in folder.iterdir():
        assert static(file.name) == file.read_bytes()
        assert b"//cdn" not in file.read_bytes()
        assert b"https://" not in file.read_bytes()
