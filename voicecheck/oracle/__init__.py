"""What may stand as good, and what must be found, told from events and prompts alone."""
