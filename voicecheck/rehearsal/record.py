"""Make a recording and its side file from a script.

``python -m voicecheck.rehearsal.record recordings/scripts/*.yaml`` makes all of them again.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

import soundfile

from voicecheck.audio.source import RATE
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.rehearsal.script import Script, read_script
from voicecheck.rehearsal.staging import Placed, Stage, Staged
from voicecheck.session.dating import KEY
from voicecheck.session.options import HearingOptions
from voicecheck.session.places import cache_dir
from voicecheck.world.fleet import airframe

QUIET: Final = "a quiet room: pink noise 50 dB below speech"


def record(script_path: Path, folder: Path) -> Path:
    """Write ``<name>.wav`` and ``<name>.json`` into the folder; returns the WAV's path.

    Raises VoicecheckError when the words alone already lead to another result than the
    script expects: then the script is wrong.
    """
    script = read_script(script_path)
    loaded = airframe(script.checklist, script.airframe)
    truth = truth_of(script, loaded)
    staged = _staged(script, loaded, truth, None)
    if script.repeats:
        staged = _staged(script, loaded, truth, HearingOptions())
    sound = staged.sound
    wav = folder / f"{script_path.stem}.wav"
    soundfile.write(wav, sound, RATE, subtype="PCM_16")
    side = side_of(script, staged, truth, hashlib.sha256(sound.tobytes()).hexdigest())
    wav.with_suffix(".json").write_text(json.dumps(side, indent=1) + "\n", encoding="utf-8")
    return wav


def _staged(
    script: Script, loaded: Loaded, truth: dict[str, Any], listeners: HearingOptions | None
) -> Staged:
    staged = Stage(script, loaded, cache_dir(), listeners).play()
    wrong = differences(truth, staged.result)
    if wrong:
        how = "words" if listeners is None else "sound"
        raise VoicecheckError(
            f"the {how} lead elsewhere: {'; '.join(wrong)}; correct the lines or what is expected"
        )
    return staged


def truth_of(script: Script, loaded: Loaded) -> dict[str, Any]:
    """Every item's true outcome, the findings, and how the session ends, from the script."""
    outcomes = {item.id: "satisfactory" for item in loaded.checklist.items}
    outcomes |= {gone.id: "not fitted" for gone in loaded.checklist.not_fitted}
    unknown = set(script.expect.outcomes) - set(outcomes)
    if unknown:
        raise VoicecheckError(
            f"expect.outcomes: no such items: {', '.join(sorted(unknown))}; correct their ids"
        )
    return {
        "items": {**outcomes, **script.expect.outcomes},
        "findings": [finding.model_dump() for finding in script.expect.findings],
        "complete": script.expect.complete,
        "void_attempts": list(script.expect.void_attempts),
    }


def differences(truth: dict[str, Any], result: dict[str, Any]) -> list[str]:
    """What a session's result says otherwise than the truth; empty when all is alike."""
    wrong = []
    got = {item["id"]: item["outcome"] for item in result["items"]}
    for item_id, outcome in truth["items"].items():
        if got.get(item_id) != outcome:
            wrong.append(f"{item_id} is {got.get(item_id)}, not {outcome}")
    found = sorted((f["item"], f["lamp"]) for f in result["findings"] if not f["superseded"])
    wanted = sorted((f["item"], f["lamp"]) for f in truth["findings"])
    if found != wanted:
        wrong.append(f"findings are {found}, not {wanted}")
    if result["complete"] != truth["complete"]:
        wrong.append(f"complete is {result['complete']}")
    return wrong + _never_void(truth, result)


def _never_void(truth: dict[str, Any], result: dict[str, Any]) -> list[str]:
    history = {item["id"]: [p["outcome"] for p in item["history"]] for item in result["items"]}
    return [
        f"{item_id} has no void attempt"
        for item_id in truth["void_attempts"]
        if "void" not in history[item_id]
    ]


def side_of(script: Script, staged: Staged, truth: dict[str, Any], sha256: str) -> dict[str, Any]:
    """The side file: who speaks, what is said when, what is true, how it was made."""
    return {
        "title": script.title,
        "checklist": script.checklist,
        "airframe": script.airframe,
        "crew": script.crew.model_dump(),
        KEY: script.recorded,
        "seconds": round(len(staged.sound) / RATE, 2),
        "said_again_or_answered": staged.repeated,
        "said": [_said(placed) for placed in staged.placed],
        "truth": truth,
        "made": {
            "voices": {who: v.model_dump() for who, v in script.voices.items()},
            "noise": script.noise.model_dump() if script.noise else QUIET,
            "seed": script.seed,
            "programs": {name: _version(name) for name in ("espeak-ng", "flite", "festival")},
            "sha256_of_samples": sha256,
            "by": "python -m voicecheck.rehearsal.record",
        },
    }


def _said(placed: Placed) -> dict[str, Any]:
    return {
        "who": placed.who,
        "say": placed.say,
        "start": round(placed.start, 3),
        "end": round(placed.end, 3),
        "callouts": list(placed.callouts),
    }


def _version(package: str) -> str | None:
    """The Debian version of a speech package; None where dpkg is not there."""
    try:
        done = subprocess.run(
            ["dpkg-query", "-W", "-f", "${Version}", package],
            capture_output=True,
            text=True,
            check=False,
        )
    except OSError:
        return None
    return done.stdout or None


def main(paths: list[str]) -> int:
    """Make the recordings of these scripts in the folder above the scripts' own."""
    for name in paths:
        path = Path(name)
        try:
            print(record(path, path.parent.parent))
        except InputError as error:
            print(f"voicecheck: {error}", file=sys.stderr)
            return 2
        except VoicecheckError as error:
            print(f"voicecheck: {path}: {error}", file=sys.stderr)
            return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
