"""In the mutation check the written dialogues come first: they notice most, and soonest.

WITHOUT_ROW=4.2 runs the tests on an engine that lacks that row: those that fail prove it.
"""

from __future__ import annotations

import os

import pytest

from voicecheck.measure.lacking import drop


@pytest.fixture(autouse=True)
def _without_row(monkeypatch: pytest.MonkeyPatch) -> None:
    if number := os.environ.get("WITHOUT_ROW"):
        drop(number, monkeypatch.setattr)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if os.environ.get("HYPOTHESIS_PROFILE") == "mutation":
        items.sort(key=lambda item: "test_dialogues" not in item.nodeid)
