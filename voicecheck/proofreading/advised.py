"""What the linter says of a loaded checklist, with the places of its files."""

from __future__ import annotations

from collections.abc import Iterator

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.lint import lint
from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.places import place_in_files
from voicecheck.checklist.wordings import Alike
from voicecheck.engine.windows import uncertainty
from voicecheck.errors import InputError, Place
from voicecheck.yaml_source import read_yaml


def advised(loaded: Loaded, alike: Alike | None = None) -> Iterator[tuple[Place, Advice]]:
    """Each piece of advice and where it applies. alike: also compare how wordings sound."""
    type_file, airframe = map(read_yaml, loaded.files)
    checklist = loaded.checklist
    for advice in lint(checklist, uncertainty=uncertainty(checklist.timing), alike=alike):
        yield place_in_files(advice.position, advice.item, type_file, airframe), advice
    for source, how in (
        (type_file, "write 'minutes:' with the bus that is meant, under 'buses:'"),
        (airframe, "write 'minutes:' with the id of the bus and its minutes"),
    ):
        if "battery_minutes" in source.data:
            yield (
                source.place(("battery_minutes",)),
                Advice(Severity.WARNING, "'battery_minutes' is outdated", how),
            )


def require_sound(loaded: Loaded) -> None:
    """Raise InputError at the first error: such a checklist cannot serve a session."""
    for place, advice in advised(loaded):
        if advice.severity is Severity.ERROR:
            about = advice.item or advice.position or loaded.checklist.id
            raise InputError(place, f"{about}: {advice.text}", advice.proposal)
