"""``voicecheck measure``: tables of what was measured here and now, never a verdict."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Final

import typer

from voicecheck.cli.measure_hearing import calibrate, callouts, corpus, make_corpus, peers
from voicecheck.cli.tables import AsJson, show
from voicecheck.measure.engine_speed import EVENTS, measure_engine
from voicecheck.measure.table import Table

QUICK: Final[tuple[Callable[[], Table], ...]] = (measure_engine,)
"""What runs when no measurement is named: each in well under a minute."""

app = typer.Typer(
    name="measure",
    help="Measure voicecheck on this machine; without a name, every quick measurement in turn.",
    no_args_is_help=False,
    rich_markup_mode=None,
)


@app.callback(invoke_without_command=True)
def measure(context: typer.Context, as_json: AsJson = False) -> None:
    """Measure voicecheck on this machine; without a name, every quick measurement in turn."""
    if context.invoked_subcommand is None:
        show((quick() for quick in QUICK), as_json=as_json)


@app.command()
def engine(
    events: Annotated[int, typer.Option(min=2, help="Events in each session.")] = EVENTS,
    as_json: AsJson = False,
) -> None:
    """Speed of the engine on a usual and on a very large checklist, early and late in a session."""
    show([measure_engine(events)], as_json=as_json)


app.command()(callouts)
app.command("make-corpus")(make_corpus)
app.command()(corpus)
app.command()(calibrate)
app.command()(peers)
