"""In the mutation check the written dialogues come first: they notice most, and soonest."""

from __future__ import annotations

import os

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if os.environ.get("HYPOTHESIS_PROFILE") == "mutation":
        items.sort(key=lambda item: "test_dialogues" not in item.nodeid)
