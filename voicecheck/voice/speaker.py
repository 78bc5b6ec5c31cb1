"""Words to sound: prompts rendered by pyttsx3, ahead of time where they are known."""

from __future__ import annotations

import contextlib
import itertools
import queue
import tempfile
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from voicecheck.errors import VoicecheckError
from voicecheck.voice.cache import PromptCache, prompt_key
from voicecheck.voice.process import VoiceProcess, VoiceUnavailable
from voicecheck.voice.spoken import respelt

Samples = NDArray[np.int16]

SLOWEST: Final = 80
FASTEST: Final = 450
"""Words a minute that espeak can do."""
_RATE: Final = 16_000
_QUIET: Final = 64
"""A sample below this (-54 dBFS) at either end of a prompt is silence."""
_MEMORY_BYTES: Final = 48 * 2**20
"""Rendered prompts kept in memory: about 25 minutes of speech."""
_RENDER_SECONDS: Final = 4.0
_LAST, _NOW, _AHEAD = range(3)

_Job = tuple[int, int, str, "Future[Samples]"]


class Speaker:
    """One voice. Raises VoiceUnavailable, with the reason, if there is none.

    rate: words a minute, 80 to 450; voice: an espeak voice or language such as ``en-gb``,
    None for the synthesiser's default; volume: 0 to 1; cache_dir: where rendered prompts
    stay between sessions, None to keep them in memory alone.
    """

    def __init__(
        self,
        rate: int = 150,
        voice: str | None = None,
        volume: float = 1.0,
        cache_dir: Path | None = None,
        *,
        respelt: Mapping[str, str] | None = None,
    ) -> None:
        _require_possible(rate, volume)
        self._respelt = respelt or {}
        self._voice, self._rate, self._volume = voice, rate, volume
        self._disk = None if cache_dir is None else PromptCache(cache_dir)
        self._memory: OrderedDict[str, Samples] = OrderedDict()
        self._held = 0
        self._wanted: frozenset[str] = frozenset()
        self._process: VoiceProcess | None = VoiceProcess(voice, rate, volume)
        self.engine: Final = self._process.engine
        """Name and version of the synthesiser."""
        self._jobs: queue.PriorityQueue[_Job] = queue.PriorityQueue()
        self._order = itertools.count()
        self._gate = threading.Lock()
        self._closed = False
        self._worker = threading.Thread(target=self._work, name="voice", daemon=True)
        self._worker.start()

    def render(self, text: str) -> Samples:
        """`text` as 1-D int16 at 16 kHz without silence at its ends.

        Goes before everything that `prepare` asked for. Raises VoiceUnavailable if the
        synthesiser fails twice, or makes no sound of this text.
        """
        kept = self._kept(text)
        return kept if kept is not None else self._ask(text, _NOW).result()

    def prepare(self, texts: Sequence[str]) -> None:
        """Render these in the background, and no longer what was asked for so before.

        One that fails is told of by `render`; on a closed voice nothing happens.
        """
        self._wanted = frozenset(texts)
        with contextlib.suppress(VoiceUnavailable):
            for text in texts:
                if self._kept(text) is None:
                    self._ask(text, _AHEAD)

    @property
    def held(self) -> int:
        """Bytes of rendered prompts in memory; 48 MiB at most."""
        return self._held

    def close(self) -> None:
        """End the synthesiser; whoever still waits gets VoiceUnavailable. Safe twice."""
        with self._gate:
            self._closed = True
            self._jobs.put((_LAST, next(self._order), "", Future()))
            if self._process is not None:
                self._process.close()
        self._worker.join()

    def _ask(self, text: str, when: int) -> Future[Samples]:
        answer: Future[Samples] = Future()
        with self._gate:
            if self._closed:
                raise VoiceUnavailable("the voice is closed; open a new Speaker")
            self._jobs.put((when, next(self._order), text, answer))
        return answer

    def _work(self) -> None:
        """Own thread, the only one to talk to the synthesiser."""
        while True:
            when, _, text, answer = self._jobs.get()
            if when == _LAST:
                if self._process is not None:
                    self._process.close()
                self._refuse_the_rest()
                return
            try:
                if self._closed:
                    raise VoiceUnavailable("the voice was closed; open a new Speaker")
                if when == _AHEAD and text not in self._wanted:
                    answer.cancel()
                    continue
                answer.set_result(self._rendered(text))
            except Exception as error:
                # Handed to the one who asked; this thread must serve the next. A voice that
                # fails here must not be tried with everything else that may be wanted.
                if when == _AHEAD:
                    self._wanted = frozenset()
                answer.set_exception(error)

    def _refuse_the_rest(self) -> None:
        """The end is taken before all that still waits, whose callers must not wait for ever."""
        with contextlib.suppress(queue.Empty):
            while True:
                *_, answer = self._jobs.get_nowait()
                answer.set_exception(VoiceUnavailable("the voice was closed; open a new Speaker"))

    def _rendered(self, text: str) -> Samples:
        sound = self._kept(text)
        if sound is None:
            key = prompt_key(text, self._voice or "", self._rate, self._volume, self.engine)
            sound = None if self._disk is None else self._disk.read(key)
            if sound is None:
                sound = self._synthesised(text)
                if self._disk is not None:
                    self._disk.write(key, sound)
            # Shared by all who ask for it again.
            sound.setflags(write=False)
            self._keep(text, sound)
        return sound

    def _kept(self, text: str) -> Samples | None:
        with self._gate:
            sound = self._memory.get(text)
            if sound is not None:
                self._memory.move_to_end(text)
            return sound

    def _keep(self, text: str, sound: Samples) -> None:
        """The latest stay; the rest is still on disk or made again in a moment."""
        with self._gate:
            self._memory[text] = sound
            self._held += sound.nbytes
            while self._held > _MEMORY_BYTES and len(self._memory) > 1:
                self._held -= self._memory.popitem(last=False)[1].nbytes

    def _synthesised(self, text: str) -> Samples:
        """Twice at most: a synthesiser that hung or died is replaced once."""
        if not text.strip():
            raise VoiceUnavailable(f"the voice made no sound of {text!r}; reword the prompt")
        timeout = _RENDER_SECONDS + estimate(text, self._rate)
        try:
            return self._once(text, timeout)
        except VoiceUnavailable:
            with self._gate:
                if self._closed:
                    raise
                self._process = None
            return self._once(text, timeout)

    def _once(self, text: str, timeout: float) -> Samples:
        if self._process is None:
            self._process = VoiceProcess(self._voice, self._rate, self._volume)
        with tempfile.TemporaryDirectory(prefix="voice-") as folder:
            path = Path(folder) / "prompt.wav"
            try:
                self._process.render(respelt(text, self._respelt), path, timeout)
                pcm, rate = soundfile.read(path, dtype="int16")
            except (OSError, soundfile.LibsndfileError) as error:
                raise VoiceUnavailable(f"the voice wrote no sound ({error})") from None
        sound = trimmed(soxr.resample(pcm, rate, _RATE) if len(pcm) else pcm)
        if not len(sound):
            raise VoiceUnavailable(f"the voice made no sound of {text!r}; reword the prompt")
        return sound


def estimate(text: str, rate: int) -> float:
    """Seconds that `text` takes at `rate` words a minute, at least half a second."""
    return max(0.5, len(text.split()) * 60 / rate)


def trimmed(sound: Samples) -> Samples:
    """Without the silence at both ends; empty if there is nothing else."""
    loud = np.flatnonzero((sound >= _QUIET) | (sound <= -_QUIET))
    if not len(loud):
        return sound[:0].copy()
    return sound[loud[0] : loud[-1] + 1].copy()


def _require_possible(rate: int, volume: float) -> None:
    if not SLOWEST <= rate <= FASTEST:
        raise VoicecheckError(
            f"voice rate {rate} is not possible; give {SLOWEST} to {FASTEST} words a minute"
        )
    if not 0 < volume <= 1:
        raise VoicecheckError(f"voice volume {volume} is not possible; give more than 0, up to 1")
