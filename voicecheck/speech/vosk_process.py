"""Vosk at arm's length: a child process that is started again when the native code ends it."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import select
import subprocess
import sys
import threading
import weakref
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import VoicecheckError

_START_SECONDS: Final = 120.0
"""Models of gigabytes load from slow disks."""
_ANSWER_SECONDS: Final = 20.0


class VoskStopped(Exception):
    """The child has ended or does not answer; start() makes a new one."""


class VoskProcess:
    """One child with one model folder, which was looked at before (vosk_model.model_fault)."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._child: subprocess.Popen[bytes] | None = None
        self._replies: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
        self.start()

    @property
    def pid(self) -> int | None:
        """Process id of the child."""
        return self._child.pid if self._child is not None else None

    def start(self) -> None:
        """A fresh child in place of any other. Raises VoicecheckError if it cannot load."""
        self.close()
        package_home = str(Path(__file__).resolve().parents[2])
        paths = [package_home, *filter(None, [os.environ.get("PYTHONPATH")])]
        command = [sys.executable, "-m", "voicecheck.speech.vosk_child", str(self._folder)]
        try:
            self._child = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
                start_new_session=True,  # a Ctrl-C is for the session
                bufsize=0,
            )
            assert self._child.stdin is not None
            os.set_blocking(self._child.stdin.fileno(), False)
        except OSError as error:
            raise VoicecheckError(f"Vosk cannot be started ({error}); use pocketsphinx") from None
        weakref.finalize(self, _end, self._child)
        self._replies = queue.SimpleQueue()
        reader = threading.Thread(
            target=_read, args=(self._child, self._replies), name="vosk replies", daemon=True
        )
        reader.start()
        try:
            self._answer(_START_SECONDS)
        except VoskStopped as stopped:
            raise VoicecheckError(
                f"{self._folder}: Vosk cannot read this model ({stopped}); unpack it again, "
                "or use --listener pocketsphinx"
            ) from None

    def tell(self, request: dict[str, Any], sound: bytes = b"") -> None:
        """A request without an answer. Raises VoskStopped."""
        if self._child is None or self._child.stdin is None:
            raise VoskStopped("it is not running")
        line = json.dumps({**request, "bytes": len(sound)}, ensure_ascii=False)
        try:
            taken = _written(self._child.stdin.fileno(), line.encode("utf-8") + b"\n" + sound)
        except OSError:
            raise VoskStopped("its process ended") from None
        if not taken:
            self.close()  # half a request was written: nothing can follow it
            raise VoskStopped(f"it took nothing for {_ANSWER_SECONDS:.0f} s")

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """A request and its answer. Raises VoskStopped."""
        self.tell(request)
        return self._answer(_ANSWER_SECONDS)

    def close(self) -> None:
        """End the child; safe twice."""
        if self._child is not None:
            _end(self._child)
            self._child = None

    def _answer(self, seconds: float) -> dict[str, Any]:
        try:
            reply = self._replies.get(timeout=seconds)
        except queue.Empty:
            reply = {"error": f"no answer within {seconds:.0f} s"}
        if "error" in reply:
            self.close()
            raise VoskStopped(str(reply["error"]))
        return reply


def _written(pipe: int, request: bytes) -> bool:
    """Whether the child took all of it; a hanging one must not hang the session."""
    left = memoryview(request)
    while left:
        if not select.select((), (pipe,), (), _ANSWER_SECONDS)[1]:
            return False
        left = left[os.write(pipe, left) :]
    return True


def _read(child: subprocess.Popen[bytes], replies: queue.SimpleQueue[dict[str, Any]]) -> None:
    """Own thread: ends with the child, and says so."""
    assert child.stdout is not None
    with child.stdout as lines:
        for line in lines:
            with contextlib.suppress(ValueError):
                replies.put(json.loads(line))
    replies.put({"error": "its process ended"})


def _end(child: subprocess.Popen[bytes]) -> None:
    child.kill()
    child.wait()
    if child.stdin is not None:
        with contextlib.suppress(OSError):
            child.stdin.close()
