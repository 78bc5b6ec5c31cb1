"""A private PostgreSQL of Debian's package, in a folder of its own, gone when the tests end.

The server refuses to run as root: then it runs as Debian's user `postgres`.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def programs() -> Path:
    """The newest server's programs; fails where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name))
    assert found, "no PostgreSQL server; .ci/system-packages test installs it"
    return found[-1]


@contextmanager
def server() -> Iterator[str]:
    """A running server; yields the URL of its first database, without one at the end."""
    folder = Path(tempfile.mkdtemp(prefix="voicecheck-pg-"))
    as_user: list[str] = []
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user = ["runuser", "-u", "postgres", "--"]

    def run(name: str, *words: str) -> None:
        command = [*as_user, str(programs() / name), *words]
        done = subprocess.run(
            command, cwd=folder, capture_output=True, text=True, timeout=120, check=False,
            stdin=subprocess.DEVNULL,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr + done.stdout

    data = folder / "data"
    run("initdb", "-D", str(data), "-U", "voicecheck", "-A", "trust", "-E", "UTF8", "--no-sync")
    options = f"-c listen_addresses='' -k {folder} -c fsync=off"
    try:
        run("pg_ctl", "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
        yield f"postgresql://voicecheck@/NAME?host={folder}"
    finally:
        stop = [*as_user, str(programs() / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop"]
        subprocess.run(stop, cwd=folder, capture_output=True, timeout=60, check=False)
        shutil.rmtree(folder, ignore_errors=True)
