"""`voicecheck log trend|fleet|export`: across sessions and airframes."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from voicecheck.cli.groups import grouped
from voicecheck.cli.log_options import (
    Airframe,
    AsJson,
    Book,
    To,
    moment_of,
    told,
)
from voicecheck.cli.screen import print_line
from voicecheck.errors import VoicecheckError
from voicecheck.logbook import export as export_
from voicecheck.logbook.outcome import result_of
from voicecheck.logbook.wording import clean, joined, named
from voicecheck.words import say

if TYPE_CHECKING:
    from voicecheck.logbook.context import Airframe as Airframe_
    from voicecheck.logbook.context import History


@grouped
def trend(
    airframe: Annotated[str, typer.Argument(metavar="REG", help="Registration.")],
    book: Book,
    to: To,
    as_json: AsJson = False,
) -> None:
    """How one airframe's timed windows and results run from session to session.

    --out FILE.html writes a page with control charts.
    """
    with told():
        book.require()
        from voicecheck.logbook.pages import history_page
        from voicecheck.logbook.store.looking import history

        now = moment_of(None)
        with book.reading() as connection:
            found = history(connection, airframe, now)
        to.write(lambda: history_page(found))
    if as_json:
        print(json.dumps(_as_json(found), ensure_ascii=False))
    elif to.out is not None:
        print(to.out)
    else:
        _print(found)


@grouped
def fleet(book: Book, to: To, as_json: AsJson = False) -> None:
    """Which airframe is due, what is open on each, and how its timed windows drift."""
    with told():
        book.require()
        from voicecheck.logbook.pages import fleet_page
        from voicecheck.logbook.store.looking import fleet as gather

        now = moment_of(None)
        with book.reading() as connection:
            airframes = gather(connection, now)
        to.write(lambda: fleet_page(airframes, now))
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
    elif to.out is not None:
        print(to.out)
    else:
        for entry in airframes:
            print_line(clean(f"{entry.registration}  {_state(entry)}"))
        print_line(say("caution"))


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
    last = say("fleet-line-last", when=entry.last.started, result=result_of(entry.last))
    return say("row-facts-between").join((line, last))


@grouped
def export(
    what: Annotated[str, typer.Argument(metavar="|".join(export_.WHAT), help="Which rows.")],
    *,
    book: Book,
    airframe: Airframe = None,
    kind: Annotated[
        str, typer.Option("--format", metavar="csv|json", help="How they are written.")
    ] = "csv",
    to: To,
) -> None:
    """Write everything filed as rows for other programs, to FILE or to standard output."""
    with told():
        if what not in export_.WHAT:
            raise VoicecheckError(f"{what}: unknown; choose {', '.join(export_.WHAT)}")
        if kind not in ("csv", "json"):
            raise VoicecheckError(f"--format {kind}: unknown; choose csv or json")
        book.require()
        from voicecheck.logbook.store.exporting import rows_of

        with book.reading() as connection:
            rows = rows_of(connection, what, airframe, moment_of(None))
        made = export_.as_csv(rows) if kind == "csv" else export_.as_json(what, rows)
        to.write(lambda: made)
    if to.out is None:
        sys.stdout.write(made)
    else:
        print(to.out)


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
        told = " ".join(sentences(entry))
        print_line(clean(say("trend-line", item=entry.item, sentences=told)))
    if not context.trends:
        print_line(clean(say("trend-no-window", airframe=context.airframe)))
    for tally in found.tallies:
        counts = joined(
            say("trend-count", n=count, what=named("outcome", name))
            for name, count in tally.outcomes.items()
        )
        last = named("outcome", tally.last)
        print_line(clean(say("trend-results", item=tally.item, counts=counts, last=last)))
    for repeat in context.repeats:
        print_line(clean(say("repeated-line", line=line_of(repeat, context.now))))
    print_line(say("caution"))
