"""Short by default; HYPOTHESIS_PROFILE=fuzz gives each test FUZZ_SECONDS (`make fuzz`)."""

from __future__ import annotations

import pytest
from fuzzing import LONG, SECONDS


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if LONG:
        for item in items:
            item.add_marker(pytest.mark.timeout(SECONDS + 120))
