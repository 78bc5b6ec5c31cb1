"""What happens: events in, effects out. See engine.engine for the rules of operation."""

from voicecheck.engine.engine import Engine

__all__ = ["Engine"]
