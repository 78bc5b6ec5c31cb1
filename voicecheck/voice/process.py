"""The synthesiser at arm's length: started, asked with a time limit, killed when it hangs."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError

_START_SECONDS: Final = 20.0
_REMEDY: Final = (
    "prompts will be shown instead of spoken; to hear them mend this, "
    "or install the synthesiser (Debian, Ubuntu: apt-get install libespeak-ng1)"
)


class VoiceUnavailable(VoicecheckError):
    """There is no working voice; a session goes on mute."""


class VoiceProcess:
    """One child process with one voice. Raises VoiceUnavailable if it does not start."""

    def __init__(self, voice: str | None, rate: int, volume: float) -> None:
        package_home = str(Path(__file__).resolve().parents[2])
        paths = [package_home, *filter(None, [os.environ.get("PYTHONPATH")])]
        try:
            self._child = subprocess.Popen(
                [
                    sys.executable,
                    "-m",
                    "voicecheck.voice.child",
                    voice or "",
                    str(rate),
                    str(volume),
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
                # A Ctrl-C in the terminal is for the session; it ends its child itself.
                start_new_session=True,
            )
        except OSError as error:
            raise VoiceUnavailable(f"the voice cannot be started ({error}); {_REMEDY}") from None
        self._replies: queue.SimpleQueue[dict[str, object]] = queue.SimpleQueue()
        threading.Thread(target=self._read, name="voice replies", daemon=True).start()
        reply = self._reply(_START_SECONDS)
        self.engine = str(reply.get("engine", ""))
        """Name and version of the synthesiser."""

    @property
    def pid(self) -> int:
        """Process id of the child."""
        return self._child.pid

    def render(self, text: str, path: Path, timeout: float) -> None:
        """Have `text` written to `path` as a WAV. Raises VoiceUnavailable after `timeout` s."""
        assert self._child.stdin is not None
        try:
            self._child.stdin.write(json.dumps({"text": text, "path": str(path)}) + "\n")
            self._child.stdin.flush()
        except OSError:
            self.close()
            raise VoiceUnavailable(f"the voice has stopped; {_REMEDY}") from None
        self._reply(timeout)

    def close(self) -> None:
        """End the child; safe twice."""
        self._child.kill()
        self._child.wait()
        if self._child.stdin is not None:
            with contextlib.suppress(OSError):
                self._child.stdin.close()

    def _reply(self, timeout: float) -> dict[str, object]:
        try:
            reply = self._replies.get(timeout=timeout)
        except queue.Empty:
            reply = {"error": f"no answer within {timeout:.0f} s"}
        if "error" in reply:
            self.close()
            raise VoiceUnavailable(f"no voice ({reply['error']}); {_REMEDY}")
        return reply

    def _read(self) -> None:
        """Own thread: ends with the child, and says so."""
        assert self._child.stdout is not None
        with self._child.stdout as lines:
            for line in lines:
                with contextlib.suppress(ValueError):
                    self._replies.put(json.loads(line))
        self._replies.put({"error": "its process ended"})
