"""Synthetic speakers from general speech packages (espeak-ng, flite, festival).

They stand in for crews in recordings and tests; each is a program of its own, unrelated to
the others and to the voice of the prompts' default.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.errors import VoicecheckError
from voicecheck.voice.speaker import trimmed

EngineName = Literal["espeak-ng", "flite", "festival"]
_PROGRAMS: Final[dict[EngineName, str]] = {
    "espeak-ng": "espeak-ng",
    "flite": "flite",
    "festival": "text2wave",
}
_SECONDS: Final = 30
LEVEL_DBFS: Final = -23.0
"""Every utterance is brought to this RMS level before mixing."""


@dataclass(frozen=True, slots=True)
class Talker:
    """One synthetic person. pace: words a minute relative to the engine's own, 1.0 as it is."""

    engine: EngineName
    voice: str
    pace: float = 1.0

    @property
    def program(self) -> str | None:
        """Where the program that speaks is installed, or None."""
        return shutil.which(_PROGRAMS[self.engine])

    def say(self, text: str) -> NDArray[np.int16]:
        """`text` as 16 kHz mono without silence at its ends. Raises VoicecheckError."""
        program = _PROGRAMS[self.engine]
        if self.program is None:
            raise VoicecheckError(f"{program} is not installed; apt-get install {self.engine}")
        with tempfile.TemporaryDirectory() as folder:
            wav = Path(folder) / "said.wav"
            command, spoken = self._command(text, wav)
            try:
                done = subprocess.run(
                    command,
                    input=spoken,
                    text=True,
                    errors="replace",
                    capture_output=True,
                    timeout=_SECONDS,
                    check=False,
                )
            except subprocess.TimeoutExpired:
                raise VoicecheckError(
                    f"{program} did not say {text!r} within {_SECONDS} s; try it by hand"
                ) from None
            if done.returncode != 0 or not wav.exists():
                problem = done.stderr.strip().splitlines()[-1:] or ["no sound"]
                raise VoicecheckError(
                    f"{program} cannot say {text!r} ({problem[0]}); "
                    f"is the voice {self.voice} installed?"
                )
            samples, rate = soundfile.read(wav, dtype="float32", always_2d=True)
        mono = soxr.resample(samples[:, 0], rate, RATE)
        sound = np.clip(np.rint(mono * 32767), -32768, 32767).astype(np.int16)
        return at_level(trimmed(sound), LEVEL_DBFS)

    def _command(self, text: str, wav: Path) -> tuple[list[str], str | None]:
        match self.engine:
            case "espeak-ng":
                words = str(round(170 * self.pace))
                return ["espeak-ng", "-v", self.voice, "-s", words, "-w", str(wav), text], None
            case "flite":
                stretch = f"duration_stretch={1 / self.pace:.3f}"
                arguments = ["-voice", self.voice, "--setf", stretch, "-t", text, "-o", str(wav)]
                return ["flite", *arguments], None
            case "festival":
                stretch = f"(Parameter.set 'Duration_Stretch {1 / self.pace:.3f})"
                voice = f"(voice_{self.voice})"
                evaluate = ["-eval", voice, "-eval", stretch]
                return ["text2wave", *evaluate, "-o", str(wav)], text


def at_level(sound: NDArray[np.int16], dbfs: float) -> NDArray[np.int16]:
    """The sound scaled to an RMS level in dB relative to full scale."""
    samples = sound.astype(np.float64)
    rms = float(np.sqrt(np.mean(samples**2))) if len(samples) else 0.0
    if rms == 0.0:
        return sound
    scaled = samples * (32768 * 10 ** (dbfs / 20) / rms)
    return np.clip(np.rint(scaled), -32768, 32767).astype(np.int16)
