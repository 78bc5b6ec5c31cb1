"""``voicecheck validate``: is a checklist sound before anybody flies with it?"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from voicecheck.caution import CAUTION
from voicecheck.checklist.loader import find_type_file, read_airframes, read_type
from voicecheck.checklist.model import AirframeFile
from voicecheck.checklist.schema import SchemaName, json_schema
from voicecheck.cli.sayings import print_sayings
from voicecheck.cli.screen import print_line
from voicecheck.errors import Place, VoicecheckError
from voicecheck.proofreading.proofread import Remark, proofread
from voicecheck.shipped import checklists_dir
from voicecheck.speech.lexicon import Lexicon
from voicecheck.speech.vosk_listener import VoskListener
from voicecheck.yaml_source import check_model, read_yaml


def validate(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(help="Type files, airframe files, folders of them, or shipped ids."),
    ] = None,
    schema: Annotated[
        str | None,
        typer.Option(metavar="type|airframe", help="Print the JSON Schema of such a file."),
    ] = None,
    model: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Words must be known to this Vosk model instead."),
    ] = None,
    say: Annotated[
        str | None,
        typer.Option(metavar="REG", help="Print all that can be said for this airframe instead."),
    ] = None,
) -> None:
    """Check checklists: structure, order, power, windows, wordings, pronunciations.

    Every airframe of a type file is resolved. Exit status 2 and one line for the first
    problem of each file and airframe, or for each error in what it asks for; warnings change no
    status. A note tells what a crew may say that could mean two things, and is asked about.
    """
    if schema is not None:
        typer.echo(json.dumps(json_schema(_schema_name(schema)), indent=2))
        return
    if not paths:
        raise VoicecheckError("name a checklist file or folder to validate, or use --schema")
    print_line(CAUTION, Console(stderr=True, highlight=False))
    screen = Console(highlight=False)
    if say is not None:
        print_sayings(paths, say, screen)
        return
    vosk = None if model is None else VoskListener(model, Lexicon({}, (), (), (), ()))
    problems = 0
    done: set[tuple[Path, str]] = set()
    told: set[tuple[Place | None, str]] = set()
    for path in _files(paths):
        try:
            for line in _check(path, done, told, vosk):
                problems += line.wrong
                print_line(str(line), screen)
        except VoicecheckError as error:
            problems += 1
            print_line(str(error), screen)
    if problems:
        raise typer.Exit(2)


def _schema_name(name: str) -> SchemaName:
    if name == "type":
        return "type"
    if name == "airframe":
        return "airframe"
    raise VoicecheckError(f"--schema {name}: choose type or airframe")


def _files(paths: list[Path]) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        # A shipped id is taken, too, as `run` takes it.
        named = find_type_file(str(path), checklists_dir()) if not path.exists() else path
        found = sorted(path.rglob("*.yaml")) if path.is_dir() else [named]
        if not found:
            raise VoicecheckError(f"{path}: no YAML file in this folder; name another")
        files += found
    return files


def _check(
    path: Path,
    done: set[tuple[Path, str]],
    told: set[tuple[Place | None, str]],
    vosk: VoskListener | None,
) -> Iterator[Remark]:
    """Check one file; pairs of type file and registration that are `done` are left out.

    told: what was said of single words, which is the same for every airframe.
    """
    source = read_yaml(path)
    if isinstance(source.data, dict) and {"registration", "checklist"} & source.data.keys():
        check_model(AirframeFile, source)
        wanted = {(_type_of(path, str(source.data["checklist"])), source.data["registration"])}
    else:
        type_file, _ = read_type(path)
        airframes = read_airframes(path, type_file.id)
        if not airframes:
            folder = path.parent / "airframes"
            yield Remark(None, f"{path}: well formed; it has no airframe yet in {folder}", False)
        wanted = {(path, registration) for registration in airframes}
    fresh = sorted(wanted - done)
    done |= wanted
    for type_path, registration in fresh:
        yield from _resolved(type_path, registration, told, vosk)


def _type_of(airframe: Path, type_id: str) -> Path:
    """The type file in the folder above whose id the airframe names."""
    for candidate in sorted(airframe.parent.parent.glob("*.yaml")):
        data = read_yaml(candidate).data
        if isinstance(data, dict) and data.get("id") == type_id:
            return candidate
    raise VoicecheckError(
        f"{airframe}: no type file with id '{type_id}' in {airframe.parent.parent}; "
        "correct 'checklist:' or add the file"
    )


def _resolved(
    type_path: Path,
    registration: str,
    told: set[tuple[Place | None, str]],
    vosk: VoskListener | None,
) -> Iterator[Remark]:
    missing = None if vosk is None else vosk.missing
    proof = proofread(type_path, registration, missing, said=True)
    if (checklist := proof.checklist) is not None:
        counts = f"{len(checklist.positions)} positions, {len(checklist.items)} items"
        told_of = f"{counts}, {len(checklist.not_fitted)} not fitted"
        yield Remark(None, f"{type_path}: {registration}: {told_of}", False)
    for remark in proof.remarks:
        if (remark.place, remark.text) not in told:
            told.add((remark.place, remark.text))
            yield remark
