"""Crew names: beside the journal, sealed by it, so that they can be purged later.

The journal's header carries, for each name, the SHA-256 of a random salt and the name. Whoever
has both can prove that the name was there from the start; once name and salt are gone, nobody
can find the name by trying, and the chain of the journal still verifies.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.header import CrewSeal, Header
from voicecheck.journal.reader import open_plain
from voicecheck.words import recorded

CREW: Final = "crew.json"
ROLES: Final = ("pilot", "second")


@dataclass(frozen=True, slots=True)
class Named:
    """One crew member. salt: 32 hexadecimal digits, None for a name that the journal itself has."""

    name: str
    salt: str | None

    @property
    def seal(self) -> str:
        """What the header carries for this name."""
        return hashlib.sha256(bytes.fromhex(self.salt or "") + self.name.encode()).hexdigest()


Names = Mapping[str, Named]
"""By role; a role without a name is not in it."""


def name_crew(pilot: str | None, second: str | None) -> tuple[dict[str, str | None], Names]:
    """The seals for a new header, and the names to be kept beside it."""
    names = {
        role: Named(name, secrets.token_hex(16))
        for role, name in zip(ROLES, (pilot, second), strict=True)
        if name
    }
    return {role: names[role].seal if role in names else None for role in ROLES}, names


def names_to_json(names: Names) -> str:
    """The text of the file `crew.json`."""
    plain = {role: {"name": entry.name, "salt": entry.salt} for role, entry in names.items()}
    return json.dumps(plain, ensure_ascii=False, indent=1) + "\n"


def names_in(folder: Path) -> Names:
    """The names beside the journal in `folder`; none where the file is not there.

    Raises VoicecheckError for a file that is not one of ours.
    """
    path = folder / CREW
    if not path.exists() and not path.is_symlink():
        return {}
    try:
        with open_plain(path) as file:
            found = json.loads(file.read())
        names = {role: Named(entry["name"], entry["salt"]) for role, entry in found.items()}
        for entry in names.values():
            entry.seal  # noqa: B018  (a salt or a name that is none is refused here)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise VoicecheckError(
            f"{path}: not a list of crew names; restore it from a copy, or remove it"
        ) from error
    return names


@dataclass(frozen=True, slots=True)
class Crew:
    """Who flew the session, as far as it is known and proved. Each text is ready to be shown.

    problem: what does not agree with the journal, None when all does.
    """

    pilot: str | None
    second: str | None
    names: Names
    problem: str | None

    def as_json(self) -> dict[str, str | None]:
        """JSON-ready."""
        return {"pilot": self.pilot, "second": self.second}


def crew_of(header: Header, beside: Names) -> Crew:
    """Hold the names beside a journal against its header."""
    stated = {"pilot": header.crew.pilot, "second": header.crew.second}
    seals = (header.crew_seal or CrewSeal()).model_dump()
    words = recorded(header.checklist.resolved)
    shown: dict[str, str | None] = {}
    names: dict[str, Named] = {}
    problems = []
    for role in ROLES:
        seal, entry, inline = seals[role], beside.get(role), stated[role]
        if inline is not None:
            shown[role] = inline
            names[role] = Named(inline, None)
        elif seal is None:
            shown[role] = None
            if entry is not None:
                problems.append(f"{CREW} names a {role} where the journal has none")
        elif entry is None:
            shown[role] = words("name-purged")
        elif entry.seal != seal:
            shown[role] = words("name-not-sealed")
            problems.append(f"the {role}'s name is not the one that the journal sealed")
        else:
            shown[role] = entry.name
            names[role] = entry
    if strange := sorted(set(beside) - set(ROLES)):
        problems.append(f"{CREW} has a role that is not known: {strange[0][:20]!r}")
    return Crew(shown["pilot"], shown["second"], names, "; ".join(problems) or None)
