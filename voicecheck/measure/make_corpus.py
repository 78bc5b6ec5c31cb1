"""Render a corpus of synthetic speech with noise: recordings and a manifest, from a seed."""

from __future__ import annotations

import random
import zlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Protocol

import numpy as np
import soundfile
from numpy.typing import NDArray

from voicecheck.audio.source import RATE
from voicecheck.callouts import Callout
from voicecheck.checklist.loader import Loaded
from voicecheck.errors import VoicecheckError
from voicecheck.measure.manifest import Aim, Line
from voicecheck.measure.offered import State, states_of
from voicecheck.measure.sentences import (
    Kind,
    Sentence,
    callout,
    chatter,
    closing,
    near_miss,
    opposite,
    opposites,
    other_state,
)
from voicecheck.proofreading.lexicon import lexicon_of
from voicecheck.speech.grammar import Grammar
from voicecheck.speech.lexicon import Lexicon
from voicecheck.world.noise import NoiseName, noise
from voicecheck.world.synthesis import LEVEL_DBFS, at_level
from voicecheck.world.talkers import Part

MANIFEST: Final = "manifest.jsonl"
LEVELS: Final[dict[str, float | None]] = {
    "clean": None,
    "20 dB": 20.0,
    "10 dB": 10.0,
    "5 dB": 5.0,
    "0 dB": 0.0,
}
"""Label -> speech level over noise level in dB; None: a quiet room."""
NOISES: Final[tuple[NoiseName, ...]] = ("propeller", "pink")
QUIET_DBFS: Final = -72.0
"""RMS level of the noise of a quiet room and its microphone."""
LEVEL_SPREAD: Final = 4.0
"""People speak up to so many dB louder or softer than the corpus's usual level."""
TAIL: Final = 1.1
"""Seconds after speech: longer than any hang-over."""
STRETCH: Final = 300.0
"""Seconds of one recording of noise alone."""
NOISE_DBFS: Final = (-48.0, -38.0, -33.0, -28.0, -23.0)
"""RMS levels of noise alone: from 25 dB under usual speech to its own level."""


_TRIES: Final = 10_000
"""States tried for one sentence before it is certain enough that none of them has such a one."""


@dataclass(frozen=True, slots=True)
class Size:
    """How much: sentences of each kind by each talker, levels of noise, hours of noise alone.

    good: further ones about callouts that close something as good, which are few among all.
    """

    sentences: dict[Kind, int]
    levels: tuple[str, ...] = tuple(LEVELS)
    noise_hours: float = 0.0
    good: dict[Kind, int] = field(default_factory=dict)


FULL: Final[dict[Part, Size]] = {
    "calibration": Size(
        {"callout": 22, "near_miss": 10, "opposite": 14, "chatter": 5, "other_state": 6},
        ("clean", "20 dB", "10 dB", "5 dB"),
        good={"callout": 16, "near_miss": 24, "opposite": 12},
    ),
    # 12 talkers by 26 opposites: the rule of three wants 300 for "none in 300".
    "test": Size(
        {"callout": 26, "near_miss": 10, "opposite": 26, "chatter": 6, "other_state": 8},
        noise_hours=1.0,
        good={"callout": 16, "near_miss": 24, "opposite": 12},
    ),
}


class Speaker(Protocol):
    """Whoever says sentences: a program, or a model that is no part of the wheel."""

    @property
    def engine(self) -> str:
        """What speaks."""
        ...

    @property
    def voice(self) -> str:
        """With which voice of it."""
        ...

    def say(self, text: str) -> NDArray[np.int16]:
        """16 kHz mono without silence at its ends."""
        ...


@dataclass(frozen=True, slots=True)
class Plan:
    """One part of a corpus to be made. airframes: resolved checklists by (checklist, REG)."""

    part: Part
    talkers: Sequence[Speaker]
    airframes: dict[tuple[str, str], Loaded]
    size: Size
    seed: int


@dataclass
class _Place:
    """A state of an airframe, with what the sentences need of it."""

    checklist: str
    airframe: str
    state: State
    states: Sequence[State]
    grammar: Grammar
    lexicon: Lexicon
    about: dict[Aim, Sequence[Callout]]
    opposites: dict[Aim, list[str]] = field(default_factory=dict)


def _name_of(talker: Speaker) -> str:
    return f"{talker.engine} {talker.voice}"


def make_part(plan: Plan, folder: Path, tell: Callable[[str], None]) -> list[Line]:
    """Write the recordings of one part below `folder`; return its lines.

    Raises VoicecheckError for a missing voice, a folder that cannot be written, and a kind of
    sentence that these airframes have none of.
    """
    places = list(_places(plan.airframes))
    lines: list[Line] = []
    for talker in plan.talkers:
        tell(f"{plan.part}: {_name_of(talker)}")
        lines += _speech(plan, talker, places, folder)
    if plan.size.noise_hours:
        tell(f"{plan.part}: noise alone")
        lines += _noise_alone(plan, places, folder)
    return lines


def write_manifest(lines: Sequence[Line], folder: Path) -> Path:
    """One JSON object a line; written last, so that a corpus with a manifest is whole."""
    path = folder / MANIFEST
    text = "".join(line.model_dump_json() + "\n" for line in lines)
    fresh = folder / f".{MANIFEST}"
    fresh.write_text(text, encoding="utf-8")
    fresh.replace(path)
    return path


def _places(airframes: dict[tuple[str, str], Loaded]) -> Iterator[_Place]:
    for (checklist, airframe), loaded in airframes.items():
        states = states_of(loaded.checklist)
        lexicon = lexicon_of(loaded.language)
        for state in states:
            grammar = Grammar(state.callouts, lexicon.joiners)
            about: dict[Aim, Sequence[Callout]] = {
                "any": state.callouts,
                "good": closing(state.callouts),
            }
            place = _Place(checklist, airframe, state, states, grammar, lexicon, about)
            place.opposites = {
                aim: opposites(grammar, lexicon, callouts) for aim, callouts in about.items()
            }
            yield place


def _speech(plan: Plan, talker: Speaker, places: Sequence[_Place], folder: Path) -> Iterator[Line]:
    name = f"{plan.seed} {plan.part} {_name_of(talker)}"
    choose = random.Random(name)
    for kind, count in plan.size.sentences.items():
        yield from _of_kind(plan, talker, places, _Wanted(kind, "any", count), choose, folder)
    choose = random.Random(f"{name} good")
    dear = [place for place in places if place.about["good"]]
    for kind, count in plan.size.good.items():
        yield from _of_kind(plan, talker, dear, _Wanted(kind, "good", count), choose, folder)


@dataclass(frozen=True, slots=True)
class _Wanted:
    kind: Kind
    aim: Aim
    count: int


def _of_kind(
    plan: Plan,
    talker: Speaker,
    places: Sequence[_Place],
    wanted: _Wanted,
    choose: random.Random,
    folder: Path,
) -> Iterator[Line]:
    made = tried = 0
    while made < wanted.count:
        place = choose.choice(places) if places else None
        sentence = None if place is None else _sentence(wanted, place, choose)
        tried += 1
        if place is None or sentence is None:
            if tried > _TRIES:
                names = ", ".join(f"{c}:{a}" for c, a in plan.airframes)
                raise VoicecheckError(
                    f"no sentence of the kind {wanted.kind!r} can be made of {names}; "
                    "add a shipped airframe with --airframe"
                )
            continue
        made, tried = made + 1, 0
        yield from _recordings(plan, talker, place, sentence, wanted.aim, made, folder)


def _sentence(wanted: _Wanted, place: _Place, choose: random.Random) -> Sentence | None:
    about = place.about[wanted.aim]
    match wanted.kind:
        case "callout":
            return callout(place.state, place.grammar, about, choose)
        case "near_miss":
            return near_miss(place.grammar, place.lexicon, about, choose)
        case "opposite":
            texts = place.opposites[wanted.aim]
            return opposite(texts, place.grammar, choose) if texts else None
        case "chatter":
            return chatter(choose)
        case "other_state":
            return other_state(place.state, place.states, place.grammar, choose)
        case "sound_alike":
            return None  # near misses become some
        case "noise":
            raise ValueError("noise is not said by anybody")


def _recordings(
    plan: Plan,
    talker: Speaker,
    place: _Place,
    sentence: Sentence,
    aim: Aim,
    number: int,
    folder: Path,
) -> Iterator[Line]:
    """The same utterance at every level of noise."""
    which = sentence.kind if aim == "any" else f"{aim} {sentence.kind}"
    seed = zlib.crc32(f"{plan.seed} {_name_of(talker)} {which} {number}".encode())
    random_ = np.random.default_rng(seed)
    level = LEVEL_DBFS + random_.uniform(-LEVEL_SPREAD, LEVEL_SPREAD)
    speech = at_level(talker.say(sentence.text), level).astype(np.float64) / 32768
    lead = 0.6 + random_.uniform(0, 0.4)
    count = int((lead + TAIL) * RATE) + speech.size
    start = int(lead * RATE)
    under = noise(NOISES[seed % len(NOISES)], count, seed)
    room = random_.standard_normal(count) * 10 ** (QUIET_DBFS / 20)
    name = f"{_name_of(talker)} {which} {number:02d}".replace(" ", "-").replace("+", "_")
    for label in plan.size.levels:
        over = LEVELS[label]
        sound = room.copy()
        sound[start : start + speech.size] += speech
        if over is not None:
            sound += under * 10 ** ((level - over) / 20)
        audio = Path(plan.part) / label.replace(" ", "") / f"{name}.flac"
        _write(folder / audio, sound)
        yield Line(
            audio=audio.as_posix(),
            checklist=place.checklist,
            airframe=place.airframe,
            state=place.state.name,
            said=sentence.said,
            start_s=round(start / RATE, 3),
            end_s=round((start + speech.size) / RATE, 3),
            noise=label,
            kind=sentence.kind,
            aim=aim,
            voice=_name_of(talker),
            part=plan.part,
            text=sentence.text,
        )


def _noise_alone(plan: Plan, places: Sequence[_Place], folder: Path) -> Iterator[Line]:
    for number in range(max(1, round(plan.size.noise_hours * 3600 / STRETCH))):
        place = places[(number * 7) % len(places)]
        name, level = NOISES[number % len(NOISES)], NOISE_DBFS[number % len(NOISE_DBFS)]
        seconds = min(STRETCH, plan.size.noise_hours * 3600)
        count = int(seconds * RATE)
        seed = plan.seed + number
        sound = noise(name, count, seed) * 10 ** (level / 20)
        sound += _sounds_of_work(count, seed) * 10 ** ((level + 6) / 20)
        audio = Path(plan.part) / "alone" / f"{name}-{number:02d}.flac"
        _write(folder / audio, sound)
        yield Line(
            audio=audio.as_posix(),
            checklist=place.checklist,
            airframe=place.airframe,
            state=place.state.name,
            said=None,
            noise=f"{name} alone",
            kind="noise",
            voice="nobody",
            part=plan.part,
        )


def _sounds_of_work(count: int, seed: int) -> NDArray[np.float64]:
    """Switch clicks, thumps and the bursts of the warning horn itself, one every few seconds."""
    random_ = np.random.default_rng(seed)
    sound = np.zeros(count)
    at = int(random_.uniform(1, 4) * RATE)
    while at < count:
        match random_.integers(3):
            case 0:  # a click
                burst = random_.standard_normal(int(0.012 * RATE)) * 4
            case 1:  # a thump
                time = np.arange(int(0.15 * RATE)) / RATE
                burst = 4 * np.sin(2 * np.pi * 70 * time) * np.exp(-time / 0.04)
            case _:  # a horn, on and off twice a second
                time = np.arange(int(random_.uniform(0.5, 3) * RATE)) / RATE
                tone = np.sign(np.sin(2 * np.pi * random_.uniform(300, 900) * time))
                burst = tone * ((time * 4).astype(int) % 2 == 0)
        length = min(burst.size, count - at)
        sound[at : at + length] += burst[:length]
        at += int(random_.uniform(2, 8) * RATE)
    return sound


def _write(path: Path, sound: NDArray[np.float64]) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        soundfile.write(path, np.clip(sound, -1, 1), RATE, subtype="PCM_16", format="FLAC")
    except (OSError, soundfile.LibsndfileError) as error:
        raise VoicecheckError(
            f"{path}: cannot be written ({error}); name another folder or free some space"
        ) from error
