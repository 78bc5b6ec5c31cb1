"""``voicecheck measure phones|wordings|endpoint|word-times``: the parts of hearing one by one."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from voicecheck.checklist.loader import load_checklist
from voicecheck.cli.screen import write_text
from voicecheck.cli.sound import Second
from voicecheck.cli.tables import AsJson, show
from voicecheck.language import load_language
from voicecheck.measure import endpoint_delay, phone_confusions, word_placement, wording_confusions
from voicecheck.session.places import cache_dir
from voicecheck.shipped import checklists_dir, grammars_dir
from voicecheck.speech.confusion import packaged_file

TYPES = (("tarn-40", "ZZ-HAB"), ("skerry-j2", "ZZ-HJD"))
"""The airframes of the shipped types that have the most fitted."""

Voices = Annotated[
    int | None, typer.Option(min=1, help="Only this many voices: quicker, and less sure.")
]


def phones(
    write: Annotated[
        bool, typer.Option("--write", help="Put the result where `validate` and the ear read it.")
    ] = False,
    words: Annotated[
        int, typer.Option(min=1, help="Words of the dictionary, by lot.")
    ] = phone_confusions.WORDS,
    voices: Voices = None,
    as_json: AsJson = False,
) -> None:
    """Which phones the recogniser takes for which, over many voices (some 20 minutes)."""
    talkers = phone_confusions.TALKERS[:voices]
    made, table = phone_confusions.measure_phones(words, talkers, tell=_tell)
    if write:
        write_text(packaged_file(), made.as_json(), "use a checkout")
    show([table], as_json=as_json)


def wordings(voices: Voices = None, as_json: AsJson = False) -> None:
    """How often wordings are taken for each other, by their distance: what the limit rests on."""
    loaded = [
        load_checklist(type_id, airframe, shipped=checklists_dir(), grammars=grammars_dir())
        for type_id, airframe in TYPES
    ]
    table = wording_confusions.measure_wordings(
        [one.checklist for one in loaded],
        load_language(grammars_dir() / "en"),
        wording_confusions.TALKERS[:voices],
        tell=_tell,
    )
    show([table], as_json=as_json)


def endpoint(
    voices: Voices = None,
    second_listener: Second = "auto",
    as_json: AsJson = False,
) -> None:
    """How long after the end of speech an utterance is known to be over, and what was cut."""
    talkers = endpoint_delay.TALKERS[:voices]
    table = endpoint_delay.measure_endpoint(talkers, second=second_listener, cache=cache_dir())
    show([table], as_json=as_json)


def word_times(voices: Voices = None, as_json: AsJson = False) -> None:
    """Error of the start and end of recognised words against where they were placed."""
    table = word_placement.measure_words(word_placement.TALKERS[:voices])
    show([table], as_json=as_json)


def _tell(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
