"""The figures of the mutation check (``make mutation``) as a part of docs/mutation.md.

``python -m voicecheck.measure.mutation_page docs/mutation.md`` reads what the check left in
mutants/ and replaces the page's figures; the reasons under them are written by hand.
"""

from __future__ import annotations

import json
import platform
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final

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
    """What mutmut wrote below `folder`. Raises VoicecheckError when there is nothing."""
    found: dict[str, dict[str, str]] = {}
    for path in sorted(folder.glob("voicecheck/engine/*.py.meta")):
        codes = json.loads(path.read_text("utf-8"))["exit_code_by_key"]
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


def main(page: Path, folder: Path = Path("mutants")) -> None:
    """Write today's figures into the page."""
    try:
        tool = version("mutmut")
    except PackageNotFoundError:
        raise VoicecheckError("mutmut is not installed; run 'make mutation'") from None
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty"], capture_output=True, text=True, check=False
    ).stdout.strip()
    made_with = (
        f"mutmut {tool}, Python {platform.python_version()}, "
        f"{datetime.now(UTC):%Y-%m-%d}, commit {commit or 'unknown'}."
    )
    text = figures(read_statuses(folder), made_with)
    page.write_text(replaced(page.read_text("utf-8"), text), "utf-8")


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]))
    except VoicecheckError as problem:
        sys.exit(str(problem))
