"""Checklists of any size, of an invented type, through the real loader."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Any, Final

import yaml

from voicecheck.checklist.resolved import Checklist
from voicecheck.world.fleet import airframe

REGISTRATION: Final = "ZZ-HSZ"
_LETTERS: Final = (
    *("alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india"),
    *("juliett", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo"),
    *("sierra", "tango", "uniform", "victor", "whiskey", "xray", "yankee", "zulu"),
)
"""The spelling alphabet (ICAO Annex 10 Volume II, 5.2.1.3, number from memory)."""

_Part = tuple[dict[str, Any], int]
"""Expectations by id, and the number of items that they become."""


def invented_checklist(positions: int, items: int) -> Checklist:
    """A checklist of `positions` positions (the rest position apart) with `items` items in all.

    Every kind of expectation occurs, timed lamps included, as far as there is room for it.
    positions: 1 to 676; items: at least one for each position.
    """
    each, more = divmod(items, positions)
    type_file = {
        "schema": 1,
        "id": "size",
        "title": "Invented type",
        "type": "Invented",
        "buses": {bus: {"say": bus, "label": f"{bus} bus"} for bus in ("battery", "avionics")},
        "positions": {
            f"p{at}": _position(_spelled(at), each + (at < more)) for at in range(positions)
        },
    }
    member = {
        "schema": 1,
        "registration": REGISTRATION,
        "checklist": "size",
        "operator": "Hollin Air Ambulance",
    }
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "size.yaml"
        path.write_text(yaml.safe_dump(type_file, sort_keys=False), encoding="utf-8")
        beside = path.parent / "airframes"
        beside.mkdir()
        (beside / "size.yaml").write_text(yaml.safe_dump(member), encoding="utf-8")
        return airframe(str(path), REGISTRATION).checklist


def _spelled(number: int) -> str:
    first, second = divmod(number, len(_LETTERS))
    return f"{_LETTERS[first]} {_LETTERS[second]}"


def _position(say: str, items: int) -> dict[str, Any]:
    expect: dict[str, Any] = {}
    left = items
    for number in count():
        if left == 0:
            break
        key, name = f"e{number}", f"{say} {_spelled(number)}"
        part, size = _KINDS[number % len(_KINDS)](key, name)
        if size > left:
            part, size = _lamp(key, name)
        expect |= part
        left -= size
    return {
        "name": say.title(),
        "say": f"panel {say}",
        "power": {"battery": "on", "avionics": "off"},
        "expect": expect,
    }


def _shown(caption: str, say: str) -> dict[str, str]:
    return {"caption": caption, "say": say, "colour": "amber", "role": "caution"}


def _lamp(key: str, name: str) -> _Part:
    return {key: {"kind": "lamps", "call": name, "lamps": [_shown(name.upper(), name)]}}, 1


def _group(key: str, name: str) -> _Part:
    lamps = [_shown(f"{name.upper()} {side}", f"{side} {name}") for side in ("left", "right")]
    return {key: {"kind": "lamps", "call": f"# {name} lights", "lamps": lamps}}, 1


def _timed(key: str, name: str) -> _Part:
    lit, _ = _lamp(key, name)
    out = {"kind": "extinguish", "lamp": key, "call": name, "within": {"from": 0, "to": 60}}
    return lit | {f"{key}-out": out}, 2


def _horn(key: str, name: str) -> _Part:
    return {key: {"kind": "aural", "call": name, "silence": "must-silence", "returns": True}}, 3


def _needle(key: str, name: str) -> _Part:
    good, low = f"{name} needle in the red", f"{name} needle low"
    bad = [{"say": low, "finding": low}]
    return {key: {"kind": "gauge", "expected": good, "good": [good], "bad": bad}}, 1


def _shaker(key: str, name: str) -> _Part:
    return {key: {"kind": "tactile", "call": name}}, 1


def _reset(key: str, name: str) -> _Part:
    return {key: {"kind": "cancel", "call": name, "must": "reset"}}, 1


def _absent(key: str, name: str) -> _Part:
    return {key: {"kind": "absent", "call": name, "caption": name.upper()}}, 1


_KINDS: Final[tuple[Callable[[str, str], _Part], ...]] = (
    _group,
    _horn,
    _timed,
    _needle,
    _shaker,
    _reset,
    _absent,
)
