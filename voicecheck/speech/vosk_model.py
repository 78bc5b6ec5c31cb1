"""Vosk models on this machine: found by folder or by name, and looked at before they are loaded."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

VARIABLE: Final = "VOSK_MODEL_PATH"


def model_folders(environment: Mapping[str, str] | None = None) -> tuple[Path, ...]:
    """Where models of a given name are looked for: the places that Vosk's own package uses."""
    named = (os.environ if environment is None else environment).get(VARIABLE)
    usual = (Path.home() / ".cache" / "vosk", Path("/usr/share/vosk"))
    return (*((Path(named),) if named else ()), *usual)


def find_model(wanted: Path, folders: Iterable[Path] | None = None) -> Path:
    """The folder of a model given by its folder, or by its name in one of the usual places.

    Nothing is ever fetched. Raises VoicecheckError with the places and names that there are.
    """
    if wanted.is_dir():
        return wanted
    if len(wanted.parts) != 1:
        raise VoicecheckError(f"{wanted}: there is no such folder; name a Vosk model's folder")
    places = tuple(model_folders() if folders is None else folders)
    for place in places:
        if (place / wanted).is_dir():
            return place / wanted
    known = sorted(
        {
            path.name
            for place in places
            if place.is_dir()
            for path in place.iterdir()
            if path.is_dir()
        }
    )
    there = f"there are: {', '.join(known)}" if known else "they hold no model"
    raise VoicecheckError(
        f"{wanted}: there is no such folder, and no model of that name in "
        f"{', '.join(map(str, places))} ({there}); voicecheck fetches nothing: unpack the model "
        "in one of them, or name its folder with --model"
    )


def model_fault(folder: Path) -> str | None:
    """What keeps this folder from being a run-time-grammar Vosk model, or None."""
    if not folder.is_dir():
        return "there is no such folder"
    acoustic = ("am/final.mdl", "final.mdl")
    features = ("conf/mfcc.conf", "mfcc.conf")
    graph = ("graph/HCLr.fst", "HCLr.fst")
    words = ("graph/Gr.fst", "Gr.fst")
    for names, what in (
        (acoustic, "acoustic model"),
        (features, "feature settings"),
        (graph, "look-ahead graph (only models with one can change grammar)"),
        (words, "look-ahead word graph"),
    ):
        if not any((folder / name).is_file() and (folder / name).stat().st_size for name in names):
            return f"it has no {what} ({names[0]})"
    return None
