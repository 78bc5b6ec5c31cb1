"""Make speech on all cores: each process takes the next block of a list and writes a shard of it.

    python -m voicecheck.training.synthesis KIT LISTS SPEECH SECONDS PROCESSES ENGINE...

KIT holds what speaks (espeak/, kokoro.onnx, hibari.onnx, vocabulary.json, styles.npz); LISTS the
jobs (see jobs); SPEECH gets the shards. Lists longer than SECONDS allow are not finished. Another
call may work at the same lists at the same time.
"""

from __future__ import annotations

import gzip
import itertools
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Callable, Iterator
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


def work(kit: Path, lists: Path, speech: Path, seconds: float, engines: list[str]) -> None:
    """One process: blocks that no other process has taken, list after list."""
    began = time.monotonic()
    for engine in engines:
        say, total = speaker(engine.split("-")[0], kit, os.getpid()), 0
        for block, lines in enumerate(_blocks(lists / f"{engine}.jsonl.gz", _EACH.get(engine, 40))):
            if time.monotonic() - began > seconds:
                break
            if not _taken(speech / f"{engine}_{block}.taken"):
                continue
            total += _spoken(say, lines, speech / f"{engine}_{block}")
        if total:
            took = time.monotonic() - began
            print(f"{engine}: {total} by one process, {took:.0f} s after its start", flush=True)


def _blocks(path: Path, each: int) -> Iterator[list[str]]:
    with gzip.open(path, "rt", encoding="utf-8") as file:
        while lines := list(itertools.islice(file, each)):
            yield lines


def _taken(claim: Path) -> bool:
    """Whether this process is the first to want the block."""
    try:
        os.close(os.open(claim, os.O_CREAT | os.O_EXCL))
    except FileExistsError:
        return False
    return True


def _spoken(say: Say, lines: list[str], stem: Path) -> int:
    """Write one shard; how many utterances are in it."""
    sounds, entries = [], []
    for line in lines:
        job = json.loads(line)
        sound = shards.trimmed(say(job))
        if sound is not None and len(sound) <= _LONGEST:
            sounds.append(sound)
            entries.append(_entry(job))
    if sounds:
        shards.write(stem, sounds, entries)
    return len(sounds)


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
                list(engines),
            ),
        )
        for _ in range(count)
    ]
    for process in running:
        process.start()
    for process in running:
        process.join()


if __name__ == "__main__":
    main(*sys.argv[1:])
