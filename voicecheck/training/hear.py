"""Have a trained listener hear the trials at every level of noise; what it makes of them.

    python -m voicecheck.training.hear ONNX FOLDER EVIDENCE PROCESSES SECONDS

FOLDER holds trials.json, trials.npz and ways.json. EVIDENCE gets a JSON line for each hearing (see
Evidence). What is not done after SECONDS is left out; the order is shuffled, so that what is done
is a fair share.
"""

from __future__ import annotations

import json
import multiprocessing
import random
import sys
import time
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.speech import ctc
from voicecheck.speech.accents import tolerant
from voicecheck.speech.ctc import Floats, Way
from voicecheck.world.mixing import mixed
from voicecheck.world.noise import noise

LEVELS: Final[dict[str, float | None]] = {
    "clean": None,
    "20 dB": 20.0,
    "10 dB": 10.0,
    "5 dB": 5.0,
    "0 dB": 0.0,
}
_BESIDE: Final = 5600
"""Samples of background before and after the words, about what an endpointer leaves."""
_QUIET: Final = 10 ** (-72 / 20) * 32768
_SPREAD_DB: Final = 4.0
FAR: Final = 50.0
"""A lead where there is nothing to lead over."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was made of one trial at one level.

    best: meaning of the likeliest phrase, and text its wording; phones: how many it has; gap: its
    total less the likeliest frame by frame; worst: the same of its worst phone; lead: over other
    meanings; decoys: over phrases that must not be acted on. All in nats; worst with the
    tolerance of voicecheck.speech.accents.
    """

    trial: int
    level: str
    best: str
    text: str
    phones: int
    gap: float
    worst: float
    lead: float
    decoys: float


def heard_by(model: Path) -> Any:
    """The listener on one thread."""
    import onnxruntime

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.add_session_config_entry("session.intra_op.allow_spinning", "0")
    return onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])


def scene(sound: NDArray[np.int16], level: str, seed: int) -> NDArray[np.float32]:
    """The words over noise: propeller or pink, by the seed; (1, samples)."""
    beside = np.zeros(_BESIDE, np.int16)
    whole = np.concatenate([beside, sound, beside])
    chance = np.random.default_rng(seed)
    kind = "propeller" if seed % 2 else "pink"
    over = mixed(whole, LEVELS[level], seed, kind).astype(np.float64)  # type: ignore[arg-type]
    over += noise("pink", len(over), seed + 1) * _QUIET
    over *= 10 ** (chance.uniform(-_SPREAD_DB, _SPREAD_DB) / 20)
    return np.asarray(np.clip(over / 32768, -1, 1)[None], np.float32)


def evidence(
    frames: Floats, phrases: Mapping[str, str], decoys: Sequence[str], ways: Mapping[str, list[Way]]
) -> dict[str, Any]:
    """What the posteriors say of a place's phrases; as the fields of Evidence."""
    frames = frames - frames.max(1, keepdims=True)
    room = len(frames) - 1
    options = [(text, way) for text in phrases for way in _fitting(ways[text], room)]
    totals = ctc.totals(frames, [way for _, way in options])
    first = int(totals.argmax())
    text, way = options[first]
    gap, meaning = float(totals[first]), phrases[text]
    others = [value for (t, _), value in zip(options, totals, strict=True) if phrases[t] != meaning]
    ours = _ways_of_meaning(meaning, phrases, ways)
    theirs = [w for t in decoys for w in ways[t][:3] if w not in ours]
    against = _fitting(theirs, room)
    accented = tolerant(frames)
    mine = _fitting(ways[text], room)
    fits = mine[int(ctc.totals(accented, mine).argmax())]
    return {
        "best": meaning,
        "text": text,
        "phones": len(way),
        "gap": gap,
        "worst": float(ctc.align(accented, fits).phones.min()),
        "lead": gap - float(max(others)) if others else FAR,
        "decoys": gap - float(ctc.totals(frames, against).max()) if against else FAR,
    }


def _fitting(ways: Sequence[Way], room: int) -> list[Way]:
    return [way for way in ways if len(way) * 2 < room]


def _ways_of_meaning(
    meaning: str, phrases: Mapping[str, str], ways: Mapping[str, list[Way]]
) -> set[Way]:
    return {way for text, meant in phrases.items() if meant == meaning for way in ways[text]}


def _work(model: Path, folder: Path, target: Path, share: tuple[int, int], seconds: float) -> None:
    began = time.monotonic()
    told = json.loads((folder / "trials.json").read_text(encoding="utf-8"))
    listed = json.loads((folder / "ways.json").read_text(encoding="utf-8"))
    ways = {text: [tuple(way) for way in found] for text, found in listed.items()}
    sounds, session = np.load(folder / "trials.npz"), heard_by(model)
    spoken = [n for n in range(len(told["trials"])) if str(n) in sounds]
    hearings = [(n, level) for n in spoken for level in LEVELS]
    random.Random(0).shuffle(hearings)
    with target.with_suffix(f".{share[0]}").open("w", encoding="utf-8") as file:
        for number, level in hearings[share[0] :: share[1]]:
            if time.monotonic() - began > seconds:
                break
            place = told["places"][told["trials"][number]["place"]]
            seed = zlib.crc32(f"{folder.name} {number} {level}".encode())
            given = {"sound": scene(sounds[str(number)], level, seed)}
            frames = session.run(None, given)[0][0].astype(np.float64)
            found = evidence(frames, place["phrases"], place["decoys"], ways)
            file.write(json.dumps(asdict(Evidence(number, level, **found))) + "\n")


def main(model: str, folder: str, target: str, processes: str, seconds: str) -> None:
    """Share the hearings out and gather what comes back."""
    spawn, count = multiprocessing.get_context("spawn"), int(processes)
    running = [
        spawn.Process(
            target=_work,
            args=(Path(model), Path(folder), Path(target), (share, count), float(seconds)),
        )
        for share in range(count)
    ]
    for process in running:
        process.start()
    for process in running:
        process.join()
    parts = [Path(target).with_suffix(f".{share}") for share in range(count)]
    lines = "".join(part.read_text(encoding="utf-8") for part in parts if part.exists())
    Path(target).write_text(lines, encoding="utf-8")
    for part in parts:
        part.unlink(missing_ok=True)
    print(target, lines.count("\n"), "hearings")


if __name__ == "__main__":
    main(*sys.argv[1:])
