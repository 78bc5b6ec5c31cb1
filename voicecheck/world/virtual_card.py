"""A sound card made of software, for tests and measurements: a private PulseAudio server.

It has one microphone that hears what `speak` plays and one loudspeaker that a `Tap`
listens to, both in real time. Inside the ``with`` block this process and its children
use it; several can run side by side, each in its own runtime folder.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
import soundfile
from numpy.typing import NDArray

from voicecheck.audio.portaudio import refresh
from voicecheck.errors import VoicecheckError

RATE: Final = 16_000
_SCRIPT = """\
load-module module-native-protocol-unix auth-anonymous=1 socket={socket}
load-module module-null-sink sink_name=vmic_in rate=16000 channels=1 format=s16le
load-module module-remap-source source_name=vmic master=vmic_in.monitor
load-module module-null-sink sink_name=vspk rate=48000 channels=2 format=s16le
set-default-sink vspk
set-default-source vmic
"""


def _wait(true: Callable[[], object], what: str, seconds: float = 10.0) -> None:
    deadline = time.monotonic() + seconds
    while not true():
        if time.monotonic() > deadline:
            raise VoicecheckError(f"the virtual sound card fails: {what}: not within {seconds} s")
        time.sleep(0.01)


class SoundCard:
    """Usable as ``with SoundCard() as card``. Raises VoicecheckError without PulseAudio."""

    def __init__(self) -> None:
        if shutil.which("pulseaudio") is None or shutil.which("pacat") is None:
            raise VoicecheckError(
                "the virtual sound card needs PulseAudio; install it (Debian, Ubuntu: "
                "apt-get install pulseaudio pulseaudio-utils libasound2-plugins)"
            )
        self._folder = Path(tempfile.mkdtemp(prefix="soundcard-"))
        self._socket = self._folder / "socket"
        script = self._folder / "card.pa"
        script.write_text(_SCRIPT.format(socket=self._socket))
        self.env = {
            **os.environ,
            "XDG_RUNTIME_DIR": str(self._folder),
            "XDG_CONFIG_HOME": str(self._folder),
            "PULSE_SERVER": f"unix:{self._socket}",
            "PULSE_COOKIE": str(self._folder / "cookie"),
        }
        self._kept_env: dict[str, str | None] = {}
        self._server: subprocess.Popen[bytes] | None = None
        self._keep_alive: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        for name in ("XDG_RUNTIME_DIR", "XDG_CONFIG_HOME", "PULSE_SERVER", "PULSE_COOKIE"):
            self._kept_env[name] = os.environ.get(name)
            os.environ[name] = self.env[name]
        try:
            self.restart()
            refresh(force=True)
        except BaseException:
            self.__exit__(None, None, None)
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()
        for name, value in self._kept_env.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
        refresh(force=True)
        shutil.rmtree(self._folder, ignore_errors=True)

    def restart(self) -> None:
        """Plug it in (again)."""
        self.kill()
        self._server = self._run(
            "pulseaudio", "-n", "-F", str(self._folder / "card.pa"), "--daemonize=no",
            "--exit-idle-time=-1", "--disallow-exit", "--use-pid-file=no",
        )  # fmt: skip
        _wait(self._answers, "the sound server answers")
        # Without sound going in, the microphone's first blocks come seconds late.
        silence = Path("/dev/zero").open("rb")  # noqa: SIM115
        self._keep_alive = subprocess.Popen(
            ["pacat", "--device=vmic_in", "--rate=16000", "--channels=1", "--latency-msec=20",
             "--raw"],
            stdin=silence, stderr=subprocess.DEVNULL, env=self.env, start_new_session=True,
        )  # fmt: skip
        silence.close()

    def kill(self) -> None:
        """Pull it out: no farewell, as when a plug is drawn."""
        for process in (self._keep_alive, self._server):
            if process is not None:
                process.send_signal(signal.SIGKILL)
                process.wait()
        self._keep_alive = self._server = None

    def join_room(self, delay_ms: int, gain_db: float) -> None:
        """Put loudspeaker and microphone in one room: what sounds comes back after a delay."""
        self._control(
            "load-module", "module-loopback", "source=vspk.monitor", "sink=vmic_in",
            f"latency_msec={delay_ms}",
        )  # fmt: skip
        _wait(lambda: self._loopback() is not None, "the room is joined")
        self._control("set-sink-input-volume", str(self._loopback()), f"{gain_db}dB")

    def _loopback(self) -> str | None:
        """Number of the stream that carries the loudspeaker to the microphone."""
        listed = self._control("list", "sink-inputs")
        for part in listed.split("Sink Input #")[1:]:
            if "module-loopback.c" in part:
                return part.split("\n", 1)[0].strip()
        return None

    def _control(self, *command: str) -> str:
        return self._asked("pactl", *command)

    def speak(self, sound: Path | NDArray[np.int16]) -> None:
        """Say a recording, or samples at 16 kHz, into the microphone; returns at its end."""
        if isinstance(sound, Path):
            self._paplay(sound)
            return
        path = self._folder / "spoken.wav"
        soundfile.write(path, sound, RATE, subtype="PCM_16")
        self._paplay(path)

    def _answers(self) -> bool:
        asked = subprocess.run(["pactl", "info"], env=self.env, capture_output=True, check=False)
        return asked.returncode == 0

    def _paplay(self, path: Path) -> None:
        self._asked("paplay", "--device=vmic_in", str(path))

    def _asked(self, *command: str) -> str:
        done = subprocess.run(command, env=self.env, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            problem = done.stderr.strip().splitlines()[-1:] or [f"status {done.returncode}"]
            raise VoicecheckError(
                f"the virtual sound card fails: {command[0]}: {problem[0]}; start it once more"
            )
        return done.stdout

    def _run(self, *command: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            command,
            env=self.env,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            # Linux shares the processor between sessions first: as part of a busy one, a sound
            # server is starved and drops its clients, which a card of metal never does.
            start_new_session=True,
        )
