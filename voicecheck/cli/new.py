"""``voicecheck new``: the first files of one's own aircraft."""

from __future__ import annotations

import json
from pathlib import Path
from shlex import quote
from typing import Annotated

import typer

from voicecheck.caution import CAUTION
from voicecheck.checklist.blank import airframe_file, blank_airframe, blank_type, type_id
from voicecheck.checklist.loader import load_grammar, read_type
from voicecheck.checklist.schema import SchemaName, json_schema
from voicecheck.cli.screen import print_line
from voicecheck.errors import VoicecheckError
from voicecheck.shipped import grammars_dir
from voicecheck.voice.spoken import spell

app = typer.Typer(
    name="new",
    help="Write the first files of your own checklist: an aircraft type, then its airframes.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Into = Annotated[
    Path, typer.Option("--into", metavar="DIR", help="Folder of your checklists; made if needed.")
]


@app.command("type")
def type_(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the type, as in reports.")],
    into: Into = Path(),
) -> None:
    """Write a small, sound type file with comments, and the schema that editors complete by.

    Nothing that exists is replaced.
    """
    text = blank_type(name)
    path = into / f"{type_id(name)}.yaml"
    _write(path, text)
    _schema("type", into)
    print_line(f"written  {path}")
    print_line(f"next     voicecheck new airframe {quote(str(path))} REGISTRATION")


@app.command()
def airframe(
    checklist: Annotated[
        str, typer.Argument(metavar="TYPE", help="A type file, or its id in the --into folder.")
    ],
    registration: Annotated[str, typer.Argument(metavar="REG", help="As on the hull.")],
    operator: Annotated[
        str, typer.Option(metavar="NAME", help="Who operates it, for the report.")
    ] = "private",
    into: Into = Path(),
) -> None:
    """Write an airframe file into the folder `airframes` beside its type.

    Nothing that exists is replaced.
    """
    path = _type_file(checklist, into)
    kind, _ = read_type(path)
    spell(registration, load_grammar(kind.language, path, grammars_dir()).speech.spelling)
    target = path.parent / "airframes" / airframe_file(registration)
    text = blank_airframe(kind.type, kind.id, registration, operator)
    _write(target, text)
    _schema("airframe", path.parent)
    named = quote(str(path))
    print_line(f"written  {target}")
    print_line(f"next     voicecheck validate {named}")
    print_line(f"then     voicecheck run {named} --airframe {quote(registration)}")
    print_line(CAUTION)


def _type_file(checklist: str, into: Path) -> Path:
    named = Path(checklist)
    if named.suffix in (".yaml", ".yml"):
        return named
    inside = into / f"{named.name}.yaml"
    if named.name == checklist and inside.is_file():
        return inside
    raise VoicecheckError(
        f"{checklist}: no type file {inside}; name one that ends in .yaml, "
        "or write it first with `voicecheck new type NAME`"
    )


def _schema(name: SchemaName, folder: Path) -> None:
    """Put the JSON Schema beside the checklists; one of ours from another version is renewed."""
    path = folder / "schema" / f"{name}.schema.json"
    schema = json_schema(name)
    text = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    try:
        there = json.loads(path.read_text("utf-8")) if path.exists() else None
    except (OSError, ValueError, RecursionError):
        there = {}
    if there == schema:
        return
    if there is not None:
        if not isinstance(there, dict) or there.get("title") != schema["title"]:
            raise VoicecheckError(f"{path}: is not voicecheck's schema; move it away first")
        path.unlink()
    _write(path, text)


def _write(path: Path, text: str) -> None:
    """Write a file that is not there yet. Raises VoicecheckError."""
    if path.exists() or path.is_symlink():
        raise VoicecheckError(
            f"{path}: exists already and is kept; choose another name or folder (--into)"
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be written ({error.strerror}); choose another folder with --into"
        ) from None
