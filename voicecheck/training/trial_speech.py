"""Have the trials spoken: by programs and models of this machine, or out of shards made elsewhere.

    python -m voicecheck.training.trial_speech FOLDER ESPEAK PIPER [SHARD...]

FOLDER holds trials.json and gets trials.npz: 16 kHz sound for each trial, by its number. SHARD:
stems of shards whose entries have the trial's number as their id (see synthesis). What is there
already is not spoken again.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import soxr
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.training import shards
from voicecheck.training.espeak import Espeak
from voicecheck.training.neural import Piper
from voicecheck.training.trials import Trial
from voicecheck.world.mixing import audible
from voicecheck.world.synthesis import LEVEL_DBFS, Talker, at_level


def trials_of(folder: Path) -> list[Trial]:
    """Those of FOLDER/trials.json."""
    told = json.loads((folder / "trials.json").read_text(encoding="utf-8"))
    return [Trial(**entry) for entry in told["trials"]]


def levelled(sound: NDArray[np.int16]) -> NDArray[np.int16]:
    """Without silence at its ends, at the level of the other corpora."""
    return at_level(audible(sound), LEVEL_DBFS)


def main(folder: str, espeak: str, piper: str, *stems: str) -> None:
    """Write the sounds; tell which trials have none."""
    trials, kept = trials_of(Path(folder)), Path(folder) / "trials.npz"
    sounds: dict[str, NDArray[np.int16]] = dict(np.load(kept)) if kept.exists() else {}
    for stem in stems:
        at, whole = 0, shards.read(Path(stem))
        for entry in shards.entries_of(Path(stem)):
            sounds[str(entry["id"])] = levelled(whole[at : at + entry["samples"]])
            at += entry["samples"]
    model: Piper | None = None
    for number, trial in enumerate(trials):
        if str(number) in sounds:
            continue
        if trial.engine == "piper":
            model = model or Piper(Path(piper), Espeak(Path(espeak)))
            spoken = soxr.resample(model.say(trial.text, trial.pace), model.rate, RATE)
            sounds[str(number)] = levelled(np.asarray(np.clip(spoken, -1, 1) * 32767, np.int16))
        elif trial.engine in ("espeak-ng", "flite", "festival"):
            talker = Talker(trial.engine, trial.voice, trial.pace)  # type: ignore[arg-type]
            sounds[str(number)] = levelled(talker.say(trial.text))
    np.savez_compressed(kept, **sounds)  # type: ignore[arg-type]
    silent = [t.voice for n, t in enumerate(trials) if str(n) not in sounds]
    print(f"{len(sounds)} of {len(trials)} spoken; none by {sorted(set(silent))}")


if __name__ == "__main__":
    main(*sys.argv[1:])
