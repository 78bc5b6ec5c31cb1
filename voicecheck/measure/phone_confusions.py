"""How readily the recogniser takes one phone for another: a forced choice, phone by phone.

A synthetic talker says a dictionary word. The decoder then chooses among that word and the
words that differ from it in one place: each other phone there, or none. So each trial has a
known place and a known truth, in the same kind of search (a small grammar) that callouts are
heard with. A free phone loop would add errors of alignment that no grammar makes.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from voicecheck.measure.table import Table
from voicecheck.speech.confusion import NOTHING, PHONES, ConfusionTable
from voicecheck.speech.denoise import denoise
from voicecheck.speech.endpoint import RATE
from voicecheck.speech.sounds import packaged_pronunciations
from voicecheck.world.mixing import mixed
from voicecheck.world.synthesis import Talker

TALKERS: Final = (
    Talker("espeak-ng", "en-us"),
    Talker("espeak-ng", "en-us+f2", 0.9),
    Talker("espeak-ng", "en-us+m3"),
    Talker("espeak-ng", "en-gb-scotland+f4"),
    Talker("flite", "slt"),
    Talker("flite", "rms", 1.1),
    Talker("flite", "kal16"),
    Talker("festival", "kal_diphone"),
)
"""Voices of the table, all of them rhotic like the dictionary. No other measurement of
confusion uses one of them."""
WORDS: Final = 90
"""Words each talker says, chosen so that every phone comes up as evenly as can be."""
NOISES: Final[tuple[float | None, ...]] = (None, 10.0, 5.0)
"""Signal to noise in dB of the trials; None: clean."""
MARGIN: Final = 0.25
"""Seconds of quiet before and after a word."""
_SEED: Final = 4


@dataclass(frozen=True, slots=True)
class Said:
    """A dictionary word and its only pronunciation."""

    word: str
    phones: tuple[str, ...]


def choose_words(count: int = WORDS) -> list[Said]:
    """Words of 3 to 7 phones with one pronunciation, greedily the rarest phones first.

    The same list on each run: the order of the dictionary is shuffled with a fixed seed.
    """
    candidates = [
        Said(word, ways[0])
        for word, ways in sorted(packaged_pronunciations().items())
        if len(ways) == 1 and word.isalpha() and 3 <= len(ways[0]) <= 7 and len(word) > 2
    ]
    order = np.random.default_rng(_SEED).permutation(len(candidates))
    pool = [candidates[at] for at in order[:4000]]
    seen: Counter[str] = Counter()
    chosen: list[Said] = []
    while pool and len(chosen) < count:
        best = max(
            pool, key=lambda said: sum(1 / (1 + seen[p]) for p in said.phones) / len(said.phones)
        )
        pool.remove(best)
        chosen.append(best)
        seen.update(best.phones)
    return chosen


def variants(phones: Sequence[str], at: int) -> dict[str, tuple[str, ...]]:
    """Phone (or NOTHING) -> the word's phones with that in place `at`."""
    made = {phone: (*phones[:at], phone, *phones[at + 1 :]) for phone in PHONES if phone != NOTHING}
    rest = (*phones[:at], *phones[at + 1 :])
    return {**made, NOTHING: rest} if rest else made


class ForcedChoice:
    """Decides which variant of a word was said."""

    def __init__(self, words: Sequence[Said]) -> None:
        from pocketsphinx import Decoder

        with tempfile.TemporaryDirectory() as folder:
            dictionary = Path(folder) / "variants.dict"
            with dictionary.open("w", encoding="utf-8") as file:
                for number, said in enumerate(words):
                    for at in range(len(said.phones)):
                        for name, phones in variants(said.phones, at).items():
                            file.write(f"{_name(number, at, name)} {' '.join(phones)}\n")
            self._decoder: Any = Decoder(lm=None, dict=str(dictionary), loglevel="FATAL")
        self._usual_mean: str = self._decoder.get_cmn()
        self._words = words

    def choose(self, number: int, at: int, sound: NDArray[np.int16]) -> str | None:
        """The phone (or NOTHING) heard in place `at` of word `number`; None: nothing heard."""
        names = {_name(number, at, p): p for p in variants(self._words[number].phones, at)}
        grammar = f"#JSGF V1.0;\ngrammar choice;\npublic <word> = {' | '.join(names)};\n"
        decoder = self._decoder
        decoder.add_jsgf_string("choice", grammar.encode())
        decoder.activate_search("choice")
        decoder.set_cmn(self._usual_mean)
        decoder.start_utt()
        decoder.process_raw(sound.astype("<i2").tobytes(), False, True)
        decoder.end_utt()
        heard = decoder.hyp()
        return names.get(heard.hypstr) if heard is not None else None


def _name(number: int, at: int, phone: str) -> str:
    return f"w{number}x{at}{phone.lower()}"


def trials(
    words: Sequence[Said], talkers: Sequence[Talker], noises: Sequence[float | None]
) -> Iterator[tuple[Talker, float | None, str, str | None]]:
    """(talker, signal to noise, phone said, phone heard) of every place of every word."""
    choice = ForcedChoice(words)
    silence = np.zeros(int(MARGIN * RATE), np.int16)
    for voice, talker in enumerate(talkers):
        for number, said in enumerate(words):
            clean = np.concatenate([silence, talker.say(said.word), silence])
            for decibels in noises:
                noisy = mixed(clean, decibels, seed=_SEED + 1000 * voice + number)
                sound = denoise(noisy)
                for at, phone in enumerate(said.phones):
                    yield talker, decibels, phone, choice.choose(number, at, sound)


def measure_phones(
    words: int = WORDS,
    talkers: Sequence[Talker] = TALKERS,
    noises: Sequence[float | None] = NOISES,
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[ConfusionTable, Table]:
    """The confusion table, and how often each phone was taken for which."""
    counts: dict[tuple[str, str], int] = Counter()
    right: Counter[str] = Counter()
    total: Counter[str] = Counter()
    last = None
    for talker, decibels, phone, heard in trials(choose_words(words), talkers, noises):
        if talker is not last:
            tell(f"{talker.engine} {talker.voice}")
            last = talker
        label = "clean" if decibels is None else f"{decibels:g} dB"
        total[label] += 1
        if heard is not None:
            right[label] += heard == phone
            counts[phone, heard] += 1
    made = f"{words} words, {len(talkers)} talkers, {', '.join(total)}; pocketsphinx"
    rates = tuple(f"{label}: {right[label] / total[label]:.0%} right" for label in total)
    return ConfusionTable(made, dict(counts)), _table(counts, rates)


def _table(counts: Mapping[tuple[str, str], int], rates: tuple[str, ...]) -> Table:
    rows = []
    for phone in PHONES:
        heard = {other: n for (said, other), n in counts.items() if said == phone}
        total = sum(heard.values())
        if phone == NOTHING or not total:
            continue
        wrong = sorted(((n, o) for o, n in heard.items() if o != phone), reverse=True)[:4]
        taken = ", ".join(f"{other} {n / total:.0%}" for n, other in wrong)
        rows.append((phone, total, round(heard.get(phone, 0) / total, 3), taken))
    return Table(
        "phones: taken for which, in a forced choice of one place of a word",
        ("phone", "trials", "right", "mostly taken for"),
        tuple(rows),
        (*rates, f"'{NOTHING}' is no phone at all; chance is one in {len(PHONES)}"),
    )
