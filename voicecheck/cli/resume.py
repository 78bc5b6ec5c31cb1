"""``voicecheck resume``: go on with a session that was cut off."""

from __future__ import annotations

from typing import Annotated

import typer

from voicecheck.cli.completion import sessions
from voicecheck.cli.groups import grouped
from voicecheck.cli.whole_session import Given, Heard, ResultAsJson, begin, go
from voicecheck.session.places import cache_dir
from voicecheck.session.resume import resume as resume_session


@grouped
def resume(
    session: Annotated[
        str,
        typer.Argument(
            help="Session id, the beginning of one, or latest.", autocompletion=sessions
        ),
    ] = "latest",
    *,
    heard: Heard,
    given: Given,
    as_json: ResultAsJson = False,
) -> None:
    """Go on at the item where a session was cut off, and read back what stands.

    Timed lights that were running are to be repeated. Exit status as for `run`.
    """
    console = begin(heard, given, as_json=as_json)
    go(
        heard,
        given,
        console,
        lambda wanted, log, display, keys, touches: resume_session(
            log, session, wanted, cache_dir(), display, keys, touches
        ),
        as_json=as_json,
    )
