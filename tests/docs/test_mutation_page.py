"""The figures of the mutation check, from results as mutmut 3.8 writes them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from mutation_page import BEGIN, END, figures, read_statuses, replaced, write
from voicecheck.errors import VoicecheckError


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Exit status 1: a test failed; 0: none did; 33: none was run; -24: too long."""
    engine = tmp_path / "voicecheck" / "engine"
    engine.mkdir(parents=True)
    codes = {
        "power": {"x_needs__mutmut_1": 1, "x_needs__mutmut_2": 0, "x_ask__mutmut_1": -24},
        "engine": {"xǁEngineǁhandle__mutmut_3": 33, "x__time_of__mutmut_1": None},
        "state": {},
    }
    for name, mutants in codes.items():
        by_key = {f"voicecheck.engine.{name}.{key}": code for key, code in mutants.items()}
        text = json.dumps({"exit_code_by_key": by_key})
        (engine / f"{name}.py.meta").write_text(text, "utf-8")
    return tmp_path


def test_every_fault_is_counted_once_and_survivors_are_named(folder: Path) -> None:
    lines = figures(read_statuses(folder), "made with").splitlines()
    assert "| `power.py` | 3 | 0 | 1 | 1 | 1 | 66.7 |" in lines
    assert "| `engine.py` | 2 | 1 | 0 | 0 | 1 | 0.0 |" in lines
    assert "| all | 5 | 1 | 1 | 1 | 2 | 50.0 |" in lines
    assert lines[-1] == "Survived: `engine.Engine.handle 3`, `power.needs 2`."


def test_only_the_figures_of_the_page_change() -> None:
    page = f"before\n{BEGIN}\nold\n{END}\nafter\n"
    assert replaced(page, "new") == f"before\n{BEGIN}\nnew\n{END}\nafter\n"


def test_a_page_without_a_place_for_figures_is_refused() -> None:
    with pytest.raises(VoicecheckError, match="lacks"):
        replaced(f"before\n{BEGIN}\nafter", "new")


def test_without_results_the_remedy_is_named(tmp_path: Path) -> None:
    with pytest.raises(VoicecheckError, match="make mutation"):
        read_statuses(tmp_path)


def test_half_a_result_is_told_with_its_file(folder: Path) -> None:
    (folder / "voicecheck" / "engine" / "power.py.meta").write_text('{"exit_code', "utf-8")
    with pytest.raises(VoicecheckError, match=r"power\.py\.meta: .*remove it"):
        read_statuses(folder)


def test_the_page_is_written_and_a_missing_one_told(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mutation_page.version", lambda _: "3.8.1")
    monkeypatch.setenv("PATH", "")  # no git either
    with pytest.raises(VoicecheckError, match="cannot be read"):
        write(tmp_path / "none.md", folder)
    page = tmp_path / "mutation.md"
    page.write_text(f"before\n{BEGIN}\n{END}\nafter\n", "utf-8")
    write(page, folder)
    text = page.read_text("utf-8")
    assert "commit unknown." in text
    assert "| all | 5 | 1 | 1 | 1 | 2 | 50.0 |" in text
    assert text.endswith(f"{END}\nafter\n")
