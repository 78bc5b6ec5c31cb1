"""Debian's Chromium, driven headless."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service


@contextmanager
def browser(folder: Path) -> Iterator[webdriver.Chrome]:
    """A browser whose profile is in `folder`; fails where Debian's packages are missing."""
    programs = {name: shutil.which(name) for name in ("chromium", "chromedriver")}
    assert all(programs.values()), "no Chromium; .ci/system-packages test installs it"
    options = Options()
    options.binary_location = str(programs["chromium"])
    for word in (
        "--headless=new",
        "--no-sandbox",  # root in a container; only our own pages are opened
        "--disable-gpu",
        "--disable-dev-shm-usage",
        "--window-size=1000,1400",
        f"--user-data-dir={folder / 'profile'}",
    ):
        options.add_argument(word)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(str(programs["chromedriver"])))
    driver.set_page_load_timeout(60)
    try:
        yield driver
    finally:
        driver.quit()
