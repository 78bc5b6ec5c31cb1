"""The database of all sessions: what was filed, by which machine, and what became of it since."""
