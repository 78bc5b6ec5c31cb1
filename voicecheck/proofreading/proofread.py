"""What is wrong, or worth a look, in an aircraft type's files: one account for every reader."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.places import place_in_files
from voicecheck.checklist.resolved import Checklist
from voicecheck.checklist.vocabulary import words
from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.proofreading.advised import advised
from voicecheck.proofreading.collisions import collisions
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.proofreading.nearness import too_near
from voicecheck.proofreading.pronouncing import told_of
from voicecheck.proofreading.sayable import Missing, require_sayable
from voicecheck.proofreading.soundalike import soundalike
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.sphinx import SphinxListener
from voicecheck.yaml_source import read_yaml


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing to mend (wrong) or to think about. place: None where no line is to blame."""

    place: Place | None
    text: str
    wrong: bool

    def __str__(self) -> str:
        return self.text if self.place is None else f"{self.place}: {self.text}"


@dataclass(frozen=True, slots=True)
class Proof:
    """One airframe's checklist, if it can be resolved, and the remarks on it."""

    checklist: Checklist | None
    remarks: tuple[Remark, ...]


def remark_of(error: VoicecheckError, about: str = "") -> Remark:
    """An error as a remark. about: the registration it was met with, or nothing."""
    head = f"{about}: " if about else ""
    if isinstance(error, InputError):
        return Remark(error.place, f"{head}{error.problem}; {error.remedy}", True)
    return Remark(None, f"{head}{error}", True)


def proofread(
    type_file: Path, registration: str, missing: Missing | None = None, *, said: bool = False
) -> Proof:
    """Resolve one airframe as `voicecheck run` would, and look at everything that can be looked at.

    said: also look for what crews may say that would mean two things; that takes a while.
    missing: of some words, those that another listener than the usual one does not know. Nothing
    is raised: what stops a session is a remark.
    """
    checklist: Checklist | None = None
    remarks: list[Remark] = []
    try:
        loaded = load_checklist(
            str(type_file), registration, shipped=checklists_dir(), grammars=grammars_dir()
        )
        require_sayable(loaded, missing or _missing(loaded))
        checklist = loaded.checklist
        for place, severity, text in told_of(loaded) if missing is None else ():
            remarks.append(Remark(place, f"{severity}: {text}", False))
        for place, advice in advised(loaded, soundalike(loaded.language)):
            wrong = advice.severity is Severity.ERROR
            remarks.append(Remark(place, f"{checklist.registration}: {advice}", wrong))
        for advice in _of_sayings(loaded) if said else ():
            place = place_in_files(advice.position, advice.item, *map(read_yaml, loaded.files))
            remarks.append(Remark(place, str(advice), False))
    except VoicecheckError as error:
        remarks.append(remark_of(error, registration))
    return Proof(checklist, tuple(remarks))


def _of_sayings(loaded: Loaded) -> Iterator[Advice]:
    yield from collisions(loaded)
    yield from too_near(loaded, soundalike(loaded.language).near)


_LISTENERS: Final[dict[str, Missing]] = {}


def _missing(loaded: Loaded) -> Missing:
    """Which words the listener cannot pronounce; loading it takes longer than all else here."""
    lexicon = lexicon_of(loaded.language, words(loaded.checklist))
    # By content: a folder of one's own grammars may have the name of a shipped language.
    key = repr(lexicon)
    known = _LISTENERS.get(key)
    if known is None:
        known = SphinxListener(lexicon).missing
        _LISTENERS.clear()  # the page of cards asks from several threads: never read it back
        _LISTENERS[key] = known
    return known
