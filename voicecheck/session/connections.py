"""The parts that a session rests on: each works or is lost, and both turns are told once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from transitions import Machine

from voicecheck.engine.events import Part

_WORKING: Final = "working"
_LOST: Final = "lost"
_TABLE: Final = (("fail", _WORKING, _LOST), ("mend", _LOST, _WORKING))


class _Connection:
    """One part. lost, back: told when it is entered and left, however often it is reported."""

    state: str
    fail: Any
    mend: Any

    def __init__(self, lost: Callable[[str], None], back: Callable[[], None]) -> None:
        self._lost = lost
        self._back = back
        Machine(
            model=self,
            states=[_WORKING, _LOST],
            initial=_WORKING,
            transitions=[list(row) for row in _TABLE],
            auto_transitions=False,
        )

    @property
    def works(self) -> bool:
        """Whether it has not failed, or is back."""
        return self.state == _WORKING

    def on_enter_lost(self, why: str) -> None:
        """It has just failed."""
        self._lost(why)

    def on_exit_lost(self, *_: object) -> None:
        """It has just come back."""
        self._back()


class Connections:
    """All parts of a session. lost(part, why), back(part): what a turn of a part brings."""

    def __init__(self, lost: Callable[[Part, str], None], back: Callable[[Part], None]) -> None:
        self._lost = lost
        self._back = back
        self._parts: dict[Part, _Connection] = {}

    def report(self, part: Part, problem: str | None) -> None:
        """How a part does now: None when it works, else why not. Safe as often as one likes."""
        known = self._parts.get(part)
        if known is None:
            known = self._parts[part] = _Connection(
                lambda why: self._lost(part, why), lambda: self._back(part)
            )
        if problem is None and not known.works:
            known.mend()
        elif problem is not None and known.works:
            known.fail(problem)
