"""``voicecheck measure``: tables of what was measured here and now, never a verdict."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Final

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.cli.measure_hearing import calibrate, callouts, corpus, make_corpus, peers
from voicecheck.cli.measure_sounds import endpoint, phones, word_times, wordings
from voicecheck.cli.measure_states import limits_of, progress, wanted_checklists
from voicecheck.cli.sound import Second
from voicecheck.cli.tables import AsJson, show
from voicecheck.measure.engine_speed import EVENTS, measure_engine
from voicecheck.measure.latency import measure_latency
from voicecheck.measure.soak import HOURS, measure_soak
from voicecheck.measure.states.explore import SEED, explore_fleet
from voicecheck.measure.states.explore import table as states_table
from voicecheck.measure.table import Table
from voicecheck.measure.timed_lamps import LAMPS, measure_timing
from voicecheck.measure.timed_lamps import SEED as TIMING_SEED

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


@app.command()
def states(
    checklist: Annotated[
        str | None, typer.Argument(help="A type; without one, the whole shipped fleet.")
    ] = None,
    airframe: Annotated[
        list[str] | None, typer.Option(metavar="REG", help="Only this one; may be repeated.")
    ] = None,
    depth: Annotated[
        str,
        typer.Option(
            metavar="quick|full|endless", help="A minute, ten, or to the last state (hours)."
        ),
    ] = "quick",
    sessions: Annotated[int, typer.Option(min=0, help="Long sessions of each airframe.")] = 30,
    seed: Annotated[int, typer.Option(help="What the long sessions are drawn from.")] = SEED,
    jobs: Annotated[int, typer.Option(min=1, help="How many processes, side by side.")] = 1,
    as_json: AsJson = False,
) -> None:
    """Walk the engine's states with every callout, time and losses; check what must never be.

    Exit status 1 when something is wrong: each problem is printed with the events that lead to
    it.
    """
    wanted = wanted_checklists(checklist, airframe or [])
    limits = limits_of(depth)
    rows = explore_fleet(wanted, limits, sessions=sessions, seed=seed, jobs=jobs, said=progress)
    show([states_table(rows)], as_json=as_json)
    if any(row.problems for row in rows):
        raise typer.Exit(1)


@app.command()
def timing(
    lamps: Annotated[int, typer.Option(min=100, help="Lamps in each row.")] = LAMPS,
    seed: Annotated[int, typer.Option(help="What the lamps are drawn from.")] = TIMING_SEED,
    as_json: AsJson = False,
) -> None:
    """Lamps whose true time is known, called by a modelled hand and voice: what is judged wrongly.

    By voice and by touch, with the default allowance and with a call at the detent.
    """
    show([measure_timing(lamps, seed)], as_json=as_json)


@app.command()
def latency(
    callouts: Annotated[int, typer.Option(min=2, help="Callouts in each of two sessions.")] = 40,
    second_listener: Second = "auto",
    as_json: AsJson = False,
) -> None:
    """From the end of a callout to the answer's sound, on a virtual sound card, in real time."""
    show([measure_latency(callouts, second_listener)], as_json=as_json)


@app.command()
def soak(
    hours: Annotated[float, typer.Option(min=0.02, help="Hours of stream time.")] = HOURS,
    second_listener: Second = "off",
    as_json: AsJson = False,
) -> None:
    """Memory, files and threads over a day of listening at accelerated pace."""
    screen = Console(stderr=True, highlight=False)
    table = measure_soak(hours, second_listener, lambda done: screen.print(Text(done)))
    show([table], as_json=as_json)


@app.command()
def speaker(second_listener: Second = "auto", as_json: AsJson = False) -> None:
    """A whole session through an open speaker, the crew talking over prompts, in real time."""
    from voicecheck.measure.open_speaker import measure_open_speaker

    show([measure_open_speaker(second_listener)], as_json=as_json)


@app.command()
def page(
    changes: Annotated[int, typer.Option(min=10, help="Changes of the picture.")] = 150,
    as_json: AsJson = False,
) -> None:
    """Delay from an effect to the pixels of the kneeboard page; needs chromium and selenium."""
    from voicecheck.measure.page_delay import measure_page

    show([measure_page(changes)], as_json=as_json)


@app.command()
def logbook(
    sessions: Annotated[
        list[int] | None, typer.Option(min=200, help="Sizes, smallest first; may be repeated.")
    ] = None,
    database: Annotated[
        str | None, typer.Option(metavar="URL", help="An empty database instead of SQLite.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """How long the logbook takes to answer with 1,000, 10,000 and 100,000 sessions."""
    from voicecheck.measure.logbook_growth import SIZES, measure_logbook

    show([measure_logbook(tuple(sessions or SIZES), database)], as_json=as_json)


app.command()(callouts)
app.command("make-corpus")(make_corpus)
app.command()(corpus)
app.command()(phones)
app.command()(wordings)
app.command()(endpoint)
app.command("word-times")(word_times)
app.command()(calibrate)
app.command()(peers)
