"""What happens: events in, effects out. See engine.rules for the rules of operation."""

from voicecheck.engine.engine import Engine
from voicecheck.engine.stepping import step

__all__ = ["Engine", "step"]
