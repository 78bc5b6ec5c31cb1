"""axe-core in a page: what is wrong with it for those who see, hear or move differently.

axe-core (Deque, MPL 2.0) checks WCAG 2.2 rules; the copy comes from the package
axe-playwright-python, whose own driver is not used.
"""

from __future__ import annotations

import functools
import importlib.util
from pathlib import Path
from typing import Any

from stage import Browser

# Rules of WCAG 2.0 to 2.2, A and AA, and axe's best practices; contrast of level AAA apart.
_OPTIONS = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],
}
_ENHANCED = {"runOnly": {"type": "rule", "values": ["color-contrast-enhanced"]}}


@functools.cache
def _source() -> str:
    found = importlib.util.find_spec("axe_playwright_python")
    assert found is not None
    assert found.origin is not None
    return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")


def violations(browser: Browser) -> list[str]:
    """Rule and first element of each violation in the page."""
    return _run(browser, "document", _OPTIONS)


def too_faint(browser: Browser, *selectors: str) -> list[str]:
    """What in these elements falls short of WCAG 1.4.6 (level AAA): 7:1, large text 4.5:1."""
    include = [
        [s] for s in selectors if browser.js("return !!document.querySelector(arguments[0])", s)
    ]
    assert include
    return _run(browser, {"include": include}, _ENHANCED)


def _run(browser: Browser, context: Any, options: dict[str, Any]) -> list[str]:
    if not browser.js("return 'axe' in window"):
        browser.js(_source())
    found = browser.driver.execute_async_script(
        "const [context, options, done] = arguments;"
        "axe.run(context === 'document' ? document : context, options)"
        ".then(r => done(r.violations.map(v =>"
        " `${v.id}: ${v.nodes[0].html.slice(0, 160)} ${v.nodes[0].failureSummary}`)),"
        " e => done([String(e)]))",
        context,
        options,
    )
    return [str(one) for one in found]
