"""What stands under *Examples* in each command's help: command lines that can be typed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

import typer
from typer.models import CommandInfo

EXAMPLES: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "run": (
        ("run skerry-j2 --airframe ZZ-HJC", "by the default microphone"),
        ("run my-type.yaml --airframe ZZ-PLV --headset --terse", "your own checklist"),
        ("run skerry-j2 --airframe ZZ-HJC --kneeboard --stay", "with a page to look at"),
        ("run skerry-j2 --airframe ZZ-HJC --from crew.wav --recorded-at 2026-11-25", "a recording"),
        ("run skerry-j2 --airframe ZZ-HJC --deaf", "by keys alone, without a microphone"),
        (
            "run skerry-j2 --airframe ZZ-HJC --listener vosk --model vosk-model-small-en-us-0.15",
            "with a Vosk model that you have",
        ),
    ),
    "demo": (
        ("demo", "writes into the folder out"),
        ("demo --out demo-1", "or into another one"),
    ),
    "validate": (
        ("validate my-type.yaml", "one type with all its airframes"),
        ("validate my-checklists", "every file in a folder"),
        ("validate skerry-j2", "a shipped one"),
        ("validate --schema type", "the JSON Schema, for an editor"),
    ),
    "rehearse": (
        ("rehearse skerry-j2 --airframe ZZ-HJC --as pilot --student Ada", "you are the pilot"),
        ("rehearse skerry-j2 --airframe ZZ-HJC --as watch", "look on"),
        ("rehearse skerry-j2 --faults 'lamp-dark:FIRE L,random:2'", "faults of your choice"),
        ("rehearse all --crew unruly --sessions 1000 --jobs 2", "proof, words alone"),
        ("rehearse all --sound --noise 10 --sessions 10", "proof, through sound"),
    ),
    "replay": (
        ("replay journal.jsonl", "decide a session again"),
        ("replay journal.jsonl --json", "and give its result to a program"),
    ),
    "resume": (
        ("resume", "the latest session"),
        ("resume 20260301 --deaf", "one that begins so, by keys"),
    ),
    "audio": (
        ("audio", "which devices there are"),
        ("audio --meter 10", "too quiet, good, clipping"),
        ("audio --check 4 --microphone headset", "record four seconds, play them back"),
        ("audio --echo --remember", "headset or open speaker? Remember it"),
    ),
    "kneeboard": (
        ("kneeboard", "review past sessions, print cards"),
        ("kneeboard --watch my-type.yaml", "check a type file at every save"),
        ("kneeboard --address 192.0.2.7", "for a tablet, at this machine's address"),
    ),
    "new type": (
        ('new type "Plover 12"', "here"),
        ('new type "Plover 12" --into my-checklists', "or in a folder"),
    ),
    "new airframe": (
        ("new airframe plover-12.yaml ZZ-PLV", "into airframes/ beside the type"),
        ('new airframe plover-12 ZZ-PLV --into my-checklists --operator "A. Wren"', ""),
    ),
    "log list": (
        ("log list", "the newest fifty"),
        ("log list --airframe ZZ-HJC --limit 0", "all of one airframe"),
    ),
    "log show": (
        ("log show latest", "who said what, and what was made of it"),
        ("log show 20260301 --json", "the result of one that begins so"),
    ),
    "log report": (
        ("log report latest", "the page beside the journal"),
        ("log report latest --format pdf --out report.pdf", "to print"),
    ),
    "log verify": (
        ("log verify latest", "one journal"),
        ("log verify --all", "every journal and the logbook"),
    ),
    "log open": (
        ("log open", "the whole fleet"),
        ("log open ZZ-HJC --text", "ready for the technical log"),
    ),
    "log defer": (
        ('log defer latest/2 --by "M. Dipper 123" --reference "TL 17"', "the second finding"),
    ),
    "log clear": (('log clear latest/2 --by "M. Dipper 123" --reference "TL 19"', "signed off"),),
    "log reopen": (('log reopen latest/2 --by "A. Wren" --note "dark again"', "not mended"),),
    "log correct": (
        ('log correct latest/2 --by "A. Wren" --note "it was the right one"', "stands beside it"),
    ),
    "log trend": (
        ("log trend ZZ-HJC", "in words"),
        ("log trend ZZ-HJC --out trend.html", "control charts, to print"),
    ),
    "log fleet": (
        ("log fleet", "who is due, what is open"),
        ("log fleet --out fleet.html --force", "as a page"),
    ),
    "log export": (
        ("log export timings --out timings.csv", "for a spreadsheet"),
        ("log export timings --airframe ZZ-HJC --format json", "for a program"),
    ),
    "log deliver": (("log deliver", "what waits, once the database is back"),),
    "log purge": (
        ("log purge --older-than 730 --names", "shows what would go"),
        ("log purge --older-than 730 --names --yes", "and lets it go"),
    ),
    "log key": (
        ("log key", "prints the public half"),
        ("log key --key my-key.pem", "of another key"),
    ),
    "measure engine": (("measure engine", ""), ("measure engine --events 2000 --json", "")),
    "measure states": (
        ("measure states", "about a minute"),
        ("measure states skerry-j2 --airframe ZZ-HJC --depth full", "deeper, one airframe"),
    ),
    "measure timing": (("measure timing", ""), ("measure timing --lamps 10000 --json", "")),
    "measure latency": (("measure latency --callouts 10", "needs a sound server"),),
    "measure soak": (("measure soak --hours 1", ""),),
    "measure speaker": (("measure speaker", "five minutes; needs a sound server"),),
    "measure callouts": (("measure callouts tarn-40 --airframe ZZ-HAA --json", ""),),
    "measure make-corpus": (
        ("measure make-corpus", "all of it"),
        ("measure make-corpus --talkers 2 --each 0.1 --noise-hours 0 small", "a taste"),
    ),
    "measure corpus": (
        ("measure corpus --part test", ""),
        ('measure corpus my/manifest.jsonl --noise "10 dB" --jobs 2', "your own recordings"),
    ),
    "measure calibrate": (("measure calibrate calibration.json", "twenty minutes and more"),),
    "measure peers": (("measure peers --picture peers.png", ""),),
    "measure phones": (("measure phones --words 200 --voices 4", ""),),
    "measure wordings": (("measure wordings --voices 4", ""),),
    "measure endpoint": (("measure endpoint --voices 4", ""),),
    "measure word-times": (("measure word-times --voices 4", ""),),
    "measure page": (("measure page --changes 50", "needs chromium"),),
    "measure logbook": (("measure logbook --sessions 1000 --sessions 10000", ""),),
}
"""By command: what follows `voicecheck` on its line, and what it is an example of."""


def add_examples(app: typer.Typer) -> None:
    """Put each command's examples under its help."""
    for path, command in commands(app):
        lines = [
            f"  voicecheck {line}" + (f"\n      {meaning}" if meaning else "")
            for line, meaning in EXAMPLES.get(path, ())
        ]
        if lines:
            # "\b": the lines stay as they are, whatever the width.
            command.epilog = "\b\nExamples:\n" + "\n".join(lines)


def commands(app: typer.Typer, above: str = "") -> Iterator[tuple[str, CommandInfo]]:
    """Every command with the words that lead to it."""
    for command in app.registered_commands:
        name = command.name
        if name is None:
            assert command.callback is not None
            name = command.callback.__name__.rstrip("_").replace("_", "-")
        yield f"{above}{name}", command
    for group in app.registered_groups:
        assert group.typer_instance is not None
        yield from commands(group.typer_instance, f"{above}{group.name} ")
