"""Checklists to proof-read: one airframe's card, and what is wrong in the files of a type."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import load_checklist, read_airframes, read_type
from voicecheck.checklist.resolved import Checklist, Grade, Item, Position
from voicecheck.errors import VoicecheckError
from voicecheck.proofreading.proofread import Remark, proofread, remark_of
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.words import Words, say

AROUND: Final = 3
"""Lines shown before and after the one at fault."""


class Cards:
    """Shipped types by their id, and the files that somebody is writing as file-1, file-2, ..."""

    def __init__(self, files: Sequence[Path] = ()) -> None:
        for path in files:
            if not path.is_file():
                raise VoicecheckError(f"{path}: no such file; name the type file to watch")
        shipped = {path.stem: path for path in sorted(checklists_dir().glob("*.yaml"))}
        own = {f"file-{n}": path for n, path in enumerate(files, start=1)}
        self._paths: Mapping[str, Path] = {**own, **shipped}
        self._watched = frozenset(own)

    def keys(self) -> list[dict[str, Any]]:
        """Every type that has cards, with the registrations of its airframes."""
        return [self._listed(key) for key in self._paths]

    def watched(self, key: str) -> Path | None:
        """The folder to watch for changes of this type, None when nobody is writing it."""
        return self._paths[key].parent if key in self._watched else None

    def card(self, key: str, registration: str) -> dict[str, Any]:
        """One airframe's checklist. Raises VoicecheckError, as `voicecheck run` would."""
        path = self._path(key)
        loaded = load_checklist(
            str(path), registration, shipped=checklists_dir(), grammars=grammars_dir()
        )
        return {
            **_card(loaded.checklist, loaded.language.words),
            "words": loaded.language.words,
            "sha256": loaded.sha256,
            "files": [file.name for file in loaded.files],
        }

    def proof(self, key: str) -> list[dict[str, Any]]:
        """What is wrong or worth a look in the files of a type; errors first."""
        found = map(_problem, self._problems(self._path(key)))
        return sorted(found, key=lambda problem: not problem["wrong"])

    def _path(self, key: str) -> Path:
        try:
            return self._paths[key]
        except KeyError:
            raise VoicecheckError(f"{key}: no such checklist; see the list of cards") from None

    def _listed(self, key: str) -> dict[str, Any]:
        path = self._paths[key]
        listed: dict[str, Any] = {
            "key": key,
            "file": path.name,
            "watched": key in self._watched,
            "title": path.name,
            "airframes": [],
            "problem": None,
        }
        try:
            type_file, _ = read_type(path)
            listed["title"] = type_file.title
            listed["airframes"] = list(read_airframes(path, type_file.id))
        except VoicecheckError as error:
            listed["problem"] = str(error)
        return listed

    def _problems(self, path: Path) -> Iterator[Remark]:
        try:
            type_file, _ = read_type(path)
            airframes = read_airframes(path, type_file.id)
        except VoicecheckError as error:
            yield remark_of(error)
            return
        if not airframes:
            folder = path.parent / "airframes"
            yield Remark(None, say("proof-no-airframe", folder=folder), True)
        for registration in airframes:
            yield from proofread(path, registration).remarks


def _problem(remark: Remark) -> dict[str, Any]:
    place = remark.place
    line = place.line if place is not None else None
    return {
        "wrong": remark.wrong,
        "text": remark.text,
        "file": Path(place.file).name if place is not None else None,
        "line": line,
        "column": place.column if place is not None else None,
        "excerpt": _excerpt(Path(place.file), line) if place is not None and line else [],
    }


def _excerpt(path: Path, line: int) -> list[dict[str, Any]]:
    try:
        text = path.read_text("utf-8", errors="replace").splitlines()
    except OSError:
        return []
    first = max(1, line - AROUND)
    return [
        {"n": n, "text": text[n - 1], "here": n == line}
        for n in range(first, min(len(text), line + AROUND) + 1)
    ]


def _card(checklist: Checklist, words: Words) -> dict[str, Any]:
    labels = {bus.id: bus.label for bus in checklist.buses}
    return {
        "title": checklist.title,
        "type": checklist.type,
        "registration": checklist.registration,
        "operator": checklist.operator,
        "buses": [
            {"label": bus.label, "on": list(bus.on), "off": list(bus.off)}
            for bus in checklist.buses
        ],
        "timed": _timed(checklist),
        "positions": [_position(position, labels, words) for position in checklist.positions],
        "not_fitted": [
            {"position": gone.position_name, "expected": gone.expected, "reason": gone.reason}
            for gone in checklist.not_fitted
        ],
        "timing": {
            "word_error": checklist.timing.word_error,
            "reaction": checklist.timing.reaction,
            "reaction_spread": checklist.timing.reaction_spread,
            "hand_before": checklist.timing.hand_before,
            "hand_after": checklist.timing.hand_after,
            "silence": checklist.timing.silence,
        },
    }


def _timed(checklist: Checklist) -> dict[str, Any] | None:
    bus = checklist.timed_bus
    if bus is None or bus.minutes is None:
        return None
    return {"say": bus.say[:1].upper() + bus.say[1:], "minutes": f"{bus.minutes:g}"}


def _position(position: Position, labels: Mapping[str, str], words: Words) -> dict[str, Any]:
    return {
        "name": position.name,
        "select": list(position.select),
        "power": _power(position.power, labels, words),
        "caution": position.caution,
        "changed": position.changed,
        "items": [_item(item, labels, words) for item in position.items],
    }


def _power(power: Mapping[str, str], labels: Mapping[str, str], words: Words) -> list[str]:
    return [
        words("bus-state", bus=labels.get(bus, bus), state=words(f"bus-{state}"))
        for bus, state in power.items()
    ]


def _item(item: Item, labels: Mapping[str, str], words: Words) -> dict[str, Any]:
    readings = (*item.readings, *item.darks)
    return {
        "expected": item.expected,
        "lamps": [
            {"caption": lamp.caption, "colour": lamp.colour, "lit": lamp.lit} for lamp in item.lamps
        ],
        "good": [" / ".join(r.phrases) for r in readings if r.grade is Grade.GOOD],
        "bad": [
            {"say": " / ".join(r.phrases), "finding": r.finding}
            for r in readings
            if r.grade is not Grade.GOOD
        ],
        "power": _power(item.power, labels, words),
        "window": words(
            "card-window", lower=f"{item.window.lower:g}", upper=f"{item.window.upper:g}"
        )
        if item.window
        else None,
        "read_back": item.read_back,
        "consequence": item.consequence,
        "caution": item.caution,
        "chapter": item.chapter,
        "mel": words(
            "card-mel-of", item=item.mel.item, title=item.mel.title, category=item.mel.category
        )
        if item.mel
        else None,
    }
