"""Fonts for paper: DejaVu Sans, and for what it lacks whatever else this machine has.

A letter that no font here can draw is not lost: it is printed as its code point, [U+6F22].
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

_FOLDERS: Final = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.fonts", "~/.local/share/fonts")
_FIRST: Final = ("DejaVuSans.ttf", "NotoSans-Regular.ttf", "LiberationSans-Regular.ttf")
_KINDS: Final = frozenset({".ttf", ".otf", ".ttc"})


@dataclass(frozen=True, slots=True)
class Chosen:
    """regular and bold: files of the main font. more: files for what it lacks, with an index."""

    regular: Path
    bold: Path
    more: tuple[Path, ...]
    lacking: frozenset[str]


def choose(text: Iterable[str]) -> Chosen:
    """Fonts for everything in `text`. Raises VoicecheckError where there is none at all."""
    files = _files()
    named = {path.name: path for path in reversed(files)}
    regular = next((named[name] for name in _FIRST if name in named), None)
    if regular is None:
        raise VoicecheckError(
            "no font for a PDF is installed; install DejaVu Sans (Debian: fonts-dejavu-core), "
            "or choose --format html"
        )
    family = regular.name.removesuffix(".ttf").removesuffix("-Regular")
    bold = named.get(f"{family}-Bold.ttf", regular)
    wanted = {c for part in text for c in part if c.isprintable()}
    missing = wanted - _letters(regular)
    more = []
    for path in files:
        if not missing:
            break
        if path in (regular, bold):
            continue
        if found := missing & _letters(path):
            more.append(path)
            missing -= found
    return Chosen(regular, bold, tuple(more), frozenset(missing))


def spelled(text: str, lacking: frozenset[str]) -> str:
    """The text with every letter that no font has as its code point."""
    if not lacking.intersection(text):
        return text
    return "".join(f"[U+{ord(c):04X}]" if c in lacking else c for c in text)


def _files() -> list[Path]:
    return sorted(
        (path for folder in _folders() for path in folder.rglob("*") if _usable(path)),
        key=lambda path: (path.suffix == ".ttc", path.stat().st_size, str(path)),
    )


def _usable(path: Path) -> bool:
    return path.suffix.lower() in _KINDS and path.is_file()


def _folders() -> Iterator[Path]:
    given = os.environ.get("VOICECHECK_FONTS")
    for name in (given,) if given else _FOLDERS:
        folder = Path(name).expanduser()
        if folder.is_dir():
            yield folder


@cache
def _letters(path: Path) -> frozenset[str]:
    """What a font can draw; nothing where it cannot be read."""
    from fontTools.ttLib import TTCollection, TTFont, TTLibError

    try:
        if path.suffix.lower() == ".ttc":
            with TTCollection(path, lazy=True) as collection:
                return frozenset(map(chr, collection.fonts[0].getBestCmap() or ()))
        with TTFont(path, lazy=True) as font:
            if "glyf" not in font:  # others cannot be embedded as they are
                return frozenset()
            return frozenset(map(chr, font.getBestCmap() or ()))
    except (TTLibError, OSError, KeyError, AssertionError, ValueError):
        return frozenset()
