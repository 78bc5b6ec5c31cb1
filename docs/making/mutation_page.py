"""The figures of the mutation check (``make mutation``) as a part of docs/mutation.md.

``python docs/making/mutation_page.py docs/mutation.md`` reads what the check left in
mutants/ and replaces the page's figures; the reasons under them are written by hand.
"""

from __future__ import annotations

import json
import platform
import re
import subprocess
from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

from page_file import write_named, write_page
from voicecheck.errors import VoicecheckError

BEGIN: Final = "<!-- figures -->"
END: Final = "<!-- end of figures -->"
KILLED, TIMEOUT, SURVIVED, OPEN = "killed", "timeout", "survived", "not run"
HEAD: Final = "| file | mutants | not run | killed | timeouts | survived | killed of those run, % |"
_STATUS: Final[dict[int | None, str]] = {
    1: KILLED,
    3: KILLED,
    0: SURVIVED,
    5: SURVIVED,
    33: SURVIVED,
    24: TIMEOUT,
    -24: TIMEOUT,
    36: TIMEOUT,
    152: TIMEOUT,
    None: OPEN,
}
"""mutmut's exit status of one mutant; a mutant that no test reaches counts as survived."""

Statuses = Mapping[str, Mapping[str, str]]
"""File to mutant to status."""


def read_statuses(folder: Path) -> Statuses:
    """What mutmut wrote below `folder`. Raises VoicecheckError when there is nothing, or half."""
    found: dict[str, dict[str, str]] = {}
    for path in sorted(folder.glob("voicecheck/engine/*.py.meta")):
        try:
            codes = json.loads(path.read_text("utf-8"))["exit_code_by_key"]
        except (ValueError, KeyError, TypeError):
            raise VoicecheckError(
                f"{path}: no whole result; remove it and run 'make mutation'"
            ) from None
        if codes:
            name = path.name.removesuffix(".meta")
            found[name] = {mutant: _STATUS.get(code, "other") for mutant, code in codes.items()}
    if not found:
        raise VoicecheckError(f"{folder}: no result of the mutation check; run 'make mutation'")
    return found


def figures(statuses: Statuses, made_with: str) -> str:
    """The table and the list of what survived, in Markdown."""
    lines = [made_with, "", HEAD, "|---|---:|---:|---:|---:|---:|---:|"]
    whole: Counter[str] = Counter()
    for name, mutants in statuses.items():
        counts = Counter(mutants.values())
        whole += counts
        lines.append(_row(f"`{name}`", counts))
    lines.append(_row("all", whole))
    if whole["other"]:
        lines += ["", f"Ended otherwise: {whole['other']}."]
    left = [m for mutants in statuses.values() for m, s in mutants.items() if s == SURVIVED]
    lines += ["", "Survived: " + (", ".join(map(_short, left)) or "none") + "."]
    return "\n".join(lines)


def _row(name: str, counts: Counter[str]) -> str:
    run = counts.total() - counts[OPEN]
    share = f"{100 * (counts[KILLED] + counts[TIMEOUT]) / run:.1f}" if run else "-"
    numbers = (counts[status] for status in (OPEN, KILLED, TIMEOUT, SURVIVED))
    cells = (counts.total(), *numbers, share)
    return f"| {name} | " + " | ".join(map(str, cells)) + " |"


def _short(mutant: str) -> str:
    file, _, function = mutant.removeprefix("voicecheck.engine.").partition(".")
    name = re.sub(r"^x_|^xǁ", "", function).replace("ǁ", ".").replace("__mutmut_", " ")
    return f"`{file}.{name}`"


def replaced(page: str, text: str) -> str:
    """The page with `text` as its figures. Raises VoicecheckError without the two marks."""
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        raise VoicecheckError(f"the page lacks '{BEGIN}' or '{END}'; put both where figures go")
    return f"{before}{BEGIN}\n{text}\n{END}{after}"


def write(page: Path, folder: Path = Path("mutants")) -> None:
    """Write today's figures into the page. Raises VoicecheckError when that cannot be done."""
    try:
        tool = version("mutmut")
    except PackageNotFoundError:
        raise VoicecheckError("mutmut is not installed; run 'make mutation'") from None
    made_with = (
        f"mutmut {tool}, Python {platform.python_version()}, "
        f"{datetime.now(UTC):%Y-%m-%d}, commit {_commit()}."
    )
    text = figures(read_statuses(folder), made_with)
    try:
        before = page.read_text("utf-8")
    except OSError as error:
        raise VoicecheckError(
            f"{page}: cannot be read ({error.strerror}); name the page that has the figures"
        ) from None
    write_page(page, replaced(before, text))


def _commit() -> str:
    """The commit that was checked; "unknown" away from a repository, or without git."""
    command = ["git", "describe", "--always", "--dirty"]
    try:
        told = subprocess.run(command, capture_output=True, text=True, check=False).stdout.strip()
    except OSError:
        told = ""
    return told or "unknown"


if __name__ == "__main__":
    write_named(write)
