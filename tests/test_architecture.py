"""The house keeps its rooms: import rules, file sizes, a pure engine, nothing of one machine."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "voicecheck"
MAX_LINES = 400

# What the engine must never know: files, clocks, chance, threads, the machine around it.
IMPURE_MODULES = frozenset(
    {
        "asyncio",
        "concurrent",
        "datetime",
        "io",
        "logging",
        "multiprocessing",
        "os",
        "pathlib",
        "queue",
        "random",
        "secrets",
        "shutil",
        "signal",
        "socket",
        "subprocess",
        "sys",
        "tempfile",
        "threading",
        "time",
        "uuid",
    }
)
IMPURE_CALLS = frozenset({"open", "print", "input", "exec", "eval", "__import__"})

# Put together from halves, so that this file does not hold what it forbids.
UNFINISHED = ("TO" + "DO", "FIX" + "ME", "XX" + "X")
FORBIDDEN_TEXT = {
    "path of one machine": re.compile(
        r"(?<![\w.~*/-])/(?:" + "wo" + r"rk|tmp|root|home/\w+|Users/\w+)(?:/|\b)"
    ),
    "package registry host": re.compile(
        r"\b(?:[\w-]+\.)*(?:"
        + "|".join(
            name + r"\." + end
            for name, end in (
                ("pypi", "org"),
                ("pythonhosted", "org"),
                ("npmjs", "org"),
                ("debian", "org"),
                ("ubuntu", "com"),
            )
        )
        + r")\b"
    ),
    "unfinished work": re.compile(r"\b(?:" + "|".join(UNFINISHED) + r")\b"),
}
MADE = re.compile(
    r"^(\.git|\.venv|\.build|\.hypothesis|build|dist|out|__pycache__)$|_cache$|\.egg-info$"
)


def lint_imports(root: Path) -> subprocess.CompletedProcess[str]:
    """Check the import contracts of the tree in ``root``, against its own copy of the package."""
    program = (
        "import sys; from importlinter.cli import lint_imports;"
        "sys.exit(lint_imports(no_cache=True, no_logo=True))"
    )
    return subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=False
    )


def impurities(source: str) -> list[str]:
    """Imports and calls in Python source that reach outside the program, as ``line: name``."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            modules = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            modules = [node.module]
        else:
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                found += [f"{node.lineno}: {n}()" for n in IMPURE_CALLS & {node.func.id}]
            continue
        found += [f"{node.lineno}: {m}" for m in modules if m.split(".")[0] in IMPURE_MODULES]
    return found


def forbidden_text(text: str) -> list[str]:
    """What of FORBIDDEN_TEXT stands in ``text``, as ``line: what: match``."""
    return [
        f"{number}: {what}: {match.group()}"
        for number, line in enumerate(text.splitlines(), start=1)
        for what, pattern in FORBIDDEN_TEXT.items()
        for match in pattern.finditer(line)
    ]


def source_files() -> list[Path]:
    """Every file that git tracks or would add; every file of the tree where git cannot tell."""
    listed = b""
    if (ROOT / ".git").exists() and shutil.which("git"):
        command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
        listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=False).stdout
    named = [ROOT / name for name in listed.decode().split("\0") if name]
    return sorted(
        path
        for path in named or ROOT.rglob("*")
        if path.is_file() and not any(MADE.search(p) for p in path.relative_to(ROOT).parts)
    )


def test_every_import_contract_is_kept() -> None:
    result = lint_imports(ROOT)
    assert result.returncode == 0, result.stdout + result.stderr
    assert "0 broken" in result.stdout


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("callouts", "import voicecheck.errors"),
        ("shipped", "import voicecheck.checklist"),
        ("speech", "import voicecheck.engine.effects"),
        ("voice", "import voicecheck.speech"),
        ("language", "import voicecheck.checklist"),
        ("checklist", "import voicecheck.engine"),
        ("engine", "import voicecheck.checklist.model"),
        ("engine", "import sounddevice"),
        ("oracle", "import voicecheck.engine.observe"),
        ("oracle", "import voicecheck.session"),
        ("logbook", "import voicecheck.engine"),
        ("logbook", "import sqlalchemy"),
        ("display", "import voicecheck.engine.events"),
        ("proofreading", "import voicecheck.session"),
        ("proofreading", "import voicecheck.engine"),
        ("session", "import voicecheck.measure"),
        ("session", "import voicecheck.oracle"),
        ("rehearsal/memory", "import voicecheck.rehearsal.crew"),
    ],
)
def test_the_contracts_break_on_a_forbidden_import(room: str, line: str, tmp_path: Path) -> None:
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    copy = tmp_path / "voicecheck"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    target = copy / f"{room}.py"
    if not target.exists():
        target = copy / room / "intruder.py"
    with target.open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    result = lint_imports(tmp_path)
    assert result.returncode == 1, result.stdout + result.stderr
    assert f"voicecheck.{room.partition('/')[0]}" in result.stdout
    assert "BROKEN" in result.stdout


def test_no_file_is_longer_than_a_reader_will_read() -> None:
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in PACKAGE.rglob("*.py")
    }
    assert lengths
    assert {name: n for name, n in lengths.items() if n >= MAX_LINES} == {}


def test_the_engine_reaches_nothing_outside_itself() -> None:
    found = {
        str(path.relative_to(ROOT)): outside
        for path in (PACKAGE / "engine").rglob("*.py")
        if (outside := impurities(path.read_text(encoding="utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    "line",
    [
        "import os.path",
        "from datetime import datetime",
        "def f():\n    import threading as t",
        "from time import monotonic",
        "open('x')",
    ],
)
def test_impurities_are_found(line: str) -> None:
    assert impurities(line)


def test_purity_does_not_flag_what_is_pure() -> None:
    assert impurities("from __future__ import annotations\nimport timeit\nx.open()\n") == []


def test_tracked_files_hold_nothing_of_one_machine() -> None:
    files = source_files()
    assert Path(__file__).resolve() in files
    found = {}
    for path in files:
        try:
            text = path.read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue  # sound and pictures
        if told := forbidden_text(text):
            found[str(path.relative_to(ROOT))] = told
    assert found == {}


@pytest.mark.parametrize(
    "text",
    [
        'open("' + "/wo" + 'rk/main/x")',
        "see " + "/t" + "mp/x.wav",
        "/ho" + "me/ann/voicecheck",
        "https://files.python" + "hosted.org/packages",
        "https://py" + "pi.org/simple",
        "# TO" + "DO: later",
    ],
)
def test_forbidden_text_is_found(text: str) -> None:
    assert forbidden_text(text)


@pytest.mark.parametrize("text", ["lamp/work light", "../tmp/x", "work/main", "a todo list"])
def test_ordinary_words_are_not_forbidden_text(text: str) -> None:
    assert forbidden_text(text) == []
