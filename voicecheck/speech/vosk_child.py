"""The child process that owns Vosk: what ends the native code does not end a session.

Run as ``python -m voicecheck.speech.vosk_child FOLDER``. On standard input come JSON lines, a
"sound" line followed by as many raw bytes (16 kHz 16-bit) as it says; on standard output one
JSON line answers each of "find", "grammar" and "end", and tells at the start that the model is
ready, or why not.

A recogniser is made anew for each grammar, so that a grammar never changes in mid-utterance.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any, BinaryIO, Final

RATE: Final = 16000
CHUNK: Final = 8000
"""Bytes fed at a time, however the sound arrives: the result must not depend on that."""


class Recogniser:
    """One grammar; one utterance after another."""

    def __init__(self, model: Any, grammar: str) -> None:
        import vosk

        self._native = vosk.KaldiRecognizer(model, RATE, grammar)
        self._native.SetWords(True)
        self._fed = 0.0
        """Seconds since it was made: word times run on from utterance to utterance."""
        self._began = 0.0
        self._results: list[dict[str, Any]] = []

    def feed(self, sound: bytes) -> None:
        """More of the utterance. Vosk may close a part of it by its own rules: it is kept."""
        if self._native.AcceptWaveform(sound):
            self._results.append(json.loads(self._native.Result()))
        self._fed += len(sound) / 2 / RATE

    def end(self) -> list[tuple[str, float, float, float]]:
        """(word, start, end, confidence), in seconds from the utterance's first sample."""
        final = json.loads(self._native.FinalResult())
        words = [
            (w["word"], w["start"] - self._began, w["end"] - self._began, w["conf"])
            for result in (*self._results, final)
            for w in result.get("result", ())
        ]
        self._renew()
        return words

    def drop(self) -> None:
        """Forget the utterance.

        Not by Reset(): after it (also after Reset() that follows FinalResult()) the native
        code goes on with the same features, and the undecoded end of the one utterance is
        heard as a short word at the beginning of the next.
        """
        if self._fed > self._began:
            self._native.FinalResult()
        self._renew()

    def _renew(self) -> None:
        self._began = self._fed
        self._results = []


class Server:
    """Answers one request after another."""

    def __init__(self, model: Any) -> None:
        self._model = model
        self._recognisers: dict[str, Recogniser] = {}
        self._left = b""

    def answer(self, request: dict[str, Any], sound: bytes) -> dict[str, Any] | None:
        """The reply, or None where none is wanted."""
        match request["do"]:
            case "find":
                find = self._model.vosk_model_find_word
                return {"missing": [word for word in request["words"] if find(word) < 0]}
            case "grammar":
                self._left = b""
                self._recognisers = {
                    name: Recogniser(self._model, grammar)
                    for name, grammar in request["grammars"].items()
                }
                return {"done": True}
            case "sound":
                self._feed(sound)
                return None
            case "drop":
                self._left = b""
                for recogniser in self._recognisers.values():
                    recogniser.drop()
                return None
            case "end":
                self._feed(b"", last=True)
                return {name: one.end() for name, one in self._recognisers.items()}
            case other:
                raise ValueError(f"unknown request {other!r}")

    def _feed(self, sound: bytes, *, last: bool = False) -> None:
        self._left += sound
        while len(self._left) >= CHUNK or (last and self._left):
            chunk, self._left = self._left[:CHUNK], self._left[CHUNK:]
            for recogniser in self._recognisers.values():
                recogniser.feed(chunk)


def main(arguments: list[str]) -> int:
    """Serve until standard input ends."""
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # the native code prints
    try:
        import vosk

        vosk.SetLogLevel(-2)
        model = vosk.Model(model_path=arguments[0])
    except Exception as error:  # the package raises nothing more particular
        _reply(replies, {"error": " ".join(str(error).split()) or type(error).__name__})
        return 1
    _reply(replies, {"ready": True})
    server = Server(model)
    requests = sys.stdin.buffer
    for line in requests:
        request = json.loads(line)
        reply = server.answer(request, requests.read(request.get("bytes", 0)))
        if reply is not None:
            _reply(replies, reply)
    return 0


def _reply(replies: BinaryIO, facts: dict[str, Any]) -> None:
    replies.write(json.dumps(facts).encode() + b"\n")
    replies.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
