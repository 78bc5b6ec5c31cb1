"""voicecheck: a warning-system test run by ear and voice, offline.

Advisory only, not approved equipment; see ``voicecheck.caution``.
"""

from typing import Final

__version__: Final = "0.1.0"
