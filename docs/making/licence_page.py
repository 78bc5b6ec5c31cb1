"""The page of licences: every package that an installed voicecheck brings with it (``make docs``).

Read from the packages' own metadata, so it holds for what is installed here, which the lock pins.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Final

from packaging.requirements import Requirement

from page_file import write_named, write_page
from voicecheck.errors import VoicecheckError

EXTRAS: Final = ("second-listener", "whisper", "postgresql", "measure")
"""All extras that a user can install."""

PERMISSIVE: Final = {
    "0BSD", "Apache-2.0", "BSD", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT", "MIT-0",
    "MIT-CMU", "PSF-2.0", "Zlib",
}  # fmt: skip
WEAK: Final = {"LGPL-2.1-or-later", "LGPL-3.0-only", "MPL-2.0"}
"""Licences of a library that ask something of who changes or replaces the library itself."""

# What packages call the licence whose SPDX identifier follows (spdx.org/licenses).
_ALIASES: Final = {
    "3-Clause BSD License": "BSD-3-Clause",
    "Apache 2.0": "Apache-2.0",
    "Apache License 2.0": "Apache-2.0",
    "Apache Software License": "Apache-2.0",
    "BSD 3-Clause License": "BSD-3-Clause",
    "BSD License": "BSD",
    "ISC License": "ISC",
    "MIT License": "MIT",
    "PSFL": "PSF-2.0",
    "Python Software Foundation License": "PSF-2.0",
}


@dataclass(frozen=True, slots=True)
class Package:
    """One package and the SPDX expression of its licence, as far as it tells."""

    name: str
    licence: str

    @property
    def weak(self) -> bool:
        """Whether any part of it is under a licence of WEAK."""
        return bool(parts(self.licence) & WEAK)


def parts(licence: str) -> set[str]:
    """The licences named in an SPDX expression."""
    return set(re.split(r" (?:AND|OR) |[()]", licence)) - {""}


def unknown(packages: Iterable[Package]) -> list[Package]:
    """Those whose licence is none of the kinds that this page argues about."""
    return [one for one in packages if not parts(one.licence) <= PERMISSIVE | WEAK]


def installed() -> list[Package]:
    """Voicecheck's packages at run time with all extras, and theirs, by name."""
    found: dict[str, Package] = {}
    done: set[tuple[str, tuple[str, ...]]] = set()
    waiting: list[tuple[str, tuple[str, ...]]] = [("voicecheck", EXTRAS)]
    while waiting:
        step = waiting.pop()
        if step in done:
            continue
        done.add(step)
        name, extras = step
        distribution = _distribution(name)
        if name != "voicecheck":
            found[name] = Package(name, licence_of(distribution.metadata))
        for line in distribution.requires or ():
            wanted = Requirement(line)
            marker = wanted.marker
            if marker is None or any(marker.evaluate({"extra": e}) for e in ("", *extras)):
                waiting.append((_plain(wanted.name), tuple(sorted(wanted.extras))))
    return [found[name] for name in sorted(found)]


def _distribution(name: str) -> metadata.Distribution:
    try:
        return metadata.distribution(name)
    except metadata.PackageNotFoundError:
        raise VoicecheckError(f"{name}: is not installed; run this after `make setup`") from None


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def licence_of(about: metadata.PackageMetadata) -> str:
    """The licence that a package's metadata names, as an SPDX identifier where one is known."""
    for key in ("License-Expression", "License"):
        told = next(iter(about.get_all(key) or ()), "")
        # Some put the whole text there.
        if told and told != "UNKNOWN" and "\n" not in told and len(told) < 80:
            return _ALIASES.get(told, told)
    named = [
        line.rpartition(" :: ")[2]
        for line in about.get_all("Classifier") or ()
        if line.startswith("License :: ")
    ]
    return " AND ".join(_ALIASES.get(line, line) for line in named) or "not told"


def page() -> str:
    """The page as Markdown. Raises VoicecheckError when a package is missing."""
    return "\n".join(_lines(installed())) + "\n"


_ABOUT: Final = """\
# Licences

Written by `make docs` from the metadata of the packages that voicecheck needs at run time, the
optional ones included. voicecheck itself is under the MIT licence (`LICENSE`).

None of these packages is copied into voicecheck: each is installed beside it, unchanged, from its
own project. Together with a programme under the MIT licence

- the permissive licences ask for their notices to be kept, which each package does;
- the weak copyleft ones (marked *) ask that a changed *library* stays free and that its user can
  replace it (MPL 2.0, section 3; LGPL 3, section 4; LGPL 2.1, section 6), as pip does. They
  ask nothing of a programme that only uses it.

One thing of others is part of voicecheck: the weights of its own listener
(`voicecheck/speech/models`) began as the encoder of Moonshine base (MIT; the notice is in
`NOTICE.txt` beside them) and were trained further on speech that eSpeak NG (GPL-3.0, whose sound is
nobody's work), Kokoro-82M and Hibari (both Apache-2.0) made: `docs/listener.md` lists them all.

Outside Python, voicecheck calls the system's own eSpeak NG (GPL-3.0-or-later) for its voice and
PortAudio (MIT) for sound; DejaVu fonts draw the PDF reports. It ships none of these. A wheel can
hold compiled libraries of others, under licences that its metadata does not tell: that of `av`,
which faster-whisper asks for, holds FFmpeg with x264 and x265 (GPL-2.0-or-later). voicecheck reads
no sound through it. Whoever hands out any of these together with voicecheck keeps to its licence;
the MIT licence is compatible with the GPL and the LGPL.

This is the authors' reading, not legal advice.
"""


def _lines(packages: list[Package]) -> Iterator[str]:
    yield _ABOUT
    yield "| package | licence |"
    yield "|---|---|"
    for one in packages:
        mark = " *" if one.weak else ""
        yield f"| {one.name} | {one.licence}{mark} |"


def write(path: Path) -> None:
    """Write the page. Raises VoicecheckError when that cannot be done."""
    write_page(path, page())


if __name__ == "__main__":
    write_named(write)
