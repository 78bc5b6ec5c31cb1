"""A bounded model check of the engine: every state that a session can come to."""
