"""An unkind world: every behaviour happens, and what stands wrongly is told by row and cause."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from fleet import FLEET, loaded

from voicecheck.checklist.resolved import Checklist
from voicecheck.errors import VoicecheckError
from voicecheck.measure.lacking import drop
from voicecheck.rehearsal import search, shrink, without_rows
from voicecheck.rehearsal.cast import MANNERS
from voicecheck.rehearsal.evidence import journal_of
from voicecheck.rehearsal.fast import FastLoop
from voicecheck.rehearsal.judge import Cause, Row, Wrong
from voicecheck.rehearsal.manners import CLEAR_EARS, UNKIND, UNKIND_EARS, Ears, Manners
from voicecheck.rehearsal.near_wordings import FILE, near_wordings
from voicecheck.rehearsal.outcome import Outcome
from voicecheck.rehearsal.proof import Terms, cast_of, play_fast
from voicecheck.rehearsal.proving import fast, merged, unkind, written
from voicecheck.rehearsal.tally import Tally, came_of, wrongly_good
from voicecheck.world.faults import Fault, FaultKind, possible
from voicecheck.world.truth import truly_bad

UNTESTED = {
    *(FaultKind.BUS_DEAD, FaultKind.BUS_STAYS_ON, FaultKind.ANY_POWER),
    *(FaultKind.OUT_EARLY, FaultKind.OUT_LATE, FaultKind.NEVER_OUT),
}
"""Of power and of time: `truly_bad` leaves these to others."""
SEEN_BESIDE = {FaultKind.LAMP_COLOUR, FaultKind.LAMP_EXTRA}
"""Called as something that the checklist does not expect."""


def wrongs(terms: Terms, sessions: int, registration: str) -> Iterator[Wrong]:
    for number in range(sessions):
        outcome = play_fast(loaded(registration), number, terms)
        assert outcome.crash is None, outcome.crash
        yield from outcome.judgement.good


def blocked(checklist: Checklist, item: str, bad: frozenset[str]) -> bool:
    """Whether an earlier stage is bad, so that nobody comes to call it."""
    stages = () if checklist.item(item).put_back else checklist.item(item).after
    return any(stage in bad or blocked(checklist, stage, bad) for stage in stages)


def test_every_behaviour_happens_and_something_comes_of_it() -> None:
    """At five times their rates, so that some sessions will do."""
    more = {name: min(0.3, 5 * rate) for name, rate in asdict(UNKIND).items()}
    ears = {name: min(0.2, 5 * rate) for name, rate in asdict(UNKIND_EARS).items()}
    manners = Manners(**(more | {"stop_short": 0.0, "wrong_airframe": 0.02, "abandon": 0.004}))
    terms = Terms("random", manners, Ears(**(ears | {"misheard": 0.2})), seed=7)
    tally, airframes = Tally(), sorted(FLEET)
    for number in range(90):
        tally.add(play_fast(loaded(airframes[number % len(airframes)]), number, terms))
    assert tally.crashes == 0
    rates = {**more, **ears}
    assert {name for name, rate in rates.items() if rate} - {"stop_short", "distracted"} <= set(
        tally.behaviours
    )
    rows = {row["behaviour"]: row for row in came_of("", tally).as_json()["rows"]}
    assert "words of another position" in rows
    for name, row in rows.items():
        stands = row["good"] + row["finding"] + row["open"] + row["no call after"]
        assert stands == row["generated"] > 0, name
    assert sum(row["asked"] for row in rows.values()) > 0


@pytest.mark.parametrize("registration", ["ZZ-HAB", "ZZ-HJC"])
def test_what_is_truly_bad_is_what_a_crew_that_reads_right_calls_bad(registration: str) -> None:
    checklist = loaded(registration).checklist
    terms = Terms("none", *MANNERS["perfect"], seed=3, two_crew=0.0)
    for fault in possible(checklist):
        if fault.kind in UNTESTED:
            continue
        judged = play_fast(loaded(registration), 1, replace(terms, faults=str(fault))).judgement
        bad = truly_bad(checklist, frozenset({fault}))
        first = {item for item in bad if not blocked(checklist, item, bad)}
        assert judged.good == (), fault
        if fault.kind not in SEEN_BESIDE:
            assert judged.called_bad == len(first) > 0, (fault, bad)
        elif fault.target not in ("FIRE L", "FIRE R"):  # of two loops that follow each other
            assert judged.called_bad > 0, fault


def test_no_fault_is_no_truth() -> None:
    checklist = loaded("ZZ-HJC").checklist
    assert truly_bad(checklist, frozenset()) == frozenset()
    dead = frozenset({Fault(FaultKind.BUS_DEAD, "battery")})
    assert truly_bad(checklist, dead) == frozenset()


def test_a_bad_item_that_the_crew_reads_as_good_is_its_own() -> None:
    terms = Terms("lamp-dim:FIRE L", Manners(overlook=1.0), CLEAR_EARS, seed=1, two_crew=0.0)
    (wrong,) = wrongs(terms, 1, "ZZ-HJC")
    assert (wrong.item, wrong.rows, wrong.cause) == ("fire.lights", (Row.TRULY_BAD,), Cause.CREW)
    assert "lamp-dim:FIRE L" in wrong.why


def test_a_wrong_colour_that_is_called_is_not_excused_for_what_else_is_bad() -> None:
    faults = "lamp-colour:FIRE L,lamp-dim:FIRE R"
    terms = Terms(faults, Manners(), CLEAR_EARS, seed=1, two_crew=0.0)
    assert list(wrongs(terms, 1, "ZZ-HJC")) == []
    seen = replace(terms, manners=Manners(overlook=0.5))
    found = [wrong for wrong in wrongs(seen, 12, "ZZ-HJC") if wrong.item == "fire.lights"]
    assert found
    assert all(Row.TRULY_BAD in wrong.rows for wrong in found)


def test_a_selector_that_is_not_where_it_was_called_is_not_in_force() -> None:
    """Loops A and B light the same lamps: what is seen of the one is called of the other."""
    manners = Manners(wrong_selector=0.5)
    found = list(wrongs(Terms("none", manners, CLEAR_EARS, seed=2), 20, "ZZ-HAB"))
    assert any("the selector was at" in wrong.why for wrong in found)
    assert {wrong.cause for wrong in found} == {Cause.CREW}


def test_a_bus_that_is_switched_and_not_called_is_not_in_force() -> None:
    manners = Manners(silent_switch=0.1)
    found = list(wrongs(Terms("none", manners, CLEAR_EARS, seed=2), 25, "ZZ-HAB"))
    assert any("was not as called" in wrong.why for wrong in found)
    assert {wrong.cause for wrong in found} == {Cause.CREW}


def test_a_wrong_hearing_is_read_back_and_only_an_inattentive_crew_lets_it_pass() -> None:
    faults = ",".join(f"lamp-dark:{it}" for it in ("fire.lights", "bleed.captions"))
    attentive = Terms(faults, Manners(), Ears(misheard=0.5), seed=4, two_crew=0.0)
    assert [w for w in wrongs(attentive, 30, "ZZ-HJC") if w.cause is not Cause.CREW] == []
    dozing = replace(attentive, manners=Manners(inattentive=0.5))
    causes = {wrong.cause for wrong in wrongs(dozing, 30, "ZZ-HJC")}
    assert Cause.PASSED in causes
    assert Cause.ENGINE not in causes


def test_what_is_taken_for_what_is_what_was_measured() -> None:
    """The file of the shipped checklists is what their words and the phone table give today."""
    from voicecheck.rehearsal.near_wordings import _computed

    computed = _computed([loaded("ZZ-HJC")])
    near = near_wordings(loaded("ZZ-HJC"))
    known = {words: [o for o in others if o[0] in computed] for words, others in near.items()}
    assert {words: list(map(tuple, others)) for words, others in known.items()} == computed
    assert json.loads(FILE.read_text("utf-8"))["battery on"] == [["battery off", 0.019]]


# How hard it looks -----------------------------------------------------------------------------


def test_a_fork_is_the_same_session_up_to_there_and_another_one_after() -> None:
    terms = unkind("unkind", 5, None, None)

    def events(*forks: tuple[int, int]) -> list[object]:
        cast = cast_of(loaded("ZZ-HJC"), 1, terms, forks)
        return list(
            FastLoop(loaded("ZZ-HJC").checklist, cast.crew, terms.ears, cast.chance).play().events
        )

    whole, one, other = events(), events((400, 1)), events((400, 2))
    assert events((400, 1)) == one
    assert whole != one != other
    same = [a == b for a, b in zip(one, other, strict=False)]
    assert all(same[:10])


def test_the_search_comes_nearer_than_chance() -> None:
    cast = [loaded("ZZ-HAB"), loaded("ZZ-HJC")]
    levels = list(search.search(cast, 25, unkind("unkind", 3, None, None), 1, levels=3))
    means = [sum(r.danger for r in level.reached) / len(level.reached) for level in levels]
    assert means == sorted(means)
    assert means[-1] > means[0] + 2
    rows = search.table("search", levels).as_json()["rows"]
    shares = [float(row["of all sessions"]) for row in rows]
    assert shares[0] == 1.0 > shares[-1] > 0
    assert all(row["by engine"] == 0 for row in rows)


def test_a_missing_row_is_found_and_what_shows_it_is_made_small(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drop("6.1", monkeypatch.setattr)
    terms, checklist = unkind("unkind", 1, None, None), loaded("ZZ-HAB").checklist
    for number in range(40):
        loops: list[FastLoop] = []
        outcome = play_fast(loaded("ZZ-HAB"), number, terms, (), FastLoop, loops.append)
        if any(wrong.cause is Cause.ENGINE for wrong in outcome.judgement.good):
            break
    events = loops[0].played.events
    (item, *_) = sorted(shrink.blamed(checklist, events))
    small = shrink.shrunk(events, lambda some: item in shrink.blamed(checklist, some))
    assert item in shrink.blamed(checklist, small)
    assert len(small) <= 16 < len(events)
    monkeypatch.undo()
    assert shrink.blamed(checklist, small) == frozenset()
    assert journal_of(outcome)


def test_a_row_that_is_missing_is_noticed_in_a_process_of_its_own() -> None:
    (noticed,) = without_rows.table(["6.1"], 60, 1, 1)
    assert (noticed.row, noticed.what) == ("6.1", "dangerous")
    assert play_fast(loaded("ZZ-HAA"), 1, unkind("unkind", 1, None, None)).crash is None


def test_a_row_that_there_is_not_is_told() -> None:
    with pytest.raises(VoicecheckError, match=r"99\.9: no such row of the rules; known are: "):
        drop("99.9", setattr)


# Counting and merging --------------------------------------------------------------------------


def test_counts_in_parts_are_the_counts_of_the_whole(tmp_path: Path) -> None:
    terms, cast = unkind("unkind", 9, 0.2, None), [loaded("ZZ-HAA"), loaded("ZZ-HJC")]
    told: list[Outcome] = []
    whole = fast(cast, 12, terms, 1, told.append)
    parts = (fast(cast, 6, terms, 1, told.append), fast(cast, 6, terms, 1, told.append, first=6))
    paths = [tmp_path / f"{n}.json" for n in range(2)]
    for path, part, first in zip(paths, parts, (0, 6), strict=True):
        written(path, {"first": first}, part)
    both = merged(paths)
    assert (both.sessions, both.items, both.behaviours) == (12, whole.items, whole.behaviours)
    assert both.asked == whole.asked
    with pytest.raises(VoicecheckError, match="the same sessions as another file"):
        merged([paths[0], paths[0]])
    paths[0].write_text("{}", "utf-8")
    with pytest.raises(VoicecheckError, match="not the result of a proof"):
        merged(paths)


def test_no_row_excuses_another() -> None:
    """One item in all three rows counts in each; a million sessions are told with their limits."""
    wrong = Wrong("gear.unsafe", "", Cause.HEARING, tuple(Row))
    outcome = play_fast(loaded("ZZ-HAA"), 1, Terms("none", *MANNERS["perfect"], seed=1))
    tally = Tally()
    tally.add(replace(outcome, judgement=replace(outcome.judgement, good=(wrong,))))
    tally.add(outcome)
    rows = wrongly_good("", tally).as_json()["rows"]
    assert [row["items"] for row in rows] == [1, 1, 1, 1]
    assert {row["by hearing: items (sessions)"] for row in rows} == {"1 (1)"}
    assert rows[0]["sessions in a million"].startswith("5e+05 [")
