"""What the cockpit would have heard: the crew's recording with our prompts laid over it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from voicecheck.audio.source import BLOCK, RATE, AudioSource, Block, Samples
from voicecheck.errors import VoicecheckError

PROMPT_GAIN: Final = 10 ** (-6 / 20)
"""Prompts stand 6 dB below their own level, so that the crew stays on top."""


class Mixdown:
    """Writes a 16 kHz, mono, 16-bit WAV; at any moment only one block is in memory."""

    def __init__(self, crew: AudioSource) -> None:
        self._crew = crew
        self._prompts: list[tuple[int, Samples]] = []

    def place(self, at: float, pcm: Samples) -> None:
        """Lay a prompt (1-D int16, 16 kHz) at stream time `at`, in seconds from the start."""
        if at < 0:
            raise ValueError(f"a prompt cannot start before the recording ({at} s)")
        self._prompts.append((round(at * RATE), pcm))

    def write(self, path: Path) -> float:
        """Write the whole mix and return its length in seconds.

        The file appears complete (mode 0600) or not at all. Raises VoicecheckError if it
        cannot be written or the crew's sound cannot be read.
        """
        unfinished: Path | None = None
        try:
            descriptor, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            unfinished = Path(name)
            with os.fdopen(descriptor, "wb") as file:
                seconds = self._write(file)
                file.flush()
                os.fsync(file.fileno())
            unfinished.replace(path)
        except (OSError, soundfile.LibsndfileError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise VoicecheckError(
                f"{path}: cannot be written ({reason}); check the folder and the free space"
            ) from None
        finally:
            if unfinished is not None:
                unfinished.unlink(missing_ok=True)
        return seconds

    def _write(self, file: object) -> float:
        prompts = sorted(self._prompts, key=lambda prompt: prompt[0])
        last = max((begin + len(pcm) for begin, pcm in prompts), default=0)
        done = 0
        with soundfile.SoundFile(
            file, "w", samplerate=RATE, channels=1, format="WAV", subtype="PCM_16"
        ) as out:
            for item in self._crew.blocks():
                if isinstance(item, Block):
                    out.write(self._mixed(item.mixed, done, prompts))
                    done += len(item)
            while done < last:
                count = min(BLOCK, last - done)
                out.write(self._mixed(np.zeros(count, np.int16), done, prompts))
                done += count
        return done / RATE

    @staticmethod
    def _mixed(crew: Samples, begin: int, prompts: list[tuple[int, Samples]]) -> Samples:
        """Sum in floating point and clip: an overload flattens, it never wraps round."""
        total = crew.astype(np.float64)
        end = begin + len(crew)
        while prompts and prompts[0][0] + len(prompts[0][1]) <= begin:
            prompts.pop(0)
        for at, pcm in prompts:
            if at >= end:
                break
            part = pcm[max(0, begin - at) : max(0, end - at)]
            here = max(0, at - begin)
            total[here : here + len(part)] += part * PROMPT_GAIN
        return np.clip(np.rint(total), -32768, 32767).astype(np.int16)
