"""What can be said for an airframe, as ``voicecheck validate --say`` prints it."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from voicecheck.checklist.loader import load_checklist
from voicecheck.checklist.said import network_of
from voicecheck.checklist.wordings import said_together
from voicecheck.cli.screen import print_line
from voicecheck.errors import VoicecheckError
from voicecheck.meaning.pattern import written
from voicecheck.proofreading.collisions import losable
from voicecheck.shipped import checklists_dir, grammars_dir


def print_sayings(paths: list[Path], registration: str, screen: Console) -> None:
    """Each position's callouts with their wordings, then the rules that these name.

    After each position: what closes an item as good when a word of another callout is lost.
    Raises VoicecheckError unless one checklist is named.
    """
    if len(paths) != 1:
        raise VoicecheckError("--say prints one airframe; name its type file or shipped id alone")
    loaded = load_checklist(
        str(paths[0]), registration, shipped=checklists_dir(), grammars=grammars_dir()
    )
    checklist = loaded.checklist
    network = network_of(checklist, loaded.language.sayings)
    told: set[str] = set()
    for position in checklist.positions:
        print_line(f"{position.id}:", screen)
        for key in dict.fromkeys(w.key for w in said_together(checklist, position)):
            if key in told:
                continue
            told.add(key)
            ways = network.ways[key]
            print_line(f"  {key}: {' | '.join(ways.taught)}", screen)
            if ways.said:
                print_line(f"    <before> {written(network.wide(key))}", screen)
        for found in losable(loaded, position.id):
            print_line(
                f"  '{' '.join(found.words)}' ({found.said}) without '{found.words[found.at]}' "
                f"is {found.taken}",
                screen,
            )
    print_line("rules:", screen)
    for name, pattern in network.rules.items():
        print_line(f"  <{name}> = {written(pattern)}", screen)
