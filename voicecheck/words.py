"""What people read and hear, in one language: texts by key, from ``grammars/<language>/``.

The keys, and the slots of each text, are those of the shipped English files; every language has
the same. A session's record carries its own texts, so that it is read as it was written whatever
happens to the grammars. All else speaks the language that VOICECHECK_LANGUAGE names.

``say`` answers in the language of the moment, as the standard library's decimal contexts do: who
begins something in a language says so with ``speaking``.
"""

from __future__ import annotations

import os
import string
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.shipped import grammars_dir
from voicecheck.yaml_source import check_model, read_yaml

VARIABLE: Final = "VOICECHECK_LANGUAGE"
"""Names a shipped language, or the folder of another one."""
PARTS: Final = ("record", "report", "page")
"""record: what stands in a record; report: what reports say around it; page: what screens say."""
_MODEL: Final = "en"


class TextsFile(BaseModel):
    """Contents of record.yaml, report.yaml or page.yaml: key to text with named {slots}."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    schema_: Literal[1] = Field(alias="schema")
    texts: dict[str, str]


@dataclass(frozen=True, slots=True)
class Words:
    """The texts of one language. language: its name, as of its folder."""

    language: str
    record: Mapping[str, str]
    report: Mapping[str, str]
    page: Mapping[str, str]

    def __call__(self, key: str, /, **slots: object) -> str:
        """A text with its slots filled. Raises VoicecheckError for what a file lacks."""
        for texts in (self.record, self.report, self.page):
            if key in texts:
                try:
                    return texts[key].format_map(slots)
                except KeyError as missing:
                    raise VoicecheckError(
                        f"the words of '{self.language}': '{key}' has a slot {missing} that "
                        "nothing fills; correct the file"
                    ) from None
        raise VoicecheckError(f"the words of '{self.language}' lack '{key}'; add it to the file")

    def text(self, key: str) -> str:
        """A text as it is written, slots and all; for scripts that fill them."""
        return next(texts[key] for texts in (self.record, self.report, self.page) if key in texts)

    def has(self, key: str) -> bool:
        """Whether there is such a text."""
        return any(key in texts for texts in (self.record, self.report, self.page))


def read_words(folder: Path) -> Words:
    """The three files of one language. Raises InputError (file, line, remedy)."""
    texts = {part: _read(folder / f"{part}.yaml") for part in PARTS}
    return Words(folder.name, **texts)


def shipped_folder(language: str) -> Path | None:
    """The folder of a shipped language; None where it is somebody's own."""
    folder = grammars_dir() / language
    return folder if folder.is_dir() else None


def english() -> Words:
    """The shipped English words: those of records from before records carried their own."""
    return _known(grammars_dir() / _MODEL)


def recorded(checklist: Mapping[str, object]) -> Words:
    """The words that a journal's header brings; what it lacks is in English, as it was then.

    checklist: the resolved one, as in the header. Screens speak as chosen.
    """
    old = english()
    record, report = checklist.get("record"), checklist.get("report")
    return Words(
        str(checklist.get("language", old.language)),
        {**old.record, **record} if isinstance(record, Mapping) else old.record,
        {**old.report, **report} if isinstance(report, Mapping) else old.report,
        chosen().page,
    )


def chosen() -> Words:
    """What is not about one session: in the language that VOICECHECK_LANGUAGE names, or English."""
    name = os.environ.get(VARIABLE, _MODEL)
    for folder in (grammars_dir() / name, Path(name)):
        if name and folder.is_dir():
            return _known(folder)
    raise VoicecheckError(f"{VARIABLE}={name}: no such language; name one, or its folder")


def spoken() -> Words:
    """The words of the moment."""
    return _NOW.get() or chosen()


def say(key: str, /, **slots: object) -> str:
    """A text in the language of the moment."""
    return spoken()(key, **slots)


@contextmanager
def speaking(words: Words) -> Iterator[None]:
    """Within this, and in this thread, ``say`` speaks these words."""
    before = _NOW.set(words)
    try:
        yield
    finally:
        _NOW.reset(before)


_NOW: Final[ContextVar[Words | None]] = ContextVar("words", default=None)


@cache
def _known(folder: Path) -> Words:
    return read_words(folder)


def _read(path: Path) -> Mapping[str, str]:
    model = grammars_dir() / _MODEL / path.name
    if not path.exists():
        raise VoicecheckError(
            f"{path}: is missing; copy {model} there and write its texts in the language"
        )
    source = read_yaml(path)
    texts = check_model(TextsFile, source).texts
    wanted = texts if path == model else _texts(model)
    for key, text in wanted.items():
        if key not in texts:
            raise InputError(
                source.place(("texts",)), f"the text '{key}' is missing", f"add '{key}: {text}'"
            )
    for key, text in texts.items():
        place = source.place(("texts", key))
        if key not in wanted:
            raise InputError(place, f"no text '{key}' is known", "remove it, or correct the name")
        if not text.strip():
            raise InputError(place, f"the text '{key}' is empty", f"write '{wanted[key]}'")
        _check_slots(place, key, text, wanted[key])
    return texts


def _check_slots(place: Place, key: str, text: str, model: str) -> None:
    try:
        found, due = slots_of(text), slots_of(model)
    except ValueError as error:
        raise InputError(place, f"'{key}': {error}", "write {name} for each slot") from None
    if found != due:
        named = ", ".join("{" + slot + "}" for slot in sorted(due)) or "none"
        what = "lacks" if due - found else "invents"
        which = ", ".join(sorted(due - found or found - due))
        raise InputError(place, f"'{key}' {what} the slot {which}", f"its slots are: {named}")


@cache
def _texts(model: Path) -> Mapping[str, str]:
    return check_model(TextsFile, read_yaml(model)).texts


def slots_of(text: str) -> frozenset[str]:
    """Names of the {slots} of a text. Raises ValueError for anything else in braces."""
    found = set()
    for _, slot, spec, conversion in string.Formatter().parse(text):
        if slot is None:
            continue
        if not slot.isidentifier() or spec or conversion:
            raise ValueError(f"more than a name in the slot '{slot}'")
        found.add(slot)
    return frozenset(found)
