"""The child process that owns the synthesiser: one request, one rendered file, one reply.

Run as ``python -m voicecheck.voice.child VOICE RATE VOLUME``; VOICE may be empty for the
default. It speaks JSON lines: on standard output first ``{"ready": true, "engine": ...}`` or
``{"error": ...}``, then for each ``{"text": ..., "path": ...}`` read from standard input
``{"done": path}`` or ``{"error": ...}``. pyttsx3 can hang, so this process may be killed at
any time; it keeps nothing that matters.
"""

from __future__ import annotations

import ctypes
import json
import os
import sys
from typing import Any, TextIO


def main(arguments: list[str]) -> int:
    """Serve until standard input ends."""
    replies = _claim_output()
    voice, rate, volume = arguments[0], int(arguments[1]), float(arguments[2])
    try:
        engine = _engine(voice, rate, volume)
    except Exception as error:
        # Whatever the driver raises is passed on as the reason; the parent explains it.
        _reply(replies, error=_told(error))
        return 1
    _reply(replies, ready=True, engine=_version())
    for line in sys.stdin:
        request = json.loads(line)
        try:
            engine.save_to_file(request["text"], request["path"])
            engine.runAndWait()
        except Exception as error:
            _reply(replies, error=_told(error))
        else:
            _reply(replies, done=request["path"])
    return 0


def _claim_output() -> TextIO:
    """Keep standard output for replies: pyttsx3 and espeak print to it."""
    replies = os.fdopen(os.dup(1), "w", encoding="utf-8")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return replies


def _engine(voice: str, rate: int, volume: float) -> Any:
    import pyttsx3
    from pyttsx3.drivers import _espeak

    # Left to its own thread, espeak under load now and then loses the rate or a whole
    # prompt, and pyttsx3 returns before the file is written. In step it does neither.
    _espeak.AUDIO_OUTPUT_RETRIEVAL = _espeak.AUDIO_OUTPUT_SYNCHRONOUS
    engine = pyttsx3.init("espeak")
    _end_in_step(engine.proxy._driver, _espeak)
    if voice:
        engine.setProperty("voice", _voice_id(engine, voice))
    engine.setProperty("rate", rate)
    engine.setProperty("volume", volume)
    return engine


def _end_in_step(driver: Any, espeak: Any) -> None:
    """Tell the driver that an utterance is complete: in step, espeak does not say so itself."""
    synthesise = driver._start_synthesis
    complete = espeak.EVENT()
    complete.type = espeak.EVENT_MSG_TERMINATED

    def start(text: str) -> None:
        synthesise(text)
        # The driver ignores this if it heard of the end already.
        driver._onSynth(None, 0, (complete,))

    driver._start_synthesis = start


def _voice_id(engine: Any, wanted: str) -> str:
    """Found in the list first: pyttsx3 keeps quiet about a voice that it could not set."""
    voices = engine.getProperty("voices")
    for voice in voices:
        names = (voice.id, voice.id.rpartition("/")[2], voice.name, *voice.languages)
        if wanted.casefold() in (name.casefold() for name in names):
            return str(voice.id)
    english = sorted({name for v in voices for name in v.languages if name.startswith("en")})
    raise LookupError(f"no voice {wanted!r}; English ones are {', '.join(english)}")


def _version() -> str:
    """The synthesiser's own version, from the library that pyttsx3 loaded."""
    from importlib.metadata import version

    from pyttsx3.drivers import _espeak

    info = _espeak.dll.espeak_Info
    info.restype = ctypes.c_char_p
    told: bytes = info(None)
    return f"espeak {told.decode(errors='replace')}, pyttsx3 {version('pyttsx3')}"


def _reply(replies: TextIO, **facts: object) -> None:
    replies.write(json.dumps(facts) + "\n")
    replies.flush()


def _told(error: Exception) -> str:
    return " ".join(str(error).split()) or type(error).__name__


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
