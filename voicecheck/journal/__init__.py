"""The journal: what happened, one line per fact, each line sealed by the next."""
