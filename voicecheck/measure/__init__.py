"""How well voicecheck hears, how fast it is, and every state of its engine, as tables."""
