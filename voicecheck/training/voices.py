"""Who speaks: for training, to calibrate, or to test, and never for two of these.

A voice is a person: one recorded speaker stands on one side whatever engine speaks with it, and an
eSpeak NG variant whatever the accent. Whole accents and whole engines are kept from training.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from voicecheck.measure import (
    endpoint_delay,
    phone_confusions,
    word_placement,
    wording_confusions,
)
from voicecheck.world import talkers
from voicecheck.world import voices as rehearsed
from voicecheck.world.synthesis import Talker

Role = Literal["train", "calibrate", "test", "alone"]
"""alone: the listener never met them, but a table of the other listeners did, so that they tell of
the listener by itself and of no fusion."""

ACCENTS: Final = ("en-us", "en-us", "en", "en", "en-gb-x-rp", "en-gb-x-gbclan", "en-us-nyc")
"""eSpeak NG's accents to train with, the usual ones twice; "en" is its British English.
Scottish, Caribbean and West Midlands English are for calibrating and testing alone."""
VARIANTS: Final = (
    *("Alicia", "Andy", "AnxiousAndy", "Denis", "Gene", "Gene2", "Henrique", "Hugo", "Jacky"),
    *("Lee", "Marco", "Mario", "Michael", "Nguyen", "Reed", "RicishayMax", "RicishayMax2"),
    *("RicishayMax3", "adam", "anika", "announcer", "antonio", "belinda", "benjamin", "boris"),
    *("caleb", "david", "ed", "edward", "edward2", "f1", "grandma", "grandpa", "gustave", "ian"),
    *("iven", "iven2", "iven3", "iven4", "john", "kaukovalta", "klatt", "klatt2", "klatt3"),
    *("klatt5", "klatt6", "m1", "m2", "m8", "marcelo", "max", "michel", "miguel", "mike2"),
    *("norbert", "pablo", "paul", "pedro", "quincy", "rob", "robert", "sandro", "shelby"),
    *("travis", "victor", "zac"),
)
KOKORO: Final = (
    *("af_alloy", "af_aoede", "af_bella", "af_heart", "af_jessica", "af_kore", "af_nicole"),
    *("af_river", "af_sarah", "am_adam", "am_echo", "am_fenrir", "am_liam", "am_michael"),
    *("am_onyx", "am_santa", "bf_alice", "bf_emma", "bm_fable", "bm_george"),
)
"""English styles of Kokoro-82M to train with, alone and blended."""
FOREIGN: Final = (
    *("ef_dora", "em_alex", "ff_siwis", "hf_alpha", "hf_beta", "hm_omega", "hm_psi", "if_sara"),
    *("im_nicola", "jf_alpha", "jf_nezumi", "jm_kumo", "pf_dora", "pm_alex", "zf_xiaobei"),
    *("zf_xiaoni", "zm_yunjian", "zm_yunxi", "zm_yunyang"),
)
"""Styles made for other languages: blended in, for throats that the English ones lack."""


@dataclass(frozen=True, slots=True)
class Voice:
    """engine and name as the engine knows it; pace: words a minute relative to its own."""

    engine: str
    name: str
    role: Role
    pace: float = 1.0

    @property
    def person(self) -> str:
        """What may stand on one side only."""
        return person(self.engine, self.name)


def person(engine: str, name: str) -> str:
    """The recorded speaker, the style, or the variant that an engine speaks with."""
    if engine == "espeak-ng":
        accent, _, variant = name.partition("+")
        return f"espeak-ng {variant}" if variant else f"espeak-ng {accent} plain"
    for speaker in ("kal", "slt", "rms", "awb", "ked"):
        if engine in ("flite", "festival") and speaker in name:
            return speaker
    return f"{engine} {name}"


def _of(role: Role, those: Iterable[Talker]) -> tuple[Voice, ...]:
    return tuple(Voice(t.engine, t.voice, role, t.pace) for t in those)


def _named(role: Role, engine: str, names: Iterable[str]) -> tuple[Voice, ...]:
    return tuple(Voice(engine, name, role) for name in names)


CALIBRATE: Final = (
    *_of("calibrate", talkers.CALIBRATION),
    *_named("calibrate", "kokoro", ("af_nova", "am_eric", "bf_lily", "bm_lewis")),
)
_SETTERS: Final = (
    *phone_confusions.TALKERS,
    *wording_confusions.TALKERS,
    *word_placement.TALKERS,
    *endpoint_delay.TALKERS,
    *talkers.CALIBRATION,
)
THRESHOLD_SETTERS: Final = frozenset(person(t.engine, t.voice) for t in _SETTERS)
"""Whoever had a part in a threshold or table of what hears today."""
TEST: Final = (
    *_of(
        "test",
        (t for t in talkers.TEST if person(t.engine, t.voice) not in THRESHOLD_SETTERS),
    ),
    *_named("test", "kokoro", ("af_sky", "am_puck", "bf_isabella", "bm_daniel")),
    Voice("piper", "en_US-joe-medium", "test"),
)
ALONE: Final = _of(
    "alone", (t for t in talkers.TEST if person(t.engine, t.voice) in THRESHOLD_SETTERS)
)
TRAIN: Final = (
    *(
        Voice("espeak-ng", f"{accent}+{variant}", "train")
        for accent in dict.fromkeys(ACCENTS)
        for variant in VARIANTS
    ),
    *_named("train", "kokoro", (*KOKORO, *FOREIGN)),
    Voice("hibari", "heart", "train"),
)
REGISTRY: Final = (*TRAIN, *CALIBRATE, *TEST, *ALONE)
REHEARSED: Final = frozenset(
    person(t.engine, t.voice) for t in (*rehearsed.VOICES, rehearsed.PASSENGER)
)
"""Whoever speaks in a rehearsal: never trained with either."""
