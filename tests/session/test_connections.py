"""A part's failure and return are told once each, however often it is reported."""

from __future__ import annotations

import logging

import pytest

from voicecheck.engine.events import Part
from voicecheck.session.connections import Connections


def test_each_turn_of_a_part_is_told_once(caplog: pytest.LogCaptureFixture) -> None:
    told: list[tuple[Part, str]] = []
    parts = Connections(
        lambda part, why: told.append((part, why)), lambda part: told.append((part, "back"))
    )
    with caplog.at_level(logging.WARNING):
        for _ in range(3):
            parts.report(Part.VOICE, None)
        for why in ("it hangs", "it still hangs"):
            parts.report(Part.VOICE, why)
        parts.report(Part.LOUDSPEAKER, "unplugged")
        for _ in range(2):
            parts.report(Part.VOICE, None)
        parts.report(Part.VOICE, "again")
    assert told == [
        (Part.VOICE, "it hangs"),
        (Part.LOUDSPEAKER, "unplugged"),
        (Part.VOICE, "back"),
        (Part.VOICE, "again"),
    ]
    assert not caplog.records
