"""Make speech on all cores: each process takes its share of every list and writes shards.

    python -m voicecheck.training.synthesis KIT LISTS SPEECH SECONDS PROCESSES ENGINE...

KIT holds what speaks (espeak/, kokoro.onnx, hibari.onnx, vocabulary.json, styles.npz); LISTS the
jobs (see jobs); SPEECH gets the shards. Lists longer than SECONDS allow are not finished.
"""

from __future__ import annotations

import gzip
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.training import neural, shards
from voicecheck.training.espeak import Espeak

_EACH: Final = {"espeak": 400, "hibari": 400, "kokoro": 40}
"""Utterances of one shard: what is slow comes in small ones, so that training need not wait."""
_LONGEST: Final = 5 * shards.RATE

Say = Callable[[dict[str, Any]], NDArray[np.float32]]


def speaker(engine: str, kit: Path, seed: int) -> Say:
    """What turns one job into sound at 16 kHz."""
    from scipy.signal import resample_poly

    chance = np.random.default_rng(seed)
    if engine == "espeak":
        espeak = Espeak(kit / "espeak")

        def formant(job: dict[str, Any]) -> NDArray[np.float32]:
            espeak.speak_as(job["voice"])
            sound = espeak.say(job["say"], job["pace"], job["pitch"], job["span"])
            return np.asarray(resample_poly(sound.astype(np.float32), 320, 441), np.float32)

        return formant
    words = kit / "vocabulary.json"
    if engine == "hibari":
        hibari = neural.Hibari(kit / "hibari.onnx", words)
        return lambda job: _down(hibari.say(job["say"], job["speed"], chance))
    kokoro = neural.Kokoro(kit / "kokoro.onnx", words, kit / "styles.npz")
    return lambda job: _down(kokoro.say(job["say"], job["blend"], job["speed"], chance))


def _down(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    from scipy.signal import resample_poly

    return np.asarray(resample_poly(sound, 2, 3), np.float32)


def work(
    kit: Path, lists: Path, speech: Path, seconds: float, share: tuple[int, int], engines: list[str]
) -> None:
    """One process: jobs number share[0], share[0] + share[1], ... of each list."""
    began = time.monotonic()
    for engine in engines:
        stem = speech / f"{engine}_{share[0]}"
        kept = _Kept(stem, _EACH.get(engine, 1000))
        say = speaker(engine.split("-")[0], kit, share[0])
        with gzip.open(lists / f"{engine}.jsonl.gz", "rt", encoding="utf-8") as file:
            for number, line in enumerate(file):
                if number % share[1] != share[0]:
                    continue
                if time.monotonic() - began > seconds:
                    break
                job = json.loads(line)
                sound = shards.trimmed(say(job))
                if sound is not None and len(sound) <= _LONGEST:
                    kept.add(sound, _entry(job))
        kept.store()
        if share[0] == 0:
            took = time.monotonic() - began
            print(
                f"{engine}: {kept.total} by one process, {took:.0f} s after the start", flush=True
            )


class _Kept:
    """What one process has made, written in shards of a size."""

    def __init__(self, stem: Path, each: int) -> None:
        self._stem, self._each = stem, each
        self._sounds: list[NDArray[np.int16]] = []
        self._entries: list[dict[str, Any]] = []
        self._parts = self.total = 0

    def add(self, sound: NDArray[np.int16], entry: dict[str, Any]) -> None:
        self._sounds.append(sound)
        self._entries.append(entry)
        self.total += 1
        if len(self._sounds) >= self._each:
            self.store()

    def store(self) -> None:
        if self._sounds:
            place = self._stem.with_name(f"{self._stem.name}_{self._parts}")
            shards.write(place, self._sounds, self._entries)
            self._sounds, self._entries = [], []
            self._parts += 1


def _entry(job: dict[str, Any]) -> dict[str, Any]:
    voice = job.get("voice") or "+".join(name for name, _ in job["blend"])
    return {k: job[k] for k in ("label", "kind", "id") if k in job} | {"voice": voice}


def main(kit: str, lists: str, speech: str, seconds: str, processes: str, *engines: str) -> None:
    """Start the processes and wait for them."""
    os.environ["OMP_NUM_THREADS"] = "1"
    Path(speech).mkdir(parents=True, exist_ok=True)
    spawn = multiprocessing.get_context("spawn")
    count = int(processes)
    running = [
        spawn.Process(
            target=work,
            args=(
                Path(kit),
                Path(lists),
                Path(speech),
                float(seconds),
                (share, count),
                list(engines),
            ),
        )
        for share in range(count)
    ]
    for process in running:
        process.start()
    for process in running:
        process.join()


if __name__ == "__main__":
    main(*sys.argv[1:])
