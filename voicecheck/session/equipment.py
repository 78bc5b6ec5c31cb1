"""What a session hears and speaks with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from voicecheck.engine import Engine
from voicecheck.language import Language
from voicecheck.session.lanes import Hears
from voicecheck.session.prompter import Prompter
from voicecheck.session.recording import Recording
from voicecheck.session.shutter import Shutter
from voicecheck.session.wording import FULL, Manner


def _nothing_ahead(engine: Engine) -> None:
    """Where nothing is rendered ahead."""


@dataclass(frozen=True, slots=True)
class Equipment:
    """The opened parts that a conductor uses.

    ears: one for each channel, the pilot's first; none when callouts come by key alone.
    shutter: what of the sound may be heard. keys: list on screen what can be typed. ahead: told
    of the engine after every event, to render what may be said next. recording: keeps the sound,
    and the crew is told so.
    """

    language: Language
    prompter: Prompter
    ears: Sequence[Hears] = ()
    shutter: Shutter = field(default_factory=Shutter)
    keys: bool = False
    manner: Manner = FULL
    ahead: Callable[[Engine], None] = _nothing_ahead
    recording: Recording | None = None
