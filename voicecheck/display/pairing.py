"""Letting a tablet in: a code shown at the session's own terminal, good for one device.

The code has six digits; a wrong guess costs time that doubles, and after a few the code is
replaced, so that guessing on is always guessing anew.
"""

from __future__ import annotations

import hmac
import math
import secrets
from collections.abc import Callable
from typing import Final

DIGITS: Final = 6
WRONG_PER_CODE: Final = 5
"""Wrong entries after which the code is replaced: 5 in 1 000 000 chances each time."""
FIRST_WAIT: Final = 1.0
LONGEST_WAIT: Final = 300.0
"""Seconds to wait after a wrong entry, doubled by each up to the longest."""
DEVICES: Final = 16


class Pairing:
    """Codes and devices of one server run. Call it from one thread.

    now: a clock in seconds that never goes back. show: tells the crew the code of the moment.
    """

    def __init__(self, now: Callable[[], float], show: Callable[[str], None]) -> None:
        self._now = now
        self._show = show
        self._devices: list[str] = []
        self._wrong = 0
        self._until = now()
        self._code = ""
        self._renew()

    @property
    def wait(self) -> int:
        """Whole seconds until the next entry is looked at; 0 when it would be now."""
        return max(0, math.ceil(self._until - self._now()))

    def enter(self, code: str) -> str | None:
        """The device's key for the right code, else None. Nothing is compared while waiting."""
        if self.wait:
            return None
        given = "".join(code.split())
        if not hmac.compare_digest(given.encode(), self._code.encode()):
            self._wrong += 1
            doubled = FIRST_WAIT * 2.0 ** min(self._wrong - 1, 20)
            self._until = self._now() + min(LONGEST_WAIT, doubled)
            if self._wrong % WRONG_PER_CODE == 0:
                self._renew()
            return None
        self._wrong = 0
        key = secrets.token_urlsafe(32)
        self._devices = [*self._devices, key][-DEVICES:]
        self._renew()
        return key

    def knows(self, key: str | None) -> bool:
        """Whether this key was given to a device."""
        if not key:
            return False
        known = [hmac.compare_digest(key.encode(), device.encode()) for device in self._devices]
        return any(known)

    def _renew(self) -> None:
        self._code = "".join(secrets.choice("0123456789") for _ in range(DIGITS))
        self._show(self._code)
