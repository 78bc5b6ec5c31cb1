"""One browser for all tests of the pages: starting one takes longer than a test."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from stage import Browser
from stage import browser as opened_browser


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with opened_browser() as found:
        yield found
