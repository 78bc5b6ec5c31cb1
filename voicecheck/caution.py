"""The caution that README, start-up, preamble and every report must carry."""

from typing import Final

CAUTION: Final = (
    "Advisory only, not approved equipment. The aircraft flight manual, the operator's "
    "checklist and MEL, local rules and licensed maintenance decide. "
    "voicecheck never says that an aircraft is safe or may go."
)
