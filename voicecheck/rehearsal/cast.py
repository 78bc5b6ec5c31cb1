"""Which airframes are rehearsed, and by whom."""

from __future__ import annotations

from voicecheck.checklist.loader import (
    Loaded,
    find_type_file,
    read_airframes,
    read_type,
)
from voicecheck.errors import VoicecheckError
from voicecheck.rehearsal.manners import (
    CLEAR_EARS,
    POOR_EARS,
    STEADY,
    UNKIND,
    UNKIND_EARS,
    UNRULY,
    Ears,
    Manners,
)
from voicecheck.shipped import checklists_dir
from voicecheck.world.fleet import airframe

SHIPPED = "all"
"""Names every shipped checklist."""
MANNERS: dict[str, tuple[Manners, Ears]] = {
    "perfect": (Manners(), CLEAR_EARS),
    "steady": (STEADY, CLEAR_EARS),
    "unruly": (UNRULY, POOR_EARS),
    "unkind": (UNKIND, UNKIND_EARS),
}


def airframes(checklist: str, registration: str | None) -> list[Loaded]:
    """One airframe, or every airframe of a checklist, or of all shipped ones.

    Raises VoicecheckError or InputError.
    """
    shipped = checklists_dir()
    if registration is not None and checklist != SHIPPED:
        return [airframe(checklist, registration)]
    names = [checklist]
    if checklist == SHIPPED:
        names = sorted(str(path) for path in shipped.glob("*.yaml"))
    found = []
    for name in names:
        path = find_type_file(name, shipped)
        type_file, _ = read_type(path)
        found += [
            airframe(str(path), known)
            for known in read_airframes(path, type_file.id)
            if registration is None or known.casefold() == registration.casefold()
        ]
    if not found:
        where = f"--airframe {registration}" if registration else checklist
        raise VoicecheckError(f"{where}: no such airframe; leave --airframe out to take them all")
    return found


def manners_named(name: str) -> tuple[Manners, Ears]:
    """A kind of crew. Raises VoicecheckError with the names there are."""
    if name not in MANNERS:
        raise VoicecheckError(f"--crew {name}: unknown; choose {', '.join(MANNERS)}")
    return MANNERS[name]
