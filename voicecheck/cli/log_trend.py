"""`voicecheck log trend|fleet|export`: across sessions and airframes."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.text import Text

from voicecheck.cli.log_options import (
    Airframe,
    AsJson,
    Force,
    Log,
    Out,
    Url,
    moment_of,
    opened,
    put,
    require_log,
    told,
)
from voicecheck.errors import VoicecheckError
from voicecheck.logbook import export as export_
from voicecheck.logbook.wording import clean, joined, named
from voicecheck.words import say

if TYPE_CHECKING:
    from voicecheck.logbook.context import Airframe as Airframe_
    from voicecheck.logbook.context import History


def trend(
    airframe: Annotated[str, typer.Argument(metavar="REG", help="Registration.")],
    log: Log = None,
    database: Url = None,
    out: Out = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """How one airframe's timed windows and results run from session to session.

    --out FILE.html writes a page with control charts.
    """
    with told():
        require_log(log, database)
        from voicecheck.logbook.pages import history_page
        from voicecheck.logbook.store.looking import history

        now = moment_of(None)
        with opened(log, database) as book, book.reading() as connection:
            found = history(connection, airframe, now)
        if out is not None:
            put(out, history_page(found), force=force)
    if as_json:
        print(json.dumps(_as_json(found), ensure_ascii=False))
    elif out is not None:
        print(out)
    else:
        _print(found)


def fleet(
    log: Log = None, database: Url = None, out: Out = None, force: Force = False,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Which airframe is due, what is open on each, and how its timed windows drift."""
    with told():
        require_log(log, database)
        from voicecheck.logbook.pages import fleet_page
        from voicecheck.logbook.store.looking import fleet as gather

        now = moment_of(None)
        with opened(log, database) as book, book.reading() as connection:
            airframes = gather(connection, now)
        if out is not None:
            put(out, fleet_page(airframes, now), force=force)
    if as_json:
        rows = [
            {
                "registration": entry.registration,
                "type": entry.type,
                "operator": entry.operator,
                "last": asdict(entry.last) if entry.last is not None else None,
                "open": entry.open,
                "deferred": entry.deferred,
                "overdue": entry.overdue,
                "due": entry.due.isoformat() if entry.due is not None else None,
            }
            for entry in airframes
        ]
        print(json.dumps({"caution": say("caution"), "rows": rows}, ensure_ascii=False))
    elif out is not None:
        print(out)
    else:
        for entry in airframes:
            _say(f"{entry.registration}  {_state(entry)}")
        _say(say("caution"))


def _state(entry: Airframe_) -> str:
    """What is open on an airframe and how it was last, in one line."""
    told = [
        say("fleet-line-open", n=entry.open),
        say("fleet-line-deferred", n=entry.deferred),
    ]
    if entry.due is not None:
        told.append(say("fleet-line-due", when=entry.due))
    if entry.overdue:
        told.append(say("fleet-past-due", n=entry.overdue))
    line = joined(told)
    if entry.last is None:
        return line
    last = say("fleet-line-last", when=entry.last.started, result=entry.last.result)
    return say("row-facts-between").join((line, last))


def export(
    what: Annotated[str, typer.Argument(metavar="|".join(export_.WHAT), help="Which rows.")],
    log: Log = None,
    database: Url = None,
    airframe: Airframe = None,
    kind: Annotated[
        str, typer.Option("--format", metavar="csv|json", help="How they are written.")
    ] = "csv",
    out: Out = None,
    force: Force = False,
) -> None:
    """Write everything filed as rows for other programs, to FILE or to standard output."""
    with told():
        if what not in export_.WHAT:
            raise VoicecheckError(f"{what}: unknown; choose {', '.join(export_.WHAT)}")
        if kind not in ("csv", "json"):
            raise VoicecheckError(f"--format {kind}: unknown; choose csv or json")
        require_log(log, database)
        from voicecheck.logbook.store.exporting import rows_of

        with opened(log, database) as book, book.reading() as connection:
            rows = rows_of(connection, what, airframe, moment_of(None))
        made = export_.as_csv(rows) if kind == "csv" else export_.as_json(what, rows)
        if out is not None:
            put(out, made, force=force)
    if out is None:
        sys.stdout.write(made)
    else:
        print(out)


def _as_json(found: History) -> dict[str, object]:
    context = found.context
    return {
        "caution": say("caution"),
        "airframe": context.airframe,
        "trends": [
            {
                "item": entry.item,
                "lower": entry.lower,
                "upper": entry.upper,
                "points": [asdict(point) for point in entry.points],
                "present_run_from": entry.run,
                "unmeasured": entry.unmeasured,
                "limits": asdict(entry.limits) if entry.limits is not None else None,
                "slope": asdict(entry.line) if entry.line is not None else None,
                "reach": _finite(asdict(entry.reach)) if entry.reach is not None else None,
                "signals": list(entry.signals),
                "range_signals": list(entry.range_signals),
            }
            for entry in context.trends
        ],
        "results": [asdict(tally) for tally in found.tallies],
        "repeats": [export_.discrepancy_row(entry, context.now) for entry in context.repeats],
    }


def _finite(values: dict[str, float]) -> dict[str, float | None]:
    """JSON has no infinity: a limit that is never met has no day."""
    return {key: value if value != float("inf") else None for key, value in values.items()}


def _print(found: History) -> None:
    from voicecheck.logbook.open_items import line_of
    from voicecheck.logbook.trend.words import sentences

    context = found.context
    for entry in context.trends:
        _say(say("trend-line", item=entry.item, sentences=" ".join(sentences(entry))))
    if not context.trends:
        _say(say("trend-no-window", airframe=context.airframe))
    for tally in found.tallies:
        counts = joined(
            say("trend-count", n=count, what=named("outcome", name))
            for name, count in tally.outcomes.items()
        )
        last = named("outcome", tally.last)
        _say(say("trend-results", item=tally.item, counts=counts, last=last))
    for repeat in context.repeats:
        _say(say("repeated-line", line=line_of(repeat, context.now)))
    _say(say("caution"))


def _say(text: str) -> None:
    Console(highlight=False).print(Text(clean(text)), soft_wrap=True)


def add_to(app: typer.Typer) -> None:
    """Add these commands to `log`."""
    for command in (trend, fleet, export):
        app.command()(command)
