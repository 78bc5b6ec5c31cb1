"""The engine's measurement: an honest load, and a table that says what it claims. Never timed."""

from __future__ import annotations

import json
from collections import Counter

import pytest
from typer.testing import CliRunner

from voicecheck.caution import CAUTION
from voicecheck.checklist.resolved import Checklist
from voicecheck.cli import app
from voicecheck.engine import Engine
from voicecheck.engine.effects import Note
from voicecheck.engine.events import Began, Heard
from voicecheck.measure.engine_speed import COLUMNS, SIZES, Speed, measure_engine, time_session
from voicecheck.measure.invented_type import invented_checklist
from voicecheck.measure.long_session import events_of


@pytest.fixture(scope="module")
def checklist() -> Checklist:
    return invented_checklist(12, 40)


@pytest.mark.parametrize(("positions", "items"), [(1, 1), (3, 7), (12, 40), (50, 500)])
def test_an_invented_type_has_the_size_that_was_asked_for(positions: int, items: int) -> None:
    made = invented_checklist(positions, items)
    assert len(made.positions) == positions + 1  # and the rest position
    assert len(made.items) == items
    assert all(position.items for position in made.positions[:-1])


def test_a_large_invented_type_has_every_kind_of_item() -> None:
    items = invented_checklist(50, 500).items
    assert any(item.window for item in items)
    assert any(item.after and not item.window for item in items)
    assert any(item.darks for item in items)


def test_the_long_session_is_made_of_callouts_that_count(checklist: Checklist) -> None:
    """A load that the engine merely refuses would measure nothing."""
    engine = Engine(checklist)
    events = list(events_of(checklist, 1500))
    assert len(events) == 1500
    assert isinstance(events[0], Began)
    assert Counter(isinstance(event, Heard) for event in events)[True] > 450
    kinds: Counter[str] = Counter()
    for event in events:
        for effect in engine.handle(event):
            if isinstance(effect, Note):
                kinds[effect.kind] += 1
    assert not {"not-on-offer", "refused", "left-early", "denied"} & kinds.keys()
    assert kinds["result"] > 250
    assert kinds["finding"] > 30
    records = engine.state.records.values()
    assert len(records) == len(checklist.items)
    outcomes = {result.outcome for r in records for result in (r.now, *r.past) if result}
    assert outcomes == {"satisfactory", "unsatisfactory"}, "nothing void, timed lamps in time"
    assert engine.phase not in ("starting", "finished")


def test_first_and_last_are_the_ends_of_the_session() -> None:
    short = Speed((1.0, 2.0, 3.0, 6.0), "x")
    assert (short.first, short.last, short.worst) == (1.5, 4.5, 6.0)
    assert short.events_per_second == pytest.approx(1 / 3)
    long = Speed((1.0,) * 1000 + (9.0,) * 8000 + (2.0,) * 1000, "x")
    assert (long.first, long.last) == (1.0, 2.0)


def test_each_event_is_timed(checklist: Checklist) -> None:
    speed = time_session(checklist, list(events_of(checklist, 50)))
    assert len(speed.seconds) == 50
    assert all(seconds > 0 for seconds in speed.seconds)


def test_the_table() -> None:
    table = measure_engine(40)
    assert table.columns == COLUMNS
    assert [row[:3] for row in table.rows] == [(p, i, 40) for p, i in SIZES]
    for row in table.rows:
        assert [type(cell) for cell in row] == [int, int, int, int, float, str, float, float, float]


def test_the_command_states_machine_and_figures() -> None:
    shown = CliRunner().invoke(app, ["measure", "engine", "--events", "40"])
    assert shown.exit_code == 0, shown.output
    assert "Python 3." in shown.stdout.splitlines()[0]
    for column in COLUMNS:
        assert column in shown.stdout, "no heading is cut off on a narrow screen"
    assert shown.stdout.endswith(f"{CAUTION}\n")


def test_the_machine_readable_result() -> None:
    told = CliRunner().invoke(app, ["measure", "engine", "--events", "40", "--json"])
    result = json.loads(told.stdout)
    assert result["caution"] == CAUTION
    assert set(result["machine"]) == {"cpu", "cores", "system", "python", "voicecheck"}
    assert all(result["machine"].values())
    (measurement,) = result["measurements"]
    assert [tuple(row) for row in measurement["rows"]] == [COLUMNS, COLUMNS]


def test_without_a_name_every_quick_measurement_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    from voicecheck.cli import measure

    monkeypatch.setattr(measure, "QUICK", (lambda: measure_engine(10), lambda: measure_engine(20)))
    told = CliRunner().invoke(app, ["measure", "--json"])
    assert told.exit_code == 0, told.output
    events = [m["rows"][0]["events"] for m in json.loads(told.stdout)["measurements"]]
    assert events == [10, 20]
    assert CliRunner().invoke(app, ["measure"]).stdout.count("engine: speed") == 2


def test_a_session_too_short_to_compare_is_refused() -> None:
    assert CliRunner().invoke(app, ["measure", "engine", "--events", "1"]).exit_code == 2
