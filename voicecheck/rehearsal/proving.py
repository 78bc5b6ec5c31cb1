"""Many sessions without sound, on several processors, counted, written down and merged.

``python -m voicecheck.rehearsal.proving`` needs nothing but what checklists and engine need, so
that it runs on a machine with many processors and no sound; `voicecheck rehearse --proof` prints
the same tables.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Final

from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.measure.table import Table
from voicecheck.rehearsal.cast import SHIPPED, airframes, manners_named
from voicecheck.rehearsal.evidence import keep
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms, play_fast
from voicecheck.rehearsal.tally import Tally, came_of, table, wrongly_good
from voicecheck.world.processes import side_by_side

SHARE: Final = 100
"""Sessions that a processor takes at a time."""
KEPT: Final = 200
"""Sessions in which something went wrong that are written out in full."""
Tell = Callable[[Outcome], None]


def fast(
    cast: list[Loaded], sessions: int, terms: Terms, jobs: int | None, tell: Tell, first: int = 0
) -> Tally:
    """Sessions without sound, the airframes in turn. tell: called for whatever went wrong.

    jobs: processes; None: one for each processor. first: number of the first session.
    """
    tally, end = Tally(), first + sessions
    parts = [range(at, min(at + SHARE, end)) for at in range(first, end, SHARE)]
    for part, wrong in side_by_side(partial(_share, cast, terms), parts, jobs):
        tally.merge(part)
        for outcome in wrong:
            tell(outcome)
    return tally


def _share(cast: list[Loaded], terms: Terms, part: range) -> tuple[Tally, list[Outcome]]:
    tally, wrong = Tally(), []
    for number in part:
        outcome = play_fast(cast[number % len(cast)], number, terms)
        tally.add(outcome)
        if outcome.is_wrong:
            wrong.append(outcome)
    return tally, wrong


def tables(title: str, tally: Tally) -> tuple[Table, ...]:
    """All that a proof shows."""
    return (
        table(title, {"words alone": tally}),
        wrongly_good("what stands as good and should not", tally),
        came_of("behaviours", tally),
    )


def written(path: Path, terms: dict[str, Any], tally: Tally) -> None:
    """Write a tally with its terms. Raises VoicecheckError."""
    text = json.dumps({"terms": terms, "tally": tally.as_json()}, indent=1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text + "\n", "utf-8")
    except OSError as error:
        raise VoicecheckError(
            f"{path}: the result cannot be written ({error.strerror}); name another file"
        ) from None


def merged(paths: Sequence[Path]) -> Tally:
    """The tallies of files together. Raises VoicecheckError."""
    tally, seen = Tally(), set[str]()
    for path in paths:
        try:
            data = json.loads(path.read_text("utf-8"))
            part, terms = Tally.from_json(data["tally"]), json.dumps(data["terms"])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise VoicecheckError(f"{path}: not the result of a proof ({error})") from None
        if terms in seen:
            raise VoicecheckError(f"{path}: the same sessions as another file; leave it out")
        seen.add(terms)
        tally.merge(part)
    return tally


def main() -> None:
    """The proof on a machine without sound; see `--help`."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first session")
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--crew", default="unkind")
    parser.add_argument("--inattention", type=float, help="instead of the crew's own rate")
    parser.add_argument("--without", help="number of a row of the rules to take away")
    parser.add_argument("--out", type=Path, help="FILE.json")
    parser.add_argument("--keep", type=Path, default=Path("out/proof"))
    parser.add_argument("--merge", type=Path, nargs="+", help="files to put together")
    given = parser.parse_args()
    terms = unkind(given.crew, given.seed, given.inattention, given.without)
    kept = [0]

    def tell(outcome: Outcome) -> None:
        judged = outcome.judgement
        if outcome.crash or judged.dangerous:
            kept[0] += 1
            told = outcome.crash or "; ".join(f"{w.item} ({w.cause}): {w.why}" for w in judged.good)
            print(outcome.registration, outcome.number, told, flush=True)
            if kept[0] <= KEPT:
                keep(outcome, given.keep)

    began = time.monotonic()
    if given.merge:
        tally = merged(given.merge)
    else:
        cast = airframes(SHIPPED, None)
        tally = fast(cast, given.sessions, terms, given.processes, tell, given.first)
    facts = {key: str(value) for key, value in vars(given).items() if key not in ("out", "keep")}
    if given.out:
        written(given.out, facts, tally)
    print(f"{time.monotonic() - began:.0f} s, {tally.work.total / max(1, tally.sessions):.4f} each")
    for key, count in sorted(tally.in_sessions.items()):
        print(f"{count:9d} sessions, {tally.items[key]:9d} items: {key}")
    for name, counts in sorted(tally.behaviours.items()):
        print(f"{name:28s}", *(f"{count:9d}" for count in counts))


def unkind(crew: str, seed: int, inattention: float | None, without: str | None) -> Terms:
    """The terms of a proof. inattention: instead of the crew's own. Raises VoicecheckError."""
    manners, ears = manners_named(crew)
    if inattention is not None:
        manners = replace(manners, inattentive=inattention)
    return Terms("random", manners, ears, seed, without=without)


if __name__ == "__main__":
    main()
