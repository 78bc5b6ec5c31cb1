"""Find and read checklist files: one type file, its airframes, one resolved checklist.

A checklist is named by the path of its type file or, for a shipped one, by its id. The
airframes stand in the folder ``airframes`` beside the type file.
"""

from __future__ import annotations

import difflib
import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicecheck.checklist.model import AirframeFile, TypeFile
from voicecheck.checklist.resolve import resolve
from voicecheck.checklist.resolved import Checklist
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.language import Language, load_language
from voicecheck.yaml_source import Sourced, check_model, read_yaml

SUFFIXES: Final = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Loaded:
    """A resolved checklist with its language and the digest of the files it came from."""

    checklist: Checklist
    language: Language
    sha256: str
    files: tuple[Path, ...]


def find_type_file(name: str, shipped: Path) -> Path:
    """The type file for a path or a shipped id. Raises VoicecheckError when there is none."""
    path = Path(name)
    if path.is_dir():
        inside = sorted(path.glob("*.yaml"))
        if len(inside) == 1:
            return inside[0]
        raise VoicecheckError(f"{name}: is a folder with {len(inside)} checklists; name one file")
    if path.suffix in SUFFIXES or len(path.parts) > 1 or path.exists():
        return path
    known = sorted(found.stem for found in shipped.glob("*.yaml"))
    if name in known:
        return shipped / f"{name}.yaml"
    close = difflib.get_close_matches(name, known, n=1)
    hint = f"did you mean '{close[0]}'?" if close else f"shipped are: {', '.join(known)}"
    raise VoicecheckError(f"{name}: no such checklist; {hint}")


def read_type(path: Path) -> tuple[TypeFile, Sourced]:
    """Read one type file and where its values stand. Raises InputError or VoicecheckError."""
    source = read_yaml(path)
    return check_model(TypeFile, source), source


def read_airframes(type_path: Path, type_id: str) -> dict[str, tuple[AirframeFile, Sourced]]:
    """All airframes of this type, by registration. Raises InputError or VoicecheckError."""
    found: dict[str, tuple[AirframeFile, Sourced]] = {}
    for path in sorted((type_path.parent / "airframes").glob("*")):
        if path.suffix not in SUFFIXES:
            continue
        source = read_yaml(path)
        named = source.data.get("checklist") if isinstance(source.data, dict) else None
        if named is not None and named != type_id:
            continue
        airframe = check_model(AirframeFile, source)
        if airframe.registration in found:
            first = found[airframe.registration][1].file
            raise InputError(
                source.place(("registration",)),
                f"registration {airframe.registration} is already in {first}",
                "keep one file for each airframe",
            )
        found[airframe.registration] = (airframe, source)
    return found


def load_checklist(name: str, registration: str, *, shipped: Path, grammars: Path) -> Loaded:
    """Read, check and resolve the checklist of one airframe.

    name: a type file's path or a shipped id; registration: as in its airframe file.
    Raises InputError (file, line, column, problem, remedy) or VoicecheckError.
    """
    path = find_type_file(name, shipped)
    type_file, type_source = read_type(path)
    airframes = read_airframes(path, type_file.id)
    by_fold = {known.casefold(): known for known in airframes}
    known = by_fold.get(registration.casefold())
    if known is None:
        raise VoicecheckError(_unknown(registration, list(airframes), path))
    airframe, airframe_source = airframes[known]
    language = load_grammar(type_file.language, path, grammars)
    checklist = resolve(type_file, type_source, airframe, airframe_source, language)
    files = (path, Path(airframe_source.file))
    digest = hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()
    return Loaded(checklist, language, digest, files)


def load_grammar(name: str, type_path: Path, grammars: Path) -> Language:
    """The language's grammar: from ``grammars`` beside the type file's folder, or shipped."""
    for root in (type_path.parent.parent / "grammars", type_path.parent / "grammars", grammars):
        if (root / name).is_dir():
            return load_language(root / name)
    known = ", ".join(sorted(p.name for p in grammars.iterdir() if p.is_dir()))
    raise VoicecheckError(f"{type_path}: no grammar for language '{name}'; shipped are: {known}")


def _unknown(registration: str, known: list[str], path: Path) -> str:
    folder = path.parent / "airframes"
    if not known:
        return f"{registration}: {folder} has no airframe for {path.name}; add a YAML file there"
    if not registration:
        return f"no airframe is named; add --airframe with one of {', '.join(sorted(known))}"
    close = difflib.get_close_matches(registration.upper(), known, n=1)
    hint = f"did you mean {close[0]}?" if close else f"known are: {', '.join(sorted(known))}"
    return f"{registration}: unknown registration for {path.name}; {hint}"
